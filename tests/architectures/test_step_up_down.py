"""Supplies of two coils and a coupling capacitor, by the textbook's balances."""

from __future__ import annotations

import math

import pytest

from railwright.architectures.architecture import Architecture, Refusal
from railwright.architectures.step_up_down import StepUpDown
from railwright.architectures.step_up_down_linear import StepUpDownLinear
from railwright.circuit.circuit import Part
from tests.architectures.needs import EXAMPLES, held_at_quick, parts_of, task_of, value

LIGHTS = (EXAMPLES / "boat-lights-twelve-volts.toml").read_text("utf-8")
RADIO = (EXAMPLES / "caravan-twelve-volts.toml").read_text("utf-8")
LOAD = 0.6 * 1.06
"""A at 12 V and the highest that the divider may give."""


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch for the lights, by ref."""
    return parts_of(StepUpDown(), LIGHTS)


def duty_at(lowest: float, drop: float) -> float:
    """(Vout + Vd) / (Vin - Von + Vout + Vd); Erickson and Maksimovic, chapter 6."""
    out = 12.0 * 1.06 + 0.5
    return out / (lowest - drop + out)


def test_how_it_is_joined(parts: dict[str, Part]) -> None:
    """Input, first coil, switch; coupling capacitor, second coil, diode, output."""
    assert parts["L1"].pins == {"one": "RAW", "two": "SW"}
    assert parts["C3"].pins == {"plus": "SW", "minus": "FAR"}
    assert parts["L2"].pins == {"one": "FAR", "two": "GND"}
    assert parts["D1"].pins == {"anode": "FAR", "cathode": "OUT"}
    assert parts["U1"].kind == "step-up-regulator"
    assert all(part.why for part in parts.values())


def test_the_coils_bear_what_they_share(parts: dict[str, Part]) -> None:
    """The first carries I D / (1 - D), the second I; each half of the ripple of both together."""
    lowest = 9.5 - 0.08 * 1.1 - 0.2
    duty = duty_at(lowest, 0.9)
    clock = value(parts["U1"], "frequency", "low")
    for ref, mean in (("L1", LOAD * duty / (1.0 - duty)), ("L2", LOAD)):
        ripple = (lowest - 0.9) * duty / (value(parts[ref], "inductance", "low") * clock)
        assert mean + ripple / 2.0 <= value(parts[ref], "saturation_current", "low")
        assert mean <= parts[ref].ratings["rated_current"]
    ripple = 2.0 * (lowest - 0.9) * duty / (value(parts["L1"], "inductance", "low") * clock)
    peak = LOAD / (1.0 - duty) + ripple / 2.0
    assert peak <= 0.9 * value(parts["U1"], "current_limit", "low")
    assert duty <= value(parts["U1"], "duty_limit", "low")


def test_the_capacitor_between_carries_the_loads_current(parts: dict[str, Part]) -> None:
    """I while the switch is on, I D / (1 - D) the other way while it is off: effective
    I sqrt(D / (1 - D)); it moves by I D / (f C)."""
    duty, between = duty_at(9.2, 0.9), parts["C3"]
    assert LOAD * math.sqrt(duty / (1.0 - duty)) <= value(between, "rated_ripple", "low")
    moved = LOAD * duty / value(between, "capacitance", "low") / 42e3
    assert moved <= 0.05 * 9.5
    assert between.ratings["rated_voltage"] >= 1.25 * 15.0


def test_switch_and_diode_stand_input_and_output_together(parts: dict[str, Part]) -> None:
    highest = 15.0 + 12.0 * 1.03 + 0.5
    assert highest <= 0.9 * parts["U1"].ratings["switch_maximum"]
    assert highest - 0.5 <= 0.9 * parts["D1"].ratings["reverse_voltage"]


def test_the_voltage_between_need_not_lie_above_the_input() -> None:
    """Less is left for the linear one than behind a step-up, which stays above 16 V."""
    found = parts_of(StepUpDownLinear(), RADIO)
    ratio = value(found["R1"], "resistance") / value(found["R2"], "resistance")
    assert value(found["U1"], "reference") * (1.0 + ratio) < 16.0
    assert found["U2"].pins["input"] == found["D1"].pins["cathode"] == "PRE"


@pytest.mark.parametrize("architecture", [StepUpDown(), StepUpDownLinear()], ids=lambda a: a.name)
@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('max = "15 V"', 'max = "11.5 V"', "a step-up serves it"),
        ('min = "9.5 V"', 'min = "14.9 V"', "a step-down serves it"),
        ('max = "0.6 A"', 'max = "6 A"', "A"),
    ],
    ids=["below", "above", "much"],
)
def test_what_binds_is_told(architecture: Architecture, old: str, new: str, reason: str) -> None:
    text = LIGHTS.replace(
        'nominal = "12.5 V"', 'nominal = "15 V"' if "14" in new else 'nominal = "11 V"'
    )
    assert old in text
    found = architecture.offer(task_of(text.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


@pytest.mark.parametrize(
    ("architecture", "text"),
    [(StepUpDown(), LIGHTS), (StepUpDownLinear(), RADIO)],
    ids=["alone", "linear"],
)
def test_a_candidate_holds_at_depth_quick(architecture: Architecture, text: str) -> None:
    assert held_at_quick(architecture, text) == []
