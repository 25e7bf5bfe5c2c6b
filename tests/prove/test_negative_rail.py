"""A negative supply proved: regulators below 0 V are judged as those above it are."""

from __future__ import annotations

from functools import cache

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.wiring import Unpowered
from railwright.circuit.design import Design, read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.surveys.tracking import _nets, tracking_regulators

SUPPLY = """
title = "Minus twelve volts"
[need.input]
kind = "dc"
nets = { plus = "COM", minus = "RAW" }
voltage = { min = "17 V", nominal = "18 V", max = "20 V" }
resistance = "0.1 Ω"
[[need.output]]
name = "main"
nets = { plus = "COM", minus = "OUT" }
reference = "common with input"
voltage = { min = "12 V", max = "12 V" }
current = { min = "0.02 A", max = "0.3 A" }
accuracy = "6 %"
[need.surroundings]
ambient = { min = "10 °C", max = "40 °C" }
[need.parts]
derating = "none"
[[part]]
ref = "U1"
kind = "negative-fixed-regulator"
use = "7912 type 1 A"
pins = { input = "RAW", output = "OUT", ground = "COM", case = "HOT" }
[[part]]
ref = "H1"
kind = "heat-sink"
resistance = { typical = "10 K/W", tolerance = "0 %" }
pins = { face = "HOT", air = "AMBIENT" }
[[part]]
ref = "C1"
kind = "capacitor"
use = "electrolytic 100 µF 25 V low-ESR"
pins = { plus = "COM", minus = "OUT" }
[[part]]
ref = "C2"
kind = "capacitor"
use = "electrolytic 100 µF 35 V low-ESR"
pins = { plus = "COM", minus = "RAW" }
"""
ADJUSTABLE = """
[[part]]
ref = "U1"
kind = "negative-adjustable-regulator"
use = "337 type 1.5 A"
pins = { input = "RAW", output = "OUT", adjust = "ADJ", case = "HOT" }
[[part]]
ref = "R1"
kind = "resistor"
use = "film resistor 0.25 W 1 %"
resistance = "120 Ω"
pins = { one = "OUT", two = "ADJ" }
[[part]]
ref = "R2"
kind = "resistor"
use = "film resistor 0.25 W 1 %"
resistance = "1k02"
pins = { one = "ADJ", two = "COM" }
"""


@cache
def proof(text: str) -> dict[tuple[str, str], Finding]:
    return {(f.id, f.subject): f for f in prove(read_text(text, "minus.toml")).findings}


def values(text: str) -> dict[str, float]:
    design: Design = read_text(text, "minus.toml")
    known = design.circuit.part("U1").values
    return {name: value.spread.high for name, value in known.items()} | {
        "least_output": known["output_voltage"].spread.low
    }


def adjustable() -> str:
    start, end = SUPPLY.index('[[part]]\nref = "U1"'), SUPPLY.index('[[part]]\nref = "H1"')
    return (SUPPLY[:start] + ADJUSTABLE + SUPPLY[end:]).replace("6 %", "8 %")


@pytest.mark.parametrize("text", [SUPPLY, adjustable()], ids=["fixed", "adjustable"])
def test_nothing_falls_short(text: str) -> None:
    found = proof(text)
    assert {f.verdict for f in found.values()} <= {"holds", "marginal"}
    asked = {id for id, _ in found}
    assert asked >= {
        "headroom.series",
        "headroom.regulator-current",
        "output.minimum-load" if "337" in text else "output.accuracy",
        "heat.junction",
        "stress.rating",
        "wiring.unpowered",
        "wiring.reversed",
        "wiring.dc-path",
        "stability.window",
    }


def test_headroom_is_what_the_input_leaves() -> None:
    """17 V less 0.1 Ω of the source less the highest output, by hand."""
    known = values(SUPPLY)
    found = proof(SUPPLY)["headroom.series", "U1"]
    left = 17.0 - 0.1 * (0.3 + known["quiescent_current"]) - known["output_voltage"]
    assert found.value == pytest.approx(left, abs=0.1)
    assert found.limit == pytest.approx(known["dropout"], abs=0.4)


