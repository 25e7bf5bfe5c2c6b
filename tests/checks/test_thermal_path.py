"""Heat sinks and pads that touch nothing."""

from __future__ import annotations

import re
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


def test_a_side_that_is_on_no_net_touches_nothing() -> None:
    loose = re.sub(r'(kind = "heat-sink"[^[]*pins = {) face = "\w+",', r"\1", TEXT)
    assert loose != TEXT
    faults = ThermalPath().look(survey_of(loose)).faults
    assert ("H1", (("H1", "face"),)) in [(fault.subject, fault.causes) for fault in faults]


def test_a_case_in_the_air_is_no_fault() -> None:
    bare = remove_part(remove_part(TEXT, "P1"), "H1")
    assert ThermalPath().look(survey_of(bare)).looked == []
