"""Heat sinks and pads that touch nothing."""

from __future__ import annotations

from pathlib import Path

import pytest
from surveys.supplies import survey_of

from railwright.checks.thermal_path import ThermalPath
from railwright.circuit.writer import remove_part

TEXT = (Path(__file__).parents[2] / "examples" / "model-shop-knob.toml").read_text("utf-8")


@pytest.mark.parametrize(("gone", "faults"), [(None, []), ("H1", ["P1"]), ("P1", ["H1"])])
def test_both_sides_must_touch(gone: str | None, faults: list[str]) -> None:
    answer = ThermalPath().look(survey_of(remove_part(TEXT, gone) if gone else TEXT))
    assert [fault.subject for fault in answer.faults] == faults
    assert set(answer.looked) == {"P1", "H1"} - {gone}


def test_a_case_in_the_air_is_no_fault() -> None:
    bare = remove_part(remove_part(TEXT, "P1"), "H1")
    assert ThermalPath().look(survey_of(bare)).looked == []
