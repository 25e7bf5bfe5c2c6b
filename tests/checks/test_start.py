"""States that a slow rise of the input leads to, of circuits whose states are known by hand."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply, survey_of
from surveys.test_positions import found_of, switched

from railwright.checks.start import StartState, _working_and_risen

REFERENCE, SET, LOAD = 2.495, 2490.0, 1000.0


def current_source(helper: str = "") -> str:
    """2.5 V above the load on a set resistor; nil is a state where the offset is negative."""
    parts = (
        part(
            "U1",
            "operational-amplifier",
            "plus = OUT, minus = BELOW, output = ABOVE, supply = IN, ground = GND",
            'use = "358 type"',
        )
        + part(
            "U2",
            "shunt-reference",
            "cathode = ABOVE, anode = BELOW, reference = ABOVE",
            'use = "431 type 1 %"',
        )
        + resistor("R1", "ABOVE", "OUT", SET)
        + resistor("R2", "BELOW", "GND", 470)
        + resistor("R3", "OUT", "GND", LOAD)
        + helper
    )
    return supply(parts, input=(12.0, 12.0, 12.0), volts=(1.0, 1.0))


def test_both_states_of_a_current_source_are_found() -> None:
    """2.495 V / 2.49 kΩ = 1.002 mA into 1 kΩ, or nothing but what the amplifier's swing leaves."""
    survey = survey_of(current_source())
    working, risen = _working_and_risen(survey)
    assert working.solved.all()
    assert risen.solved.all()
    expected = REFERENCE / SET * LOAD
    assert working.potential("OUT")[0] == pytest.approx(expected, rel=0.01)
    assert min(risen.potential("OUT")) < 0.02 * expected
    (fault,) = StartState().look(survey).faults
    assert fault.proven
    assert fault.causes == [("U1", "state")]


def test_a_help_for_the_start_leaves_one_state() -> None:
    """100 kΩ from 12 V lift 1 kΩ by 0.12 V: far above any offset."""
    survey = survey_of(current_source(resistor("R4", "IN", "OUT", 100e3)))
    answer = StartState().look(survey)
    assert list(answer.looked) == ["main"]
    assert not answer.faults


def test_is_not_asked_where_nothing_can_decide() -> None:
    text = supply(
        part(
            "U1",
            "fixed-regulator",
            "input = IN, output = OUT, ground = GND",
            'use = "7805 type 1 A"',
        )
    )
    assert list(StartState().look(survey_of(text)).looked) == []


def test_what_switches_on_the_way_up_comes_to_where_it_works() -> None:
    """It is looked at in the middle of the settings and where either position may still be on."""
    survey = switched()
    found = found_of(survey)
    working, risen = _working_and_risen(survey)
    assert risen.solved.all()
    volts = survey.rail_voltage(working, "main")
    assert {*volts.round(2)} == {round(v, 2) for v in (7.5, found.rising[1], found.falling[0])}
    assert survey.rail_voltage(risen, "main") == pytest.approx(volts, abs=0.05)
    assert not StartState().look(survey).faults
