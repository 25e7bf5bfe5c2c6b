"""Measured against predicted, against sums by hand on a divider and on the example."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner
from surveys.supplies import resistor, supply

from railwright import cli
from railwright.bench.log import opened
from railwright.bench.reading import At, Meter, Place, Quantity, Reading
from railwright.circuit.design import Design, read_text
from railwright.measure.compared import Compared, compared, exit_status, left_out
from railwright.measure.sheet import sheet
from railwright.pages.drawing import FILE
from railwright.pages.sheet_html import html
from railwright.pages.sheet_pdf import pdf
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK

ROOT = Path(__file__).parents[2]
METER = Meter(share=0.001, counts=0)
DIVIDER = supply(
    resistor("R1", "IN", "OUT", 1e3, "1 %") + resistor("R2", "OUT", "GND", 1e3, "1 %"),
    amperes=(0.0, 1e-3),
    output='accuracy = "12 %"\nload_regulation = "0.6 V"',
)


@cache
def divider() -> Design:
    return read_text(DIVIDER, "small.toml")


def volts(value: float, load: float | None, source: float = 10.0) -> Reading:
    at = At(load=load, input=source, ambient=298.15)
    return Reading("", Place("voltage", "OUT", "GND"), value, METER.error(value), "meter", at=at)


def of(found: list[Compared], id: str) -> Compared:
    (only,) = (each for each in found if each.observed.id == id)
    return only


def at_output(upper: float, lower: float, load: float) -> float:
    """(10 V - I R1) R2 / (R1 + R2), Kirchhoff's law."""
    return (10.0 - load * upper) * lower / (upper + lower)


class TestDivider:
    @pytest.mark.parametrize("load", [0.0, 0.5e-3, 1e-3])
    def test_the_ends_are_those_of_the_tolerances(self, load: float) -> None:
        told = of(compared(divider(), [volts(4.8, load)]), "output.voltage").expected
        assert told is not None
        assert told.nominal == pytest.approx(at_output(1000.0, 1000.0, load), rel=1e-6)
        assert told.low == pytest.approx(at_output(1010.0, 990.0, load), rel=1e-6)
        assert told.high == pytest.approx(at_output(990.0, 1010.0, load), rel=1e-6)

    @pytest.mark.parametrize(
        ("value", "verdict"), [(4.99, "inside"), (5.052, "doubtful"), (5.06, "outside")]
    )
    def test_the_meter_s_error_counts(self, value: float, verdict: str) -> None:
        # 5.05 V at most; 0.1 % of 5 V are 5 mV.
        found = compared(divider(), [volts(value, 0.0)])
        assert of(found, "output.voltage").verdict == verdict
        assert exit_status(found) == (verdict == "outside")

    def test_how_far_it_is_off_may_be_nothing(self) -> None:
        told = of(compared(divider(), [volts(4.99, 0.2e-4)]), "output.accuracy").expected
        assert told is not None
        # 10 mV low with typical parts, and 50 mV either way by the tolerances.
        assert told.nominal == pytest.approx(5.0 - at_output(1000.0, 1000.0, 0.2e-4))
        assert told.low == 0.0
        assert told.high == pytest.approx(5.0 - at_output(1010.0, 990.0, 0.2e-4), rel=1e-4)

    def test_two_readings_make_a_regulation(self) -> None:
        found = compared(divider(), [volts(5.0, 0.0), volts(4.5, 1e-3)])
        seen = of(found, "output.load-regulation")
        assert seen.observed.value == pytest.approx(0.5)
        assert seen.observed.error == pytest.approx(METER.share * (5.0 + 4.5))
        assert seen.expected is not None
        # 1 mA through both resistors side by side.
        assert (seen.expected.low, seen.expected.high) == pytest.approx((0.495, 0.505), rel=1e-4)
        assert seen.margin == pytest.approx(0.1)
        assert seen.is_kept

    def test_readings_at_other_inputs_make_none(self) -> None:
        found = compared(divider(), [volts(5.0, 0.0, 9.0), volts(4.5, 1e-3)])
        assert "output.load-regulation" not in {each.observed.id for each in found}

    def test_what_breaks_a_promise_is_told(self) -> None:
        found = compared(divider(), [volts(4.2, 1e-3)])
        accuracy = of(found, "output.accuracy")
        assert accuracy.is_kept is False
        assert accuracy.margin == pytest.approx(0.12 * 5.0 - 0.8)
        assert exit_status(found) == 1

    def test_readings_of_nowhere_are_not_compared(self) -> None:
        bare = Reading("all", Place("voltage", "OUT", "GND"), 5.0, 0.005)
        assert exit_status(compared(divider(), [bare])) == 3
        assert left_out(divider(), [bare, volts(5.0, 0.0)]) == [bare]


