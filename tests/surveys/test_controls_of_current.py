"""Where the control of a current stands while all else is looked at."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply, survey_of

CONTROL = """
[[control]]
part = "RV1"
value = "position"
sets = "main.{quantity}"
role = "set"
"""


def text(pins: str, quantity: str = "current") -> str:
    """A variable resistor between input and output, and nothing else."""
    rheostat = part("RV1", "potentiometer", pins, 'use = "potentiometer single-turn 1 kΩ"')
    parts = CONTROL.format(quantity=quantity) + rheostat + resistor("R1", "OUT", "GND", 10e3)
    return supply(parts, amperes=(0.0, 50e-3))


@pytest.mark.parametrize(
    ("pins", "stop"),
    [("one = IN, wiper = OUT, two = OUT", 0.0), ("one = OUT, wiper = OUT, two = IN", 1.0)],
    ids=["turned down", "turned up"],
)
def test_it_stands_at_the_stop_that_leaves_no_resistance(pins: str, stop: float) -> None:
    """Ohm's law: of 0 and 1 kΩ in series, nil lets most through."""
    survey = survey_of(text(pins))
    points = survey.range.middle()
    lanes = survey.lanes(points, survey.typical(points.count))
    assert lanes["RV1", "position"] == stop
    assert ("RV1", "position") not in survey.bare(points, survey.typical(points.count))


def test_a_control_of_the_voltage_is_left_to_be_solved() -> None:
    survey = survey_of(text("one = IN, wiper = OUT, two = OUT", "voltage"))
    points = survey.range.middle()
    assert ("RV1", "position") not in survey.lanes(points, survey.typical(points.count))
