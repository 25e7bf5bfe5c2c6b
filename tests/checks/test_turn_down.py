"""How long an output stays up: by the time constant of a capacitor and what is across it."""

from __future__ import annotations

import math

import pytest
from surveys.supplies import EXACT, part, resistor, supply, survey_of

from railwright.checks.turn_down import TurnedDown
from railwright.surveys.extremes import Extreme, explore
from railwright.surveys.turn_down import PATIENCE, TURN_DOWN

CHECK = TurnedDown()
TRACK = (
    f'options = {{ taper = "linear" }}\nresistance = {{ typical = "1k", {EXACT} }}\n'
    f'end_resistance = {{ typical = "1 Ω", {EXACT} }}\ntravel = {{ typical = "270°", {EXACT} }}'
)
CONTROL = '[[control]]\npart = "RV1"\nvalue = "position"\nsets = "main.voltage"\nrole = "set"\n'


def store(ref: str, net: str, farads: str) -> str:
    values = (
        f'capacitance = {{ typical = "{farads}", {EXACT} }}\n'
        f'esr = {{ typical = "10 mΩ", {EXACT} }}\n'
        f'leakage = {{ typical = "1 nA", {EXACT} }}\nrated_voltage = "50 V"\n'
        'options = { dielectric = "film" }'
    )
    return part(ref, "capacitor", f"plus = {net}, minus = GND", values)


def turned_down(farads: str, ohms: float) -> Extreme:
    """A knob that sets a net, and a diode's way from it to an output with a capacitor."""
    parts = (
        part("RV1", "potentiometer", "one = IN, wiper = SET, two = GND", TRACK)
        + CONTROL
        + part("D1", "diode", "anode = SET, cathode = OUT", 'use = "1N5822"')
        + resistor("R1", "OUT", "GND", ohms)
        + store("C1", "OUT", farads)
    )
    text = supply(parts, volts=(2.0, 8.0), output='accuracy = "5 %"')
    survey = survey_of(text)
    assert CHECK.subjects(survey) == ["main"]
    assert not TURN_DOWN.unready(survey)
    question = {"": lambda view: CHECK.answer(view, "main")}
    return explore(survey, TURN_DOWN, question, 1)[""]


@pytest.mark.parametrize(("farads", "ohms"), [("100 µF", 10e3), ("1 mF", 2e3)])
def test_a_capacitor_falls_by_its_time_constant(farads: str, ohms: float) -> None:
    """From 8 V, all by R1, to 2 V and 5 % of it; the diode takes over only at the very end.

    Between the instants that are looked at, an eighth apart, a straight line is a little late.
    """
    seconds = float(farads.split()[0]) * (1e-3 if "m" in farads else 1e-6) * ohms
    extreme = turned_down(farads, ohms)
    assert extreme.value == pytest.approx(seconds * math.log(8.0 / 2.1), rel=0.04)
    assert extreme.margin == pytest.approx(PATIENCE - extreme.value)


def test_an_output_that_nothing_empties_is_still_up() -> None:
    assert turned_down("10 mF", 1e6).margin <= 0.0
