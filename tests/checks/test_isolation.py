"""Outputs that are joined to the mains, and the transformer that keeps them apart."""

from __future__ import annotations

from pathlib import Path

import pytest
from surveys.supplies import part, survey_of

from railwright.checks.isolation import Isolation

EXAMPLES = Path(__file__).parents[2] / "examples"
TEXT = (EXAMPLES / "workshop-twelve-volts.toml").read_text("utf-8")
WIRE = 'use = "wire AWG 18"\nresistance = "10 mΩ"'


def causes(text: str) -> list[list[str]]:
    answer = Isolation().look(survey_of(text))
    assert answer.looked
    return [[ref for ref, _ in fault.causes] for fault in answer.faults]


def test_windings_of_their_own_keep_the_output_apart() -> None:
    assert causes(TEXT) == []


@pytest.mark.parametrize(
    ("text", "first"),
    [
        (TEXT.replace('secondary_start = "A"', 'secondary_start = "N"'), "T1"),
        (
            TEXT.replace('primary_start = "L1"', 'primary_start = "A"').replace(
                'secondary_start = "A"', 'secondary_start = "L1"'
            ),
            "T1",
        ),
        (TEXT + part("X1", "wire", "one = N, two = GND", WIRE), "X1"),
        (TEXT + part("C9", "capacitor", "plus = L, minus = OUT", 'use = "film 22 nF 100 V"'), "C9"),
    ],
)
def test_whatever_joins_it_to_the_mains_is_named(text: str, first: str) -> None:
    (named,) = causes(text)
    assert named[0] == first


def test_extra_low_voltage_may_be_joined() -> None:
    text = (EXAMPLES / "panel-five-volts.toml").read_text("utf-8")
    assert Isolation().look(survey_of(text)).looked == []
