"""Return ratios and margins: the textbook's converter, closed forms, determinants."""

from __future__ import annotations

import numpy as np
import pytest
from circuits import GROUND
from engine.example_circuits import resistor_and_diode
from engine.ideal_parts import (
    Compensator,
    IdealAmplifier,
    IdealBoard,
    IdealCapacitor,
    IdealInductor,
    IdealSource,
    SwitchCell,
    Transconductance,
)
from engine.textbook_circuits import at_rest
from numpy.typing import NDArray
from published import Row, published
from scipy import optimize

from railwright.engine.linear import Linear, linearise
from railwright.engine.loop import loop, loops
from railwright.engine.poles import poles
from railwright.engine.ports import NoSuchPort
from railwright.engine.quiescent import quiescent

Array = NDArray[np.float64]


def stage() -> IdealBoard:
    """The textbook's converter: 28 V to 15 V, 3 Ω."""
    board = IdealBoard().put("VG", IdealSource(), "IN 0", voltage=28.0)
    board.put("S", SwitchCell(), "IN 0 SW CTL 0", ramp=4.0)
    board.put("L", IdealInductor(), "SW OUT", inductance=50e-6)
    board.put("C", IdealCapacitor(), "OUT 0", capacitance=500e-6)
    board.resistor("R", "OUT", GROUND, 3.0)
    return board


def open_buck() -> Linear:
    """It at a fixed duty."""
    board = stage().put("D", IdealSource(), "CTL 0", voltage=2.14)
    return linearise(quiescent(board.solve()))


def buck(gain: float, zero: float, pole: float) -> Linear:
    """Its loop closed by a compensator."""
    board = stage()
    board.resistor("R1", "OUT", "FB", 2e9).resistor("R2", "FB", GROUND, 1e9)
    board.put("REF", IdealSource(), "REF 0", voltage=5.0)
    values = {"gain": gain, "zero": zero or 1.0, "pole": pole or 1.0}
    board.put("K", Compensator(), "REF FB CTL 0", **values)
    return linearise(quiescent(board.solve({("", "leak"): 0.0})))


@pytest.mark.parametrize("row", published("buck converter's loop"), ids=str)
def test_buck_converter(row: Row) -> None:
    of, values = row.inputs["of"], {k: row.inputs[k] for k in ("gain", "zero", "pole")}
    if of in ("corner", "quality"):
        natural = poles(open_buck())
        found = natural.frequency[0, 0] if of == "corner" else 0.5 / natural.damping[0, 0]
    else:
        (only,) = loops(buck(**values), np.geomspace(1e-3, 1e6, 361))
        assert (only.ref, only.name) == ("S", "duty")
        assert only.gain_crossings.rising.tolist() == [False]
        found = {
            "gain": abs(only.ratio[0, 0]),
            "crossover": only.crossover[0],
            "phase margin": only.phase_margin[0],
        }[of]
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("phase margin and quality"), ids=str)
def test_phase_margin_of_a_loop_of_two_poles(row: Row) -> None:
    # T = w0/s / (1 + s/w2) closes to a resonance with Q² = w0/w2 (book, section 9.4.3). The
    # integrator is an amplifier of huge gain and slow pole.
    quality, slow = row.inputs["quality"], 1e-4
    corner = 1e4
    board = IdealBoard().put("V", IdealSource(), "IN 0")
    gain = quality**2 * corner / slow
    board.put("A", IdealAmplifier(), "IN B OUT 0", gain=gain, pole=slow)
    board.resistor("R", "OUT", "B", 1e3)
    board.put("C", IdealCapacitor(), "B 0", capacitance=1.0 / (2e3 * np.pi * corner))
    linear = at_rest(board)
    assert loop(linear, "A", "input").phase_margin[0] == row.expected_within_its_tolerance
    damping = poles(linear).damping[0]
    assert 0.5 / damping == pytest.approx([quality, quality], rel=1e-6)


def three_lags(gain: Array) -> Linear:
    """A loop of three equal lags of 1 kHz and a gain: it is on the edge at a gain of 8."""
    board = IdealBoard().put("V", IdealSource(), "IN 0")
    for number, (plus, minus, out) in enumerate(
        [("IN", "C", "A"), ("A", "0", "B"), ("B", "0", "C")]
    ):
        board.put(f"A{number}", IdealAmplifier(), f"{plus} {minus} {out} 0", gain=1.0, pole=1e3)
    return at_rest(board, {("A0", "gain"): gain}, gain.size)


