"""Whether filters are damped: by the poles of a coil, a capacitor and what is around them."""

from __future__ import annotations

import math

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.filters import FilterDamping
from railwright.surveys.extremes import Extreme, explore
from railwright.surveys.small_signals import SMALL_SIGNALS

CHECK = FilterDamping()
HENRIES, FARADS = 10e-6, 10e-6


def exactly(name: str, value: float, unit: str) -> str:
    return f'{name} = {{ typical = "{value} {unit}", tolerance = "0 %" }}\n'


def coil(ohms: float) -> str:
    values = exactly("inductance", HENRIES, "H") + exactly("winding_resistance", ohms, "Ω")
    rated = 'saturation_current = "1000 A"\nrated_current = "10 A"'
    return part("L1", "inductor", "one = IN, two = OUT", values + rated)


def capacitor(ref: str, farads: float, ohms: float, plus: str = "OUT") -> str:
    values = exactly("capacitance", farads, "F") + exactly("esr", ohms, "Ω")
    rated = 'leakage = "1 nA"\nrated_voltage = "100 V"\noptions = { dielectric = "film" }'
    return part(ref, "capacitor", f"plus = {plus}, minus = GND", values + rated)


def found(parts: str) -> Extreme:
    survey = survey_of(supply(parts, volts=(10.0, 10.0), amperes=(1.0, 1.0)))
    assert CHECK.subjects(survey) == ["L1"]
    question = {"": lambda view: CHECK.answer(view, "L1")}
    return explore(survey, SMALL_SIGNALS, question, 1)[""]


@pytest.mark.parametrize("ohms", [0.06, 0.3])
def test_a_coil_rings_with_its_capacitor(ohms: float) -> None:
    """s² L C + s C R + 1 = 0."""
    extreme = found(coil(ohms) + capacitor("C1", FARADS, 1e-4))
    damping = (ohms + 1e-4) / 2.0 * math.sqrt(FARADS / HENRIES)
    assert extreme.value == pytest.approx(damping, rel=1e-2)
    assert extreme.margin == pytest.approx(damping - 0.1, abs=1e-3)
    assert (extreme.margin < 0) == (ohms < 0.2)


def test_a_lossy_capacitor_beside_it_damps() -> None:
    """Four times the capacitance behind the characteristic resistance."""
    lossy = capacitor("C2", 4.0 * FARADS, math.sqrt(HENRIES / FARADS))
    assert found(coil(0.06) + capacitor("C1", FARADS, 1e-4) + lossy).margin > 0.1


def test_a_load_damps_as_well() -> None:
    """s² L C + s L / R + 1 = 0, the winding next to nothing."""
    parts = coil(1e-4) + capacitor("C1", FARADS, 1e-4) + resistor("R1", "OUT", "GND", 2.0)
    assert found(parts).value == pytest.approx(math.sqrt(HENRIES / FARADS) / 2.0 / 2.0, rel=1e-2)


def test_the_coil_of_a_regulator_is_no_filter() -> None:
    stage = part("U1", "step-down-regulator",
                 "input = IN, switch = SW, ground = GND, feedback = OUT",
                 'use = "step-down 150 kHz 3 A"')  # fmt: skip
    stage += part("D1", "diode", "anode = GND, cathode = SW", 'use = "1N5822"')
    stage += part("L1", "inductor", "one = SW, two = OUT", 'use = "inductor 68 µH 3 A"')
    stage += part("C1", "capacitor", "plus = OUT, minus = GND",
                  'use = "electrolytic 470 µF 35 V low-ESR"')  # fmt: skip
    assert CHECK.subjects(survey_of(supply(stage))) == []
