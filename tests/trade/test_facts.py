"""Facts of the trade (common practice, no source), read from solved circuits of catalogue parts.

No number of an expectation stands in a circuit or an equation; each fact is shown to follow the
part that it belongs to.
"""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board, crossed
from numpy.typing import NDArray

from railwright.catalogue.loader import load
from railwright.engine.assembly import AMBIENT
from railwright.engine.solutions import OperatingPoints

Array = NDArray[np.float64]


def driven_at_its_adjust_pin(part: str) -> Board:
    """A three-terminal regulator whose adjust pin something else holds."""
    board = Board().source("V", "IN", 20.0).source("VA", "ADJ", 3.0)
    board.resistor("B", "ADJ", GROUND, 1e3)  # takes what the adjust pin gives
    board.use("U", part, {"input": "IN", "output": "OUT", "adjust": "ADJ"})
    return board.load("LD", "OUT", 0.02)


class TestAdjustableRegulator:
    @pytest.mark.parametrize(
        "part", ["317 type 1.5 A", "317 type 0.1 A", "1086 type 1.5 A adjustable"]
    )
    def test_its_reference_stands_above_whatever_drives_its_adjust_pin(self, part: str) -> None:
        driven = np.linspace(0.5, 12.0, 24)
        points = driven_at_its_adjust_pin(part).solve({("VA", "voltage"): driven}, 24)
        above = points.potential("OUT") - points.potential("ADJ")
        assert points.potential("ADJ") == pytest.approx(driven, rel=1e-3)
        assert above == pytest.approx(1.25, rel=0.02)

    def test_the_part_decides_by_how_much(self) -> None:
        board = driven_at_its_adjust_pin("317 type 1.5 A")
        spread = load()["317 type 1.5 A"].values["reference"].spread
        other = np.array([spread.low, spread.typical, spread.high])
        points = board.solve({("U", "reference"): other}, 3)
        above = points.potential("OUT") - points.potential("ADJ")
        assert (np.diff(above) > 0.03).all()

    def set_to_ten_volts(self, part: str, across: Array) -> OperatingPoints:
        """At an ampere, with an input that lies `across` above the output that is wanted."""
        board = Board().source("V", "IN", 20.0)
        board.use("U", part, {"input": "IN", "output": "OUT", "adjust": "ADJ", "case": "AMBIENT"})
        board.resistor("R1", "OUT", "ADJ", 240.0).resistor("R2", "ADJ", GROUND, 1.68e3)
        board.load("LD", "OUT", 1.0)
        wanted = board.solve().potential("OUT")[0]
        return board.solve({("V", "voltage"): wanted + across}, across.size)

    def test_three_volts_of_headroom_are_comfortable(self) -> None:
        points = self.set_to_ten_volts("317 type 1.5 A", np.array([3.0, 6.0, 10.0]))
        output = points.potential("OUT")
        assert output == pytest.approx(output[2], rel=2e-3)
        assert points.of("U", "recommended") == pytest.approx(3.0)

    def test_at_its_dropout_it_follows_the_input_down(self) -> None:
        points = self.set_to_ten_volts("317 type 1.5 A", np.array([10.0, 1.5, 1.0]))
        output, across = points.potential("OUT"), points.of("U", "across")
        assert output[1] < 0.97 * output[0]
        assert output[1] - output[2] == pytest.approx(0.5, rel=0.02)
        assert across[1:] == pytest.approx(points.of("U", "dropout")[1:], rel=0.01)
        assert 1.5 < across[1] < 2.5

    def test_a_low_dropout_type_still_regulates_there(self) -> None:
        output = self.set_to_ten_volts("1086 type 1.5 A adjustable", np.array([10.0, 1.5]))
        assert output.potential("OUT")[1] == pytest.approx(output.potential("OUT")[0], rel=5e-3)


