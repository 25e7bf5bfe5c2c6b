"""An output that stays off at first needs something that brings it on."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from railwright.checks.check import WiringAnswer
from railwright.checks.switch_on import SwitchOn
from railwright.checks.wiring import FloatingInput
from railwright.circuit.design import Design, read
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey

EXAMPLES = Path(__file__).parents[2] / "examples"
LATCHED = read(EXAMPLES / "radio-bench-rail.toml")


def answer(design: Design) -> WiringAnswer:
    return SwitchOn().look(Survey(Fixture.of(design)))


def test_a_button_is_there() -> None:
    found = answer(LATCHED)
    assert found.looked == ["main"]
    assert not found.faults


def test_without_a_button_nobody_gets_an_output() -> None:
    bare = replace(LATCHED, circuit=LATCHED.circuit.without("S1"))
    (fault,) = answer(bare).faults
    assert (fault.subject, fault.causes) == ("main", [("U1", "enable")])


def test_what_comes_on_by_itself_is_not_asked() -> None:
    found = answer(read(EXAMPLES / "panel-five-volts.toml"))
    assert not found.looked
    assert not found.faults


def test_an_open_button_drives_no_gate() -> None:
    """Without its pull-up the input stays at any level until the button is pushed."""
    bare = replace(LATCHED, circuit=LATCHED.circuit.without("R11"))
    (fault,) = FloatingInput().look(Survey(Fixture.of(bare))).faults
    assert (fault.subject, "START" in fault.because) == ("U6B", True)
    assert not FloatingInput().look(Survey(Fixture.of(LATCHED))).faults
