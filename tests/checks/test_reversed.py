"""Polar parts the wrong way round, and the rectifier that feeds them so."""

from __future__ import annotations

from pathlib import Path

from surveys.supplies import survey_of

from railwright.checks.polarity import Reversed

TEXT = (Path(__file__).parents[2] / "examples" / "workshop-twelve-volts.toml").read_text("utf-8")
BRIDGE = 'plus = "RAW", minus = "GND" }\nblock = "input"\n\n[[part]]\nref = "C1"'
RESERVOIR = 'pins = { plus = "RAW", minus = "GND" }\nblock = "input"\nwhy = "about 1 V'


def turned(text: str, around: str) -> str:
    """The text with plus and minus exchanged in one place."""
    assert text.count(around) == 1
    other = around.replace('plus = "RAW", minus = "GND"', 'plus = "GND", minus = "RAW"')
    return text.replace(around, other)


def first_causes(text: str) -> dict[str, str]:
    answer = Reversed().look(survey_of(text))
    assert {"C1", "C2"} <= set(answer.looked)
    return {fault.subject: fault.causes[0][0] for fault in answer.faults}


def test_all_the_right_way_round() -> None:
    assert first_causes(TEXT) == {}


def test_a_reservoir_that_is_turned_is_told() -> None:
    answer = Reversed().look(survey_of(turned(TEXT, RESERVOIR)))
    assert [fault.subject for fault in answer.faults] == ["C1"]


def test_a_rectifier_that_feeds_it_so_is_the_first_cause() -> None:
    found = first_causes(turned(TEXT, BRIDGE))
    assert found["C1"] == "D1"