class TestLevelShift:
    """One transistor makes the pre-regulator follow: its junction and a multiple of feedback."""

    def board(self, transistor: str = "2N3906") -> Board:
        board = Board().source("V", "IN", 24.0).source("VS", "SET", 8.0)
        board.resistor("B", "SET", GROUND, 1e3)  # takes the base current
        pins = {"input": "IN", "switch": "SW", "ground": GROUND, "feedback": "FB"}
        board.use("U", "step-down 150 kHz 3 A", pins)
        board.use("D", "1N5822", {"anode": GROUND, "cathode": "SW"})
        board.use("L", "inductor 68 µH 3 A", {"one": "SW", "two": "PRE"})
        board.resistor("R1", "PRE", "E", 1e3).resistor("R2", "FB", GROUND, 1e3)
        board.use("Q", transistor, {"emitter": "E", "base": "SET", "collector": "FB"})
        return board.load("LD", "PRE", 0.5)

    def difference(self, lanes: dict[Any, Any], count: int, transistor: str = "2N3906") -> Array:
        points = self.board(transistor).solve(lanes, count)
        return np.asarray(points.potential("PRE") - points.potential("SET"))

    def test_is_one_junction_and_feedback_times_the_ratio(self) -> None:
        ratios = np.linspace(0.5, 3.0, 11)
        found = self.difference({("R1", "resistance"): 1e3 * ratios}, 11)
        slope, junction = np.polyfit(ratios, found, 1)
        assert 0.55 < junction < 0.75
        assert slope == pytest.approx(1.23, rel=0.03)

    def test_is_the_same_at_every_setting(self) -> None:
        found = self.difference({("VS", "voltage"): np.linspace(3.0, 15.0, 7)}, 7)
        assert np.ptp(found) < 0.02

    def test_moves_with_temperature_as_a_junction_does(self) -> None:
        found = self.difference({AMBIENT: np.array([283.15, 333.15])}, 2)
        assert -3e-3 < (found[1] - found[0]) / 50.0 < -1e-3

    def test_follows_the_reference_of_the_switching_regulator(self) -> None:
        found = self.difference({("U", "reference"): np.array([1.18, 1.28])}, 2)
        assert found[1] - found[0] == pytest.approx(0.1, rel=0.05)

    def test_another_transistor_gives_another_difference(self) -> None:
        assert abs(self.difference({}, 1, "BC557B")[0] - self.difference({}, 1)[0]) > 1e-3


def corners(part: str, value: str) -> Array:
    """Lowest, typical and highest of a catalogue part's value."""
    spread = load()[part].values[value].spread
    return np.array([spread.low, spread.typical, spread.high])


def trips(board: Board, lanes: dict[Any, Any], count: int) -> Array:
    """Load currents at which the comparator C stands on its threshold [A]."""
    board.cross("LD", "current", ("C", "difference"))
    begin = board.solve()
    found = board.solve(
        {**lanes, **crossed("LD", "current", {("C", "difference"): 1.0})}, count, start=begin
    )
    return found.of("LD", "current")


def width(found: Array) -> float:
    """Spread of a result as a share of its middle."""
    return float(np.ptp(found) / np.mean(found))


