"""Two secondaries side by side: with each other, or against each other."""

from __future__ import annotations

from pathlib import Path

from surveys.supplies import survey_of

from railwright.checks.windings import Windings

TEXT = (Path(__file__).parents[2] / "examples" / "workshop-twelve-volts.toml").read_text("utf-8")
SECOND = 'second_start = "A", second_end = "B"'


def test_side_by_side() -> None:
    answer = Windings().look(survey_of(TEXT))
    assert answer.looked == ["T1"]
    assert not answer.faults


def test_against_each_other() -> None:
    assert SECOND in TEXT
    turned = TEXT.replace(SECOND, 'second_start = "B", second_end = "A"')
    assert [f.subject for f in Windings().look(survey_of(turned)).faults] == ["T1"]


def test_in_series_they_may_be_joined_either_way() -> None:
    series = TEXT.replace(SECOND, 'second_start = "B", second_end = "C"')
    assert not Windings().look(survey_of(series)).faults
