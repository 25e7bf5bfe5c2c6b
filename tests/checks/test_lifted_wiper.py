"""The output with a wiper off its track: by the divider that is left."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.lifted_wiper import LiftedWiperVoltage
from railwright.surveys.extremes import explore
from railwright.surveys.wipers import LIFTED_WIPER

CHECK = LiftedWiperVoltage()
TRACK = (
    'options = { taper = "linear" }\nresistance = { typical = "1k", tolerance = "0 %" }\n'
    'end_resistance = { typical = "1 Ω", tolerance = "0 %" }\n'
    'travel = { typical = "270°", tolerance = "0 %" }'
)
CONTROL = '[[control]]\npart = "RV1"\nvalue = "position"\nsets = "main.voltage"\nrole = "set"\n'


def margin(pins: str, more: str) -> float:
    parts = (
        resistor("R1", "IN", "OUT", 1000)
        + resistor("R2", "LOW", "GND", 500)
        + (resistor("R3", "FAR", "GND", 1e6) if "FAR" in pins else "")
        + part("RV1", "potentiometer", pins, TRACK)
        + CONTROL
    )
    survey = survey_of(supply(parts, output=more, volts=(4.0, 5.5)))
    assert CHECK.subjects(survey) == ["RV1"]
    question = {"": lambda view: CHECK.answer(view, "RV1")}
    return explore(survey, LIFTED_WIPER, question, 1)[""].margin


TIED, LOOSE = "one = OUT, wiper = LOW, two = LOW", "one = OUT, wiper = LOW, two = FAR"
WHOLE = 10.0 * 1500 / 2500
"""V; the whole track in series with R2 against R1."""
ALMOST_ALL = 10.0 * 1001e3 / 1002e3
"""V; the track leads to 0 V by R3 alone, of 1 MΩ."""


@pytest.mark.parametrize(("pins", "more", "wanted"), [
    (TIED, 'never_above = "7 V"', 7.0 - WHOLE),
    (TIED, 'never_above = "5.8 V"', 5.8 - WHOLE),
    (LOOSE, 'never_above = "7 V"', 7.0 - ALMOST_ALL),
], ids=["holds", "all of the track is too much", "nothing left"])  # fmt: skip
def test_what_is_left_of_the_divider(pins: str, more: str, wanted: float) -> None:
    assert margin(pins, more) == pytest.approx(wanted, abs=5e-3)