def test_heat_is_that_of_the_voltage_across() -> None:
    known = values(SUPPLY)
    found = proof(SUPPLY)["heat.junction", "U1 junction_limit"]
    power = (20.0 - known["least_output"]) * 0.3 + 20.0 * known["quiescent_current"]
    assert found.value is not None
    assert found.value - 313.15 == pytest.approx(
        power * (known["junction_to_case"] + 10.0), rel=0.03
    )


@pytest.mark.parametrize(
    ("change", "check"),
    [
        (('min = "17 V"', 'min = "13.5 V"'), "headroom.series"),
        (('max = "0.3 A"', 'max = "3 A"'), "headroom.regulator-current"),
        (("10 K/W", "60 K/W"), "heat.junction"),
        (('plus = "COM", minus = "RAW"', 'plus = "RAW", minus = "COM"'), "headroom.series"),
        (('input = "RAW", output = "OUT", ground = "COM"',
          'input = "COM", output = "OUT", ground = "RAW"'), "headroom.series"),
        (('input = "RAW", output = "OUT", ground = "COM"',
          'input = "ELSE", output = "OUT", ground = "COM"'), "wiring.unpowered"),
        (('input = "RAW", output = "OUT", ground = "COM"',
          'input = "RAW", output = "OUT", ground = "ELSE"'), "wiring.unpowered"),
        (('pins = { plus = "COM", minus = "OUT" }\n', 'pins = { plus = "OUT", minus = "COM" }\n'),
         "wiring.reversed"),
    ],
    ids=["low input", "overload", "hot", "fed from above", "swapped", "unfed", "no return",
         "capacitor"],
)  # fmt: skip
def test_each_shortfall_is_found(change: tuple[str, str], check: str) -> None:
    assert change[0] in SUPPLY
    found = proof(SUPPLY.replace(*change))
    verdicts = [f.verdict for (id, _), f in found.items() if id == check]
    assert "falls short" in verdicts, {k: f.verdict for k, f in found.items()}


INVERTED = supply(
    part(
        "U1",
        "inverting-regulator",
        "input = IN, switch = SW, ground = GND, feedback = FB",
        'use = "inverting 300 kHz 2 A"',
    )
    + part(
        "L1",
        "inductor",
        "one = SW, two = GND",
        'inductance = "22 µH"\nwinding_resistance = "50 mΩ"\nsaturation_current = "5 A"',
    )
    + part("D1", "diode", "anode = NEG, cathode = SW", 'use = "1N5822"')
    + resistor("RA", "GND", "FB", 1000)
    + resistor("RB", "FB", "NEG", 5600)
    + part(
        "U2",
        "negative-fixed-regulator",
        "input = NEG, output = OUT, ground = GND",
        'use = "7905 type 1 A"',
    ),
).replace('nets = { plus = "OUT", minus = "GND" }', 'nets = { plus = "GND", minus = "OUT" }')


def test_the_divider_of_an_inverting_stage_is_no_matter_of_tracking() -> None:
    """Its output is behind the diode; the coil leads to ground."""
    survey = survey_of(INVERTED)
    assert _nets(survey, "U1") == ("FB", "NEG", "GND")
    assert not tracking_regulators(survey)


@pytest.mark.parametrize(("net", "faults"), [("NEG", []), ("OFF", ["U2"])])
def test_an_inverting_stage_may_feed_it(net: str, faults: list[str]) -> None:
    stub = resistor("R9", "OFF", "STUB", 1000)
    text = INVERTED.replace('input = "NEG"', f'input = "{net}"') + stub
    assert [fault.subject for fault in Unpowered().look(survey_of(text)).faults] == faults
