"""What readings tell of the parts, against sums by hand and supplies whose parts are known."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import MappingProxyType

import numpy as np
import pytest
from click.testing import CliRunner
from surveys.supplies import part, resistor, supply

from railwright import cli
from railwright.bench.expected import points_of
from railwright.bench.reading import At, Meter, Place, Reading
from railwright.checks import every
from railwright.circuit.design import Design, read_text
from railwright.mend.as_built import as_built
from railwright.mend.built import Built
from railwright.mend.feasible import LearnError
from railwright.mend.foretold import foretold
from railwright.mend.learn import Learned, Learning, learn
from railwright.surveys.fixture import Fixture
from railwright.surveys.stages import bring_up
from railwright.surveys.survey import Survey

EXAMPLE = Path(__file__).parents[2] / "examples" / "radio-bench-rail.toml"
METER = Meter(share=0.0005, counts=0)
DIVIDER = supply(
    "# the upper one\n"
    + resistor("R1", "IN", "OUT", 1e3, "1 %")
    + resistor("R2", "OUT", "GND", 3e3, "1 %", ', drift = "50 ppm/K"')
)
TIED = 4.0 * 2.0 * METER.share
"""Of the ratio k of R2 and R1, either way: OUT/IN is k / (1 + k), which moves by 1 / (1 + k) of
what k does, a quarter, and is known to twice the meter's error."""


def volts(red: str, value: float, black: str = "GND", meter: Meter = METER) -> Reading:
    return Reading("", Place("voltage", red, black), value, meter.error(value), meter.name)


@cache
def divider() -> Design:
    return read_text(DIVIDER, "small.toml")


def learned(out: float) -> Learned:
    return learn(divider(), [volts("IN", 10.0), volts("OUT", out)])


class TestDivider:
    def test_its_ratio_is_told_and_neither_resistor(self) -> None:
        found = learned(7.5)
        assert not found.values
        (tied,) = found.tied
        assert tied.refs == ("R1", "R2")
        assert tied.residue == pytest.approx(TIED / 2.0, rel=0.05)
        assert (tied.low, tied.high) == pytest.approx((-0.01, 0.01), rel=0.05)

    def test_how_far_it_is_off_is_told(self) -> None:
        # 7.52 V of 10 V: R2 is 7.52 / 2.48 times R1, 1.08 % more than 3 times. The tolerance
        # leaves of R1 what is no more than 1 % / (1 + 1.08 % - 0.4 %) and of R2 likewise.
        found = learned(7.52)
        (tied,) = found.tied
        one, two = tied.values
        assert two.likely / one.likely == pytest.approx(7.52 / 2.48, rel=TIED)
        assert one.high == pytest.approx(3030.0 / (7.52 / 2.48 * (1.0 - TIED)), rel=3e-4)
        assert two.low == pytest.approx(990.0 * (7.52 / 2.48 * (1.0 - TIED)), rel=3e-4)
        assert (one.low, two.high) == pytest.approx((990.0, 3030.0))

    def test_a_reading_of_one_resistor_s_current_tells_both(self) -> None:
        current = Reading("", Place("current", "IN", "GND"), 2.5e-3, 1.25e-6)
        found = learn(divider(), [volts("IN", 10.0), volts("OUT", 7.5), current])
        # 2.5 V and 7.5 V over 2.5 mA: the voltage of R1 is known to 0.35 % only.
        assert {value.ref for value in found.values} == {"R1", "R2"}
        for value, ohms in zip(found.values, (1e3, 3e3), strict=True):
            assert value.low <= ohms <= value.high
            assert value.high - value.low < 2 * 0.005 * ohms

    def test_readings_that_no_tolerance_explains_teach_nothing(self) -> None:
        with pytest.raises(LearnError, match="voltage of OUT from GND least of all"):
            learned(7.6)

    def test_readings_of_nothing_known_teach_nothing(self) -> None:
        with pytest.raises(LearnError, match="none of the readings"):
            learn(divider(), [volts("ELSEWHERE", 1.0)])

    def test_the_file_proves_a_narrower_window(self) -> None:
        text = as_built(DIVIDER, divider(), learned(7.5))
        window = bring_up(read_text(text, "built.toml")).stages[0].rests[0].volts["OUT"]
        assert window.typical == pytest.approx(7.5, abs=0.002)
        # By the resistors alone: a quarter of what their ratio may be off.
        assert window.high - window.low == pytest.approx(2 * 7.5 * TIED / 4.0, rel=0.1)

    def test_the_file_keeps_what_the_person_wrote(self) -> None:
        text = as_built(DIVIDER, divider(), learned(7.5))
        changes = difflib.ndiff(DIVIDER.splitlines(), text.splitlines())
        gone = [line for line in changes if line.startswith("- ")]
        assert len(gone) == 2
        assert all("resistance = " in line for line in gone)
        assert 'drift = "50 ppm/K"' in text
        assert read_text(text, "built.toml").circuit.part("R2").tracks is not None


