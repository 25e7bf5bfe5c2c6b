"""A fuse between the mains and the supply."""

from __future__ import annotations

from pathlib import Path

import pytest
from checks.test_on_mains import regulated
from surveys.supplies import survey_of

from railwright.checks.mains_fuse import MainsFuse

TEXT = (Path(__file__).parents[2] / "examples" / "workshop-twelve-volts.toml").read_text("utf-8")
TRANSFORMER = 'primary_start = "L1"'
FUSE = 'pins = { one = "L", two = "L1" }'


@pytest.mark.parametrize(
    ("changes", "faults"),
    [
        ((), []),
        (((TRANSFORMER, 'primary_start = "L"'),), ["T1"]),
        # A bridge over the fuse, a fuse behind the transformer, a filter's coil ahead of the fuse.
        (
            ((FUSE, 'pins = { one = "L1", two = "L1" }'), (TRANSFORMER, 'primary_start = "L"')),
            ["T1"],
        ),
        (
            ((FUSE, 'pins = { one = "A", two = "L1" }'), (TRANSFORMER, 'primary_start = "L"')),
            ["T1"],
        ),
    ],
)
def test_every_way_from_the_mains_leads_through_a_fuse(
    changes: tuple[tuple[str, str], ...], faults: list[str]
) -> None:
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    answer = MainsFuse().look(survey_of(text))
    assert [fault.subject for fault in answer.faults] == faults
    assert answer.looked


def test_a_coil_may_stand_ahead_of_the_fuse_and_a_lamp_may_not() -> None:
    coil = '[[part]]\nref = "X1"\nkind = "wire"\nuse = "wire AWG 18"\nresistance = "10 mΩ"\n'
    ahead = TEXT.replace(FUSE, 'pins = { one = "LX", two = "L1" }')
    ahead += coil + 'pins = { one = "L", two = "LX" }\n'
    assert not MainsFuse().look(survey_of(ahead)).faults
    across = TEXT + coil + 'pins = { one = "L", two = "N" }\n'
    assert [f.subject for f in MainsFuse().look(survey_of(across)).faults] == ["X1"]


def test_low_voltage_needs_none() -> None:
    answer = MainsFuse().look(survey_of(regulated(17.0, 1.0, 4700)))
    assert not answer.faults
    assert not answer.looked
