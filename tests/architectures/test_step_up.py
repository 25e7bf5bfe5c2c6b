"""Step-up supplies: coil, peaks, capacitor and loop by sums of another kind."""

from __future__ import annotations

import math

import pytest
from published import Row, published

from railwright.architectures.architecture import Architecture, Refusal
from railwright.architectures.sizing.peak_current_loop import Indirect
from railwright.architectures.step_up import StepUp
from railwright.architectures.step_up_linear import StepUpLinear
from railwright.circuit.circuit import Part
from tests.architectures.needs import held_at_quick, parts_of, plain, task_of, value

RELAYS = plain(
    {
        '"17 V", nominal = "18 V", max = "19 V"': '"11.4 V", nominal = "12 V", max = "12.6 V"',
        '"12 V", max = "12 V"': '"24 V", max = "24 V"',
        '"0.3 A"': '"0.5 A"',
        '"10 %"': '"5 %"',
    }
)
CAMPER = plain(
    {
        'kind = "dc"': 'kind = "battery"',
        '"17 V", nominal = "18 V", max = "19 V"': '"9 V", nominal = "12.5 V", max = "16 V"',
        '"100 mΩ"': '"50 mΩ"',
        '"0.3 A"': '"1 A"',
        '"10 %"': '"8 %"\nripple = "20 mV"',
        "[need.surroundings]": '[need.parts]\nderating = "none"\n\n[need.surroundings]',
    }
)
LOAD = 0.5 * 1.05
"""A at 24 V and the highest that the divider may give."""


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(StepUp(), RELAYS)


def test_the_coil_bears_the_current_that_the_volt_seconds_make(parts: dict[str, Part]) -> None:
    """D = 1 - (Vin - Von) / (Vout + Vd - Von); I / (1 - D) and half of (Vin - Von) D / (L f).

    Source: Erickson and Maksimovic, chapter 2. Lowest input less 0.2 Ω, 0.7 V over the switch.
    """
    lowest, out = 11.4 - 0.2 * 1.3, 24.0 * 1.05 + 0.5
    duty = 1.0 - (lowest - 0.7) / (out - 0.7)
    mean = LOAD / (1.0 - duty)
    clock, coil = value(parts["U1"], "frequency", "low"), value(parts["L1"], "inductance", "low")
    ripple = (lowest - 0.7) * duty / (coil * clock)
    assert ripple <= 0.8 * mean
    assert mean + ripple / 2.0 <= 0.8 * parts["U1"].ratings["rated_current"] * 0.9
    assert mean + ripple / 2.0 <= value(parts["L1"], "saturation_current", "low")
    assert value(parts["U1"], "duty_limit", "low") * 0.95 >= duty
    ramp = value(parts["U1"], "slope_compensation", "low") * coil
    assert (out - lowest - ramp) / (lowest - 0.7 + ramp) <= 0.9


def test_the_capacitor_takes_what_the_diode_gives(parts: dict[str, Part]) -> None:
    """While the switch is on it gives the load alone: I sqrt(D / (1 - D)) effective."""
    duty = 1.0 - 11.1 / 25.7
    rms = LOAD * math.sqrt(duty / (1.0 - duty))
    assert rms <= 0.9 * value(parts["C3"], "rated_ripple", "low")
    clock, held = value(parts["U1"], "frequency", "low"), parts["C3"]
    fall = 1.5 * value(held, "esr", "high") + LOAD * duty / (
        clock * value(held, "capacitance", "low")
    )
    assert fall <= 0.9 * 0.24
    assert 0.5 * 0.9 * parts["D1"].ratings["forward_current"] >= LOAD
    assert 0.7 * 0.9 * parts["D1"].ratings["reverse_voltage"] >= 24.95


def test_the_loop_passes_one_well_below_its_right_half_plane_zero(parts: dict[str, Part]) -> None:
    """Crossing by the product of gains above both poles: A w_p/w_z sqrt(1 + (w_z/w)^2), |T| = 1.

    Erickson and Maksimovic, chapter 12: dV/dI falls as (1 - D) / (w C) from its pole on.
    """
    regulator, held = parts["U1"], parts["C3"]
    duty, load = 1.0 - 12.6 / 24.5, 24.0 / LOAD
    level = 500.0 * 4.0 / 200.0 * value(regulator, "current_limit") * 1.23 / 24.0
    beyond = level * (1.0 - duty) / (2.0 * math.pi * value(held, "capacitance"))
    crossing = beyond * math.sqrt(0.5 + math.sqrt(0.25 + (200.0 / beyond) ** 2))
    coil = value(parts["L1"], "inductance")
    right = (1.0 - duty) ** 2 * load / (2.0 * math.pi * coil)
    ahead = math.degrees(math.atan(crossing / right) + math.atan(200.0 / crossing))
    assert 90.0 - ahead >= 45.0