def test_a_draw_that_parts_share_is_moved_for_all() -> None:
    alike = 'tracks = { group = "reel", tolerance = "0.05 %" }'
    chain = supply(
        "".join(
            resistor(ref, *nets, 1e3, "1 %") + alike + "\n"
            for ref, nets in (("R1", ("IN", "OUT")), ("R2", ("OUT", "GND")))
        )
    )
    design = read_text(chain, "small.toml")
    current = Reading("", Place("current", "IN", "GND"), 5e-3 / 1.006, 2.5e-6)
    found = learn(design, [volts("IN", 10.0), current])
    ((one, two),) = found.shifted
    # Both 0.6 % high; meter, source and their own 0.05 % leave 0.15 % either way.
    for value in (one, two):
        assert value.likely == pytest.approx(1006.0, rel=0.0015)
        assert (value.low, value.high) == pytest.approx((1004.5, 1007.5), abs=0.2)
    again = read_text(as_built(chain, design, found), "built.toml")
    assert again.circuit.part("R2").tracks == design.circuit.part("R2").tracks
    assert again.circuit.part("R2").values["resistance"].spread.low == pytest.approx(
        two.low, rel=1e-5
    )


class Hidden:
    """A supply with parts that nobody knows, read by a meter that is off as it may be."""

    def __init__(
        self,
        design: Design,
        places: Sequence[Place],
        meter: Meter,
        seed: int,
        off: float | None = None,
        under: Mapping[At, Sequence[Place]] = MappingProxyType({}),
    ) -> None:
        """off: share of its error by which the meter is off everywhere; drawn where None.

        under: what is read elsewhere in the operating range.
        """
        # Far above all: of its states the one in which most is alive is the nearest.
        rough = [
            Reading("", place, 1e3, 1.0, at=at)
            for at, several in ({At(): places} | dict(under)).items()
            for place in several
        ]
        built, rng = Built(design, rough), np.random.default_rng(seed)
        spread = built.spread
        self.drawn = drawn = spread.draw(rng.random((spread.size, 1)))[:, 0]
        self.values = {
            quantity.moves[0]: float(value)
            for quantity, value in zip(spread.quantities, drawn, strict=True)
            if quantity.role == "value"
        }
        truth = built.metered(np.concatenate([drawn, [each.typical for each in built.open]]))
        errors = np.array([meter.error(float(value)) for value in truth])
        missed = rng.uniform(-1.0, 1.0, truth.size) if off is None else np.full(truth.size, off)
        self.readings = [
            replace(reading, value=float(value), error=float(error))
            for reading, value, error in zip(
                built.readings, truth + missed * errors, errors, strict=True
            )
        ]

    def held(self, found: Learned, meter: Meter) -> int:
        """How many values are told as well as a meter reads; no hidden one is left out by any."""
        count = 0
        for value in found.values:
            hidden = self.values[value.ref, value.name]
            assert value.low <= hidden <= value.high
            assert value.low <= value.likely <= value.high
            within = 2.0 * meter.error(value.likely)
            if (value.high - value.low) / 2.0 <= within:
                assert value.likely == pytest.approx(hidden, abs=within)
                count += 1
        for tied in found.tied:
            away = [self.values[v.ref, v.name] / v.likely - 1.0 for v in tied.values]
            mean = sum(away) / len(away)
            assert tied.low <= mean <= tied.high
            assert all(abs(share - mean) <= tied.residue for share in away)
        return count