class TestThreeLags:
    gain = np.array([0.5, 2.0, 7.99, 8.01, 100.0])

    def test_gain_margins(self) -> None:
        found = loop(three_lags(self.gain), "A0", "input")
        assert found.gain_margin == pytest.approx(20 * np.log10(8.0 / self.gain), abs=1e-9)
        assert found.phase_crossings.lane.tolist() == [0, 1, 2, 3, 4]
        assert found.phase_crossings.frequency == pytest.approx(1e3 * np.sqrt(3.0), rel=1e-12)

    def test_phase_margins(self) -> None:
        found = loop(three_lags(self.gain), "A0", "input")
        at = np.sqrt(self.gain[1:] ** (2.0 / 3.0) - 1.0)
        assert found.crossover[1:] == pytest.approx(1e3 * at, rel=1e-10)
        assert found.phase_margin[1:] == pytest.approx(
            180.0 - 3.0 * np.degrees(np.arctan(at)), abs=1e-8
        )
        assert np.isnan(found.crossover[0])
        assert found.phase_margin[0] == np.inf

    def test_poles_decide_likewise(self) -> None:
        verdict = poles(three_lags(self.gain)).verdict
        assert verdict == ("stable", "stable", "stable", "unstable", "unstable")

    def test_one_loop_is_the_same_at_each_of_its_marks(self) -> None:
        found = loops(three_lags(self.gain))
        assert [each.ref for each in found] == ["A0", "A1", "A2"]
        for each in found[1:]:
            assert each.ratio == pytest.approx(found[0].ratio, rel=1e-9)


def test_return_difference_is_a_ratio_of_determinants() -> None:
    """1 + T = det A / det A_k, with two loops that share nets; A_k from parts without slope."""
    rng = np.random.default_rng(4)
    slopes = rng.uniform(-0.05, 0.05, (2, 6))

    def matrices(first: Array, second: Array) -> Linear:
        board = IdealBoard()
        for number, (one, two) in enumerate([("A", "0"), ("B", "0"), ("A", "B"), ("C", "B")]):
            board.resistor(f"R{number}", one, two, 10.0 * (number + 1))
        board.put("C1", IdealCapacitor(), "A C", capacitance=1e-7)
        board.put("C2", IdealCapacitor(), "B 0", capacitance=3e-8)
        board.put("G1", Transconductance(), "A C B 0")
        board.put("G2", Transconductance(), "B 0 C 0")
        return at_rest(board, {("G1", "slope"): first, ("G2", "slope"): second}, 6)

    grid = np.geomspace(10.0, 1e8, 15)
    closed = matrices(*slopes)
    for ref, opened in (
        ("G1", matrices(0.0 * slopes[0], slopes[1])),
        ("G2", matrices(slopes[0], 0.0 * slopes[1])),
    ):
        found = loop(closed, ref, "current", grid).ratio
        s = 2j * np.pi * grid[:, None, None]
        whole, part = (
            np.linalg.det(each.matrices[0][:, None] + s * each.matrices[1][:, None])
            for each in (closed, opened)
        )
        assert 1.0 + found == pytest.approx(whole / part, rel=1e-9)


def test_a_peak_crosses_twice_more() -> None:
    """A resonance lifts the gain above 1 again; both passages are found on the function itself."""
    board = IdealBoard().put("V", IdealSource(), "IN 0")
    board.put("A", IdealAmplifier(), "IN B OUT 0", gain=1e4, pole=1.0)
    board.resistor("R", "OUT", "M", 1.0).put("L", IdealInductor(), "M B", inductance=1e-4)
    board.put("C", IdealCapacitor(), "B 0", capacitance=1e-9)
    found = loop(at_rest(board), "A", "input")
    natural = np.sqrt(1e13)

    def size(f: float) -> float:
        s = 2j * np.pi * f
        t = 1e4 / (1.0 + 1j * f) / (1.0 + s * 1e-9 + s * s * 1e-13)
        return float(np.log(abs(t)))

    peak = natural / (2 * np.pi)
    spans = [(1e3, 0.5 * peak), (0.5 * peak, peak), (peak, 2 * peak)]
    wanted = [optimize.brentq(size, *span, xtol=1e-9, rtol=1e-14) for span in spans]
    assert found.gain_crossings.frequency == pytest.approx(wanted, rel=1e-9)
    assert found.gain_crossings.rising.tolist() == [False, True, False]
    assert found.gain_crossings.margin[0] > 80.0
    assert poles(at_rest(board)).verdict == ("unstable",)


class TestWhatIsNoLoop:
    def test_a_signal_that_nothing_leads_back_to(self) -> None:
        board = IdealBoard().put("V", IdealSource(), "IN 0")
        board.put("G", Transconductance(), "IN 0 OUT 0", slope=1.0)
        assert loops(at_rest(board.resistor("R", "OUT", GROUND, 10.0))) == ()

    def test_a_circuit_without_signals(self) -> None:
        linear = linearise(quiescent(resistor_and_diode().solve()))
        assert loops(linear) == ()
        with pytest.raises(NoSuchPort, match="signals are none at all"):
            loop(linear, "D", "current")

    def test_signals_are_named(self) -> None:
        with pytest.raises(NoSuchPort, match="signals are A0 input, A1 input, A2 input"):
            loop(three_lags(np.ones(1)), "A0", "output")


def test_a_loop_that_has_not_fallen_at_the_end_of_the_band() -> None:
    found = loop(three_lags(np.array([0.5, 100.0])), "A0", "input", np.geomspace(1.0, 10.0, 5))
    assert found.open_ended.tolist() == [False, True]


@pytest.mark.parametrize("wrong", [[0.0, 1.0], [2.0, 1.0], [1.0, 1.0]])
def test_frequencies_rise(wrong: list[float]) -> None:
    with pytest.raises(ValueError, match="rising frequencies above 0 Hz"):
        loop(three_lags(np.ones(1)), "A0", "input", wrong)