@pytest.mark.parametrize(
    "row",
    [row for row in published("buck-boost stage") if row.inputs["of"] == "zero"],
    ids=str,
)
def test_the_zero_in_the_right_half_plane(row: Row) -> None:
    given = row.inputs
    stage = Indirect(
        "inverting", given["duty"], given["coil"], given["capacitor"], 0.0, given["load"]
    )
    assert stage.right_zero == row.expected_within_its_tolerance


def test_how_it_is_joined(parts: dict[str, Part]) -> None:
    assert parts["L1"].pins == {"one": "RAW", "two": "SW"}
    assert parts["D1"].pins == {"anode": "SW", "cathode": "OUT"}
    assert all(part.why for part in parts.values())


def test_the_ripple_takes_no_pulse_from_the_loop(parts: dict[str, Part]) -> None:
    """At the limits: the output is I Rc + I T / (4 C) higher at the tick, times A w_p/w_z."""
    regulator, held = parts["U1"], parts["C3"]
    level = value(regulator, "gain", "high") * 4.0 / 200.0
    level *= value(regulator, "current_limit", "high") * 1.23 / 24.0
    rise = value(held, "esr", "high") + 1.0 / (
        4.0 * value(regulator, "frequency", "low") * value(held, "capacitance", "low")
    )
    assert level * rise <= 0.51


def test_pulses_are_long_enough_at_the_highest_input() -> None:
    """A duty of 1 - V / (Vout + Vd), and none is shorter than the time of no sight."""
    found = parts_of(StepUpLinear(), CAMPER)
    regulator = found["U1"]
    ratio = value(found["R1"], "resistance") / value(found["R2"], "resistance")
    least = value(regulator, "reference", "low") * (1.0 + 0.98 * ratio)
    shortest = value(regulator, "blanking_time", "high") * value(regulator, "frequency", "high")
    assert shortest <= 1.0 - 16.0 / (least + 0.35)


def test_a_battery_that_crosses_the_output_is_stepped_up_beyond_it_first() -> None:
    """Even the lowest voltage between lies above the highest battery, and feeds the 317 type."""
    found = parts_of(StepUpLinear(), CAMPER)
    ratio = value(found["R1"], "resistance") / value(found["R2"], "resistance")
    least = value(found["U1"], "reference", "low") * (1.0 + 0.98 * ratio)
    assert least > 16.0
    assert found["U2"].pins["input"] == found["D1"].pins["cathode"] == "PRE"
    most = value(found["U1"], "reference", "high") * (1.0 + 1.02 * ratio)
    loss = (most - 12.0) * 1.013
    pad, sink = (value(found[ref], "resistance", "high") for ref in ("P1", "H2"))
    to_case = value(found["U2"], "junction_to_case", "high")
    assert 40.0 + loss * (to_case + pad + sink) <= 115.0


@pytest.mark.parametrize(
    ("architecture", "old", "new", "reason"),
    [
        (StepUp(), '"24 V", max = "24 V"', '"12 V", max = "12 V"', "only adds voltage"),
        (StepUp(), '"24 V", max = "24 V"', '"18 V", max = "24 V"', "sized for one voltage"),
        (StepUp(), '"0.5 A"', '"3 A"', "no time-lag fuse of the catalogue carries"),
        (StepUp(), '"24 V", max = "24 V"', '"80 V", max = "80 V"', "its switch would see"),
        (StepUp(), '"5 %"', '"5 %"\nnever_above = "30 V"', "with its feedback open"),
        (StepUpLinear(), '"24 V", max = "24 V"', '"5 V", max = "5 V"', "without a step-up"),
        (
            StepUpLinear(),
            '"11.4 V", nominal = "12 V", max = "12.6 V"',
            '"20 V", nominal = "30 V", max = "50 V"',
            "would always burn 13.5 W",
        ),
    ],
    ids=["below", "knob", "much", "high", "never above", "needless", "mostly above"],
)
def test_what_binds_is_told_with_numbers(
    architecture: Architecture, old: str, new: str, reason: str
) -> None:
    assert old in RELAYS
    found = architecture.offer(task_of(RELAYS.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


@pytest.mark.parametrize(
    ("architecture", "text"),
    [(StepUp(), RELAYS), (StepUpLinear(), CAMPER)],
    ids=["alone", "linear"],
)
def test_a_candidate_holds_at_depth_quick(architecture: Architecture, text: str) -> None:
    assert held_at_quick(architecture, text) == []
