"""What the load of another rail does: Ohm's law in what both share."""

from __future__ import annotations

import pytest
from surveys.supplies import EXACT, part, resistor, supply, survey_of

from railwright.checks.cross_regulation import CrossRegulation
from railwright.surveys.extremes import Extreme, explore
from railwright.surveys.other_loads import OTHER_LOADS

CHECK = CrossRegulation()
AUX = """[[need.output]]
name = "aux"
nets = { plus = "AUX", minus = "GND" }
reference = "common with input"
voltage = { min = "9 V", max = "9 V" }
current = { min = "10 mA", max = "500 mA" }
[need.surroundings]
"""


def lead(ref: str, one: str, two: str, ohms: str) -> str:
    value = f'resistance = {{ typical = "{ohms}", {EXACT} }}'
    return part(ref, "wire", f"one = {one}, two = {two}", f'use = "wire AWG 18"\n{value}')


BLEED = resistor("R1", "IN", "GND", 1000.0)


def found(parts: str, more: str = "", subject: str = "main") -> Extreme:
    text = supply(parts + BLEED, output=more, amperes=(0.1, 1.0)).replace(
        "[need.surroundings]\n", AUX
    )
    survey = survey_of(text)
    assert list(CHECK.subjects(survey)) == ["main", "aux"]
    question = {"": lambda view: CHECK.answer(view, subject)}
    return explore(survey, OTHER_LOADS, question, 1)[""]


@pytest.mark.parametrize(("more", "limit"), [
    ("", 0.05 * 5.0), ('accuracy = "2 %"', 0.02 * 5.0), ('load_regulation = "30 mV"', 0.03),
])  # fmt: skip
def test_a_lead_that_both_share(more: str, limit: float) -> None:
    """490 mA more of the other rail through 100 mΩ, its own load as it was."""
    parts = lead("W1", "IN", "MID", "100 mΩ") + lead("W2", "MID", "OUT", "50 mΩ")
    extreme = found(parts + lead("W3", "MID", "AUX", "50 mΩ"), more)
    assert extreme.value == pytest.approx(0.100 * 0.49, rel=1e-3)
    assert extreme.margin == pytest.approx(limit - 0.049, rel=1e-3)


def test_leads_of_their_own_keep_the_rails_apart() -> None:
    parts = lead("W1", "IN", "OUT", "100 mΩ") + lead("W2", "IN", "AUX", "100 mΩ")
    assert found(parts).value == pytest.approx(0.0, abs=1e-6)


def test_a_single_rail_has_no_others() -> None:
    assert CHECK.subjects(survey_of(supply(lead("W1", "IN", "OUT", "1 mΩ") + BLEED))) == []
