"""Dividers with both their legs, and with one that went astray."""

from __future__ import annotations

from pathlib import Path

import pytest
from surveys.supplies import survey_of

from railwright.checks.divider import LowerLeg
from railwright.circuit.writer import remove_part, set_pin

EXAMPLES = Path(__file__).parents[2] / "examples"
PANEL = (EXAMPLES / "panel-five-volts.toml").read_text("utf-8")


@pytest.mark.parametrize(("name", "looked"), [
    ("panel-five-volts", ["U1"]),
    ("amplifier-minus-nine-volts", ["U1"]),
    ("model-shop-knob", []),
    ("radio-bench-rail", []),
])  # fmt: skip
def test_dividers_of_sound_supplies_have_both_legs(name: str, looked: list[str]) -> None:
    """Where a knob or a transistor takes part, a leg is not what sets the voltage."""
    answer = LowerLeg().look(survey_of((EXAMPLES / f"{name}.toml").read_text("utf-8")))
    assert answer.looked == looked
    assert not answer.faults


@pytest.mark.parametrize(
    ("text", "first"),
    [
        (set_pin(PANEL, "R2", "one", "OUT"), "R2"),
        (set_pin(PANEL, "R2", "two", "RAIL"), "R2"),
        (remove_part(PANEL, "R2"), "U1"),
    ],
)
def test_a_leg_that_went_astray_is_told(text: str, first: str) -> None:
    (fault,) = LowerLeg().look(survey_of(text)).faults
    assert (fault.subject, fault.causes[0][0]) == ("U1", first)
