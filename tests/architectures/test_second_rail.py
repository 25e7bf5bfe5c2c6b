"""A rail below the return of a direct source: the inverting stage by the textbook."""

from __future__ import annotations

import math
from collections import Counter

import pytest

from railwright.architectures.architecture import Refusal, Sketch
from railwright.architectures.inverting_linear import InvertingLinear
from railwright.architectures.second_rail import SecondRail, joined
from railwright.circuit.circuit import Part
from tests.architectures.needs import held_at_quick, parts_of, rail, task_of, value

FIVE = {"reference": "common with input", "volts": "5 V"}
SENSORS = f"""
title = "sensors"

[need.input]
kind = "dc"
nets = {{ plus = "IN", minus = "GND" }}
voltage = {{ min = "11 V", nominal = "12 V", max = "13 V" }}
resistance = "100 mΩ"
{rail("plus", "PLUS", "GND", amperes=("0 A", "0.1 A"), **FIVE)}
{rail("minus", "GND", "MINUS", amperes=("0 A", "50 mA"), **FIVE)}
[need.surroundings]
ambient = {{ min = "5 °C", max = "40 °C" }}
"""
LOAD = 0.05 * 1.08 + 0.025
"""A for which the stage ahead is sized: the load, and what a regulator takes itself."""


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(SecondRail(), SENSORS)


def between(parts: dict[str, Part]) -> tuple[float, float]:
    """Magnitude of the net between, from its legs of 1 %."""
    ratio = value(parts["R1"], "resistance") / value(parts["R2"], "resistance")
    return 1.2 * (1.0 + 0.98 * ratio), 1.26 * (1.0 + 1.02 * ratio)


def test_the_coil_bears_what_the_volt_seconds_make(parts: dict[str, Part]) -> None:
    """D = (V + Vd) / (Vin + V + Vd); I / (1 - D) and half of Vin D / (L f).

    Source: Erickson and Maksimovic, chapter 2, buck-boost converter. Of what is left at least.
    """
    out = between(parts)[1] + 0.5
    duty = out / (10.8 + out)
    assert duty <= 0.95 * value(parts["U2"], "duty_limit", "low")
    ripple = 10.8 * duty / (value(parts["L1"], "inductance", "low") * 240e3)
    peak = LOAD / (1.0 - duty) + ripple / 2.0
    assert peak <= 0.8 * 0.9 * parts["U2"].ratings["rated_current"]
    assert peak <= value(parts["L1"], "saturation_current", "low")
    fall = ripple * value(parts["C6"], "esr", "high")
    fall += LOAD * duty / (240e3 * value(parts["C6"], "capacitance", "low"))
    assert fall <= 0.03 * between(parts)[0]


def test_its_switch_and_diode_block_input_and_output(parts: dict[str, Part]) -> None:
    highest = 13.0 + between(parts)[1]
    assert highest + 0.5 <= 0.9 * parts["U2"].ratings["switch_maximum"]
    assert highest <= 0.7 * 0.9 * parts["D3"].ratings["reverse_voltage"]


def test_the_negative_regulator_has_its_dropout(parts: dict[str, Part]) -> None:
    """2 V of the 79xx type at 1 A, less by its slope at a twentieth of that."""
    assert parts["U3"].kind == "negative-fixed-regulator"
    assert between(parts)[0] - 5.25 >= 1.1 * (2.0 - 0.24 * 0.9)


def test_how_it_is_joined(parts: dict[str, Part]) -> None:
    """Erickson and Maksimovic, figure 2.29 turned to the pins; datasheet of the 79xx type."""
    assert parts["L1"].pins == {"one": "SW_BELOW", "two": "GND"}
    assert parts["D3"].pins == {"anode": "PRE_BELOW", "cathode": "SW_BELOW"}
    assert parts["C6"].pins == {"plus": "GND", "minus": "PRE_BELOW"}
    pins = parts["U3"].pins
    assert (pins["input"], pins["ground"], pins["output"]) == ("PRE_BELOW", "GND", "MINUS")
    assert parts["D4"].pins == {"anode": "PRE_BELOW", "cathode": "MINUS"}
    shared = Counter(net for part in parts.values() for net in set(part.pins.values()))
    assert shared["IN"] == 2
    assert not any(part.kind == "wire" for part in parts.values())


def test_joined_circuits_are_numbered_on() -> None:
    first = Sketch(({"ref": "U1"}, {"ref": "R9"}))
    second = Sketch(({"ref": "R1"}, {"ref": "RV1"}, {"ref": "U2"}), ({"part": "RV1"},))
    both = joined(first, second)
    assert [part["ref"] for part in both.parts] == ["U1", "R9", "R10", "RV1", "U3"]
    assert both.controls == ({"part": "RV1"},)


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('plus = "GND", minus = "MINUS"', 'plus = "MINUS", minus = "GND"', "do not lie on either"),
        ('max = "50 mA"', 'max = "3 A"', "minus, inverting with linear: "),
        ('max = "0.1 A"', 'max = "30 A"', "plus, adjustable linear: 1085 type 3 A"),
    ],
    ids=["both above", "below", "above"],
)
def test_what_binds_is_told(old: str, new: str, reason: str) -> None:
    assert old in SENSORS
    found = SecondRail().offer(task_of(SENSORS.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_a_rail_below_alone_is_served_too() -> None:
    above = rail("plus", "PLUS", "GND", amperes=("0 A", "0.1 A"), **FIVE)
    assert above in SENSORS
    alone = SENSORS.replace(above, "")
    found = parts_of(InvertingLinear(), alone)
    assert math.isclose(value(found["C1"], "capacitance"), 47e-6)
    assert found["U2"].pins["output"] == "MINUS"


def test_a_candidate_holds_at_depth_quick() -> None:
    assert held_at_quick(SecondRail(), SENSORS) == []