STAGES = """
[[stage]]
name = "divider"
parts = ["R1", "R2"]
supply = { net = "IN", voltage = "10 V", current_limit = "0.1 A" }
measure = ["OUT"]
[[stage]]
name = "as a whole"
parts = ["R3"]
supply = { net = "IN", voltage = "10 V", current_limit = "0.1 A" }
measure = ["OUT"]
"""


def test_readings_of_several_stages_are_put_together() -> None:
    parts = (
        resistor("R1", "IN", "OUT", 1e3, "1 %")
        + resistor("R2", "OUT", "GND", 3e3, "1 %")
        + resistor("R3", "OUT", "GND", 3e3, "1 %")
    )
    design = read_text(supply(parts) + STAGES, "small.toml")
    # 3 kΩ of 4 kΩ, then 1.5 kΩ of 2.5 kΩ.
    readings = [
        replace(volts(net, value), stage=stage)
        for stage, value in (("divider", 7.5), ("as a whole", 6.0))
        for net, value in (("IN", 10.0), ("OUT", value))
    ]
    found = learn(design, readings)
    (tied,) = found.tied
    assert tied.refs == ("R1", "R2", "R3")
    likely = [value.likely for value in tied.values]
    assert [ohms / likely[0] for ohms in likely] == pytest.approx([1.0, 3.0, 3.0], rel=TIED)


def test_a_load_tells_the_resistance_before_it() -> None:
    parts = resistor("R1", "IN", "OUT", 100.0, "5 %") + resistor("R2", "OUT", "GND", 1e8)
    text = supply(parts, amperes=(0.0, 0.1))
    at = At(load=0.05, input=10.0)
    meter = Meter(share=1e-5, counts=0)
    readings = [
        replace(volts("IN", 10.0, meter=meter), at=at),
        replace(volts("OUT", 4.9, meter=meter), at=at),
    ]
    (found,) = learn(read_text(text, "small.toml"), readings).values
    # 5.1 V over 50 mA, which the load takes within half a percent.
    assert found.likely == pytest.approx(102.0, rel=0.005)
    assert (found.low, found.high) == pytest.approx((102.0 / 1.005, 102.0 / 0.995), rel=2e-4)


PINS = "input = IN, output = OUT, adjust = ADJ"
REGULATOR = supply(
    part("U1", "adjustable-regulator", PINS, 'use = "317 type 1.5 A"')
    + resistor("R1", "OUT", "ADJ", 240.0, "1 %")
    + resistor("R2", "ADJ", "GND", 720.0, "1 %")
)
ACROSS = [Place("voltage", *nets) for nets in (("IN", "GND"), ("OUT", "GND"), ("OUT", "ADJ"))]


@pytest.mark.parametrize("off", [None, 1.0, -1.0], ids=["by chance", "all high", "all low"])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_reference_of_a_regulator_is_recovered(seed: int, off: float | None) -> None:
    meter = Meter(share=0.002, counts=2, of=20000)
    design = read_text(REGULATOR, "small.toml")
    hidden = Hidden(design, ACROSS, meter, seed, off)
    found = learn(design, hidden.readings)
    assert hidden.held(found, meter) >= 1
    assert ("U1", "reference") in {(value.ref, value.name) for value in found.values}
    # The current of its adjust pin, of which nothing is known, hides what the legs are.
    assert not found.tied
    assert found.farthest <= 1.0