def test_trip_and_ripple_of_the_example() -> None:
    text = (ROOT / "examples" / "radio-bench-rail.toml").read_text(encoding="utf-8")
    design = read_text(text, "example.toml")

    def seen(quantity: Quantity, value: float, error: float) -> Reading:
        place = Place(quantity, "OUT", "RETURN")
        return Reading("", place, value, error, "", at=At(setting=5.0, load=1.0))

    found = compared(
        design, [seen("trip current", 1.29, 0.01), seen("trip current", 1.5, 0.01),
                 seen("ripple", 0.2e-3, 1e-5)]
    )  # fmt: skip
    acts = [each for each in found if each.observed.id == "overload.acts"]
    assert [(each.verdict, each.is_kept) for each in acts] == [("inside", True), ("outside", False)]
    # 2.5 V × 36 kΩ / (10 kΩ + 36 kΩ) is the level less hysteresis; its makers' sum stands at the
    # top of the example: a trip between the 1.1 A to carry and the 1.45 A to act by.
    assert acts[0].expected is not None
    assert 1.1 < acts[0].expected.low < acts[0].expected.nominal < acts[0].expected.high < 1.45
    assert of(found, "ripple.output").verdict == "inside"


class TestSheet:
    def test_it_tells_what_was_measured_and_what_was_not(self) -> None:
        design = divider()
        proof = prove(design, depth=QUICK, only=("output",))
        found = compared(design, [volts(5.0, 0.0), volts(4.5, 1e-3)])
        page = html([sheet(design, proof, found)])
        for text in ("Measured: main", "500 mV ± 4.5 mV at 1 mA, input 10 V, 25 °C; meter"):
            assert text in page, text
        assert "Nothing: every promise was measured." in page
        alone = html([sheet(design, proof, found[:0])])
        assert "load regulation of main: " in alone
        assert pdf([sheet(design, proof, found, FILE)]).startswith(b"%PDF")


class TestCommand:
    def test_from_the_log_to_json_and_page(self, tmp_path: Path) -> None:
        path = tmp_path / "small.toml"
        path.write_text(DIVIDER, encoding="utf-8")
        with opened(tmp_path / "small.readings", "Small supply") as log:
            log.accept(volts(5.0, 0.0))
            log.accept(volts(4.5, 1e-3))
        data, page = tmp_path / "m.json", tmp_path / "m.html"
        options = ["--json", str(data), "--sheet", str(page)]
        done = CliRunner().invoke(cli.commands, ["measured", str(path), *options])
        assert done.exit_code == 0, done.output
        assert "load regulation" in done.stdout
        written = json.loads(data.read_text(encoding="utf-8"))
        text = (ROOT / "docs" / "json.md").read_text(encoding="utf-8")
        text = text.partition("# What was measured\n")[2].partition("\n# ")[0]
        named = set(re.findall(r"^\| `(\w+)`", text, re.MULTILINE))
        assert named == written.keys() | written["measured"][0].keys()
        assert all(each["taken"] for each in written["measured"])
        assert written["measured"][0]["taken"][:10] in page.read_text(encoding="utf-8")

    def test_without_a_log_it_says_what_to_do(self, tmp_path: Path) -> None:
        path = tmp_path / "small.toml"
        path.write_text(DIVIDER, encoding="utf-8")
        done = CliRunner().invoke(cli.commands, ["measured", str(path)])
        assert done.exit_code == 2
        assert "there is no log" in done.stderr