class TestShunt:
    """A volt would be wasted in a shunt, so it drops millivolts: too few for a comparator."""

    SHUNT = 0.05  # 50 mV at an ampere

    def bare(self) -> Board:
        """Shunt in the return, its voltage straight on the comparator."""
        board = Board().source("V", "IN", 10.0).source("VCC", "VCC", 5.0)
        board.source("VR", "REF", 0.05).load("LD", "IN", 0.9, minus="SENSE")
        board.resistor("RS", "SENSE", GROUND, self.SHUNT).resistor("B", "REF", GROUND, 1e3)
        return self.compared(board, "SENSE")

    def amplified(self) -> Board:
        """The same shunt in the rail, behind a current-sense amplifier."""
        board = Board().source("V", "IN", 10.0).source("VCC", "VCC", 5.0)
        board.source("VR", "REF", 2.5).resistor("B", "REF", GROUND, 1e3)
        board.resistor("RS", "IN", "OUT", self.SHUNT).load("LD", "OUT", 0.9)
        pins = {"sense_plus": "IN", "sense_minus": "OUT", "output": "S"}
        pins |= {"supply": "VCC", "ground": GROUND}
        board.use("A", "current-sense amplifier 26 V gain 50", pins)
        return self.compared(board, "S")

    def compared(self, board: Board, sensed: str) -> Board:
        pins = {"plus": sensed, "minus": "REF", "output": "T", "supply": "VCC", "ground": GROUND}
        return board.use("C", "393 type", pins).resistor("RP", "VCC", "T", 1e4)

    def test_offset_alone_moves_the_bare_trip_by_a_fifth(self) -> None:
        offsets = corners("393 type", "offset")
        found = trips(self.bare(), {("C", "offset"): offsets}, 3)
        assert found[1] == pytest.approx(1.0, rel=0.01)
        assert width(found) > 0.15

    def test_with_gain_the_same_comparator_hardly_moves_it(self) -> None:
        offsets = corners("393 type", "offset")
        found = trips(self.amplified(), {("C", "offset"): offsets}, 3)
        assert found[1] == pytest.approx(1.0, rel=0.03)
        assert width(found) < 0.01

    def test_a_larger_shunt_helps_in_proportion(self) -> None:
        lanes: dict[Any, Any] = {("C", "offset"): corners("393 type", "offset")}
        small = width(trips(self.bare(), lanes, 3))
        lanes |= {("RS", "resistance"): 10.0 * self.SHUNT, ("VR", "voltage"): 0.5}
        assert width(trips(self.bare(), lanes, 3)) == pytest.approx(small / 10.0, rel=0.05)


class TestDifferenceAmplifier:
    """Four resistors turn common mode into signal as far as they differ."""

    RESISTORS = ("R1", "R2", "R3", "R4")

    def board(self) -> Board:
        board = Board().source("V", "IN", 5.0).source("VCC", "VCC", 24.0)
        board.resistor("RS", "IN", "OUT", 0.1).load("LD", "OUT", 0.9)
        board.resistor("R1", "OUT", "X", 1e4).resistor("R2", "X", "S", 2e5)
        board.resistor("R3", "IN", "Y", 1e4).resistor("R4", "Y", GROUND, 2e5)
        powered = {"supply": "VCC", "ground": GROUND}
        board.use("A", "358 type", {"plus": "Y", "minus": "X", "output": "S", **powered})
        board.source("VR", "REF", 2.0).resistor("B", "REF", GROUND, 1e3)
        board.use("C", "393 type", {"plus": "S", "minus": "REF", "output": "T", **powered})
        return board.resistor("RP", "VCC", "T", 1e4)

    def trips(self, grade: str, common_mode: float) -> Array:
        """Trip currents over all corners of the resistors [A]."""
        tolerance = load()[grade].values["resistance"].spread.high - 1.0
        signs = np.array(list(itertools.product((-1.0, 1.0), repeat=4))).T
        board = self.board()
        lanes: dict[Any, Any] = {
            (ref, "resistance"): board.nominal[ref, "resistance"] * (1.0 + tolerance * row)
            for ref, row in zip(self.RESISTORS, signs, strict=True)
        }
        return trips(board, {**lanes, ("V", "voltage"): common_mode}, 16)

    def test_its_trip_moves_with_the_tolerance_of_its_resistors(self) -> None:
        coarse = self.trips("film resistor 0.25 W 1 %", 12.0)
        fine = self.trips("film resistor 0.25 W 0.1 %", 12.0)
        assert width(coarse) > 0.3
        assert width(fine) == pytest.approx(width(coarse) / 10.0, rel=0.1)

    def test_the_more_so_the_higher_the_rail(self) -> None:
        low = self.trips("film resistor 0.25 W 1 %", 4.0)
        high = self.trips("film resistor 0.25 W 1 %", 12.0)
        assert np.ptp(high) > 2.0 * np.ptp(low)

    def test_with_equal_resistors_the_rail_does_not_matter(self) -> None:
        nominal: dict[Any, Any] = {("V", "voltage"): np.array([4.0, 12.0])}
        assert width(trips(self.board(), nominal, 2)) < 0.02