PLACES = [
    Place("current", "BRICK", "GND"),
    *(
        Place("voltage", net, "GND")
        for net in ("VIN", "FB", "VPRE", "ADJ", "OUT", "V12", "V5", "LIMIT", "LEVEL", "ISENSE")
    ),
]
"""Of the example; one set for all tests, so that one circuit is compiled for them."""


@pytest.fixture(scope="module")
def example() -> Design:
    return read_text(EXAMPLE.read_text(encoding="utf-8"), EXAMPLE.name)


def test_what_the_example_s_readings_determine_is_recovered(example: Design) -> None:
    meter = Meter(share=0.001, counts=2, of=20000)
    hidden = Hidden(example, PLACES, meter, 3)
    found = learn(example, hidden.readings)
    assert hidden.held(found, meter) >= 1
    told = {(value.ref, value.name) for value in found.values}
    assert {("U3", "output_voltage"), ("U8", "output_voltage"), ("U9", "reference_voltage")} <= told
    assert [tied.refs for tied in found.tied] == [("R8", "R9")]
    text = EXAMPLE.read_text(encoding="utf-8")
    assert not read_text(as_built(text, example, found), "built.toml").is_need_only


def test_where_the_trip_acts_is_foretold_from_readings_below_it(example: Design) -> None:
    """Shunt times gain is told by what they make of a load; neither is by itself."""
    meter = Meter(share=0.001, counts=2, of=20000)
    loaded = At(setting=9.3, load=0.8)
    under = [Place("voltage", net, "GND") for net in ("OUT", "ISENSE")]
    hidden = Hidden(example, PLACES, meter, 1, under={loaded: under})
    learning = Learning(Built(example, hidden.readings))
    (trip,) = (each for each in foretold(learning) if each.id == "overload.acts")
    acts = next(check for check in every() if check.id == trip.id)
    survey = Survey(Fixture.of(example))
    points = points_of(survey, trip.rail, [At(setting=12.0, load=1.0)])
    view = acts.situation.view(survey, points, hidden.drawn[:, None], None)
    assert trip.low <= acts.answer(view, trip.rail).value[0] <= trip.high
    assert trip.high - trip.low < 0.5 * (trip.designed.high - trip.designed.low)
    (both,) = (each for each in learning.learned().together if each.reading.at == loaded)
    assert {("U7", "gain"), ("R5", "resistance")} <= {(v.ref, v.name) for v in both.values}


class TestCommand:
    def run(self, folder: Path, out: float) -> tuple[int, str]:
        path, table = folder / "small.toml", folder / "read.csv"
        path.write_text(DIVIDER, encoding="utf-8")
        rows = f"voltage,IN,GND,10,V\nvoltage,OUT,GND,{out},V\n"
        table.write_text(f"quantity,red,black,value,unit\n{rows}", encoding="utf-8")
        options = ["--readings", str(table), "--meter", "0.05 %"]
        built = ["--as-built", str(folder / "built.toml")]
        done = CliRunner().invoke(cli.commands, ["mend", str(path), *options, *built])
        return done.exit_code, done.output

    def test_a_sound_supply_is_written_down(self, tmp_path: Path) -> None:
        status, told = self.run(tmp_path, 7.52)
        assert status == 0, told
        assert "R2 : R1 = 3.03" in told
        assert "1.1 % high" in told
        text = (tmp_path / "built.toml").read_text(encoding="utf-8")
        assert text.startswith("# As built")
        read_text(text, "built.toml")

    def test_what_is_broken_is_not(self, tmp_path: Path) -> None:
        status, told = self.run(tmp_path, 0.0)
        assert status == 1, told
        assert "something is wrong" in told
        assert not (tmp_path / "built.toml").exists()
