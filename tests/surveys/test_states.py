"""States of gates that remember: which exist, which is the working one, which one is forced."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from surveys.supplies import gate, part, resistor, supply, survey_of

from railwright.checks.latch import ramp
from railwright.engine.two_state import MOST_PARTS, held
from railwright.surveys import survey as survey_module
from railwright.surveys.states import followed, in_state, level, settle, state_of
from railwright.surveys.survey import Survey
from railwright.surveys.trips import latch_gates, rest_and_trip

PULL_UPS = resistor("R1", "IN", "SET", 1e4) + resistor("R2", "IN", "RESET", 1e4)
CROSSED = gate("U1", "SET", "OUT", "OTHER") + gate("U2", "RESET", "OTHER", "OUT")
LATCH = CROSSED + PULL_UPS
CHAIN = gate("U1", "IN", "IN", "MIDDLE") + gate("U2", "MIDDLE", "MIDDLE", "OUT")
HELD_LOW = CROSSED + resistor("R1", "GND", "SET", 1e4) + resistor("R2", "IN", "RESET", 1e4)


def of(parts: str) -> Survey:
    return survey_of(supply(parts))


def stable(survey: Survey) -> list[dict[str, float]]:
    found = survey.stable(survey.lanes(survey.range.middle(), survey.typical(1)))
    assert found.complete
    return [state for state, _, _ in found.found]


def test_cross_coupled_gates_have_two_stable_states() -> None:
    found = stable(of(LATCH))
    assert sorted(found, key=str) == [{"U1": 0.0, "U2": 1.0}, {"U1": 1.0, "U2": 0.0}]


def test_two_inverters_in_a_row_have_one() -> None:
    assert stable(of(CHAIN)) == [{"U1": 0.0, "U2": 1.0}]


def test_two_inverters_in_a_ring_have_two() -> None:
    ring = gate("U1", "OUT", "OUT", "OTHER") + gate("U2", "OTHER", "OTHER", "OUT")
    assert len(stable(of(ring))) == 2


def test_an_inverter_that_feeds_itself_has_none() -> None:
    # It rests on its own threshold, in neither state; without memory that is its only solution.
    alone = gate("U1", "OUT", "OUT", "OUT") + resistor("R1", "OUT", "GND", 1e6)
    assert stable(of(alone)) == []


def test_a_low_set_input_leaves_only_one_state() -> None:
    assert stable(of(HELD_LOW)) == [{"U1": 1.0, "U2": 0.0}]


def test_a_comparator_with_positive_feedback_remembers() -> None:
    pins = "plus = MIDDLE, minus = HALF, output = OUT, supply = IN, ground = GND"
    parts = (
        part("U1", "comparator", pins, 'use = "391 type"')
        + resistor("R1", "IN", "HALF", 1e4)
        + resistor("R2", "HALF", "GND", 1e4)
        + resistor("R3", "HALF", "MIDDLE", 1e4)
        + resistor("R4", "MIDDLE", "OUT", 1e4)
        + resistor("R5", "IN", "OUT", 1e3)
    )
    assert sorted(s["U1"] for s in stable(of(parts))) == [0.0, 1.0]
    assert len(stable(of(parts.replace('"MIDDLE"', '"IN"', 1)))) == 1


def test_the_working_state_is_the_one_that_brings_the_rail_up() -> None:
    states = of(LATCH).states
    assert len(states.solutions) == 2
    assert states.complete
    assert states.working == {"U1": 0.0, "U2": 1.0}
    assert states.start is not None
    assert states.start.potential("OUT")[0] == pytest.approx(10.0, abs=0.1)


def test_states_are_not_complete_where_a_held_one_was_not_solved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    true = survey_module.operating_point

    def solve(model: Any, lanes: Any, *more: Any, **named: Any) -> Any:
        at = true(model, lanes, *more, **named)
        if ("U1", "forced") in lanes:
            at.solved[-1] = False
        return at

    assert of(LATCH).states.complete
    monkeypatch.setattr(survey_module, "operating_point", solve)
    assert not of(LATCH).states.complete
    assert rest_and_trip(of(LATCH)) == {}


def test_states_are_not_complete_where_there_are_too_many_to_try() -> None:
    idle = "".join(gate(f"U{n}", "IN", "IN", f"N{n}") for n in range(3, 2 + MOST_PARTS))
    assert not of(LATCH + idle).states.complete


def test_a_latch_is_two_gates_and_a_chain_is_none() -> None:
    assert set(latch_gates(of(LATCH))) == {"U1", "U2"}
    assert latch_gates(of(CHAIN)) == ()


def test_a_state_is_kept_where_the_circuit_keeps_it_and_left_where_it_must_be() -> None:
    tripped = {"U1": 1.0, "U2": 0.0}
    for parts, kept in ((LATCH, True), (HELD_LOW, True)):
        survey = of(parts)
        lanes = survey.lanes(survey.range.middle(), survey.typical(1))
        at = settle(survey.engine, lanes, 1, tripped)
        assert in_state(at, tripped)[0] == kept
    survey = of(HELD_LOW)
    lanes = survey.lanes(survey.range.middle(), survey.typical(1))
    at = settle(survey.engine, lanes, 1, {"U1": 0.0, "U2": 1.0})
    assert at.solved[0]
    assert state_of(at, 0) == tripped


def test_held_parts_stay_where_they_are_held() -> None:
    survey = of(HELD_LOW)
    against = {"U1": 0.0, "U2": 1.0}
    lanes = survey.lanes(survey.range.middle(), survey.typical(1)) | held(tuple(against), against)
    at = survey.solve(lanes, 1)
    assert (level(at, "U1")[0], level(at, "U2")[0]) == (0.0, 1.0)


def test_a_rising_input_forces_the_state_that_the_network_asks_for() -> None:
    found = ramp(of(HELD_LOW))
    assert found.solved
    assert found.alive[:, -1].all()
    place = [found.gates.index(ref) for ref in ("U1", "U2")]
    for alive, row in zip(found.alive, found.states, strict=True):
        for here in np.array(row, object)[alive]:
            ((state),) = here
            assert [state[i] for i in place] == [1.0, 0.0]


def test_a_rising_input_leaves_both_states_where_nothing_forces_one() -> None:
    found = ramp(of(LATCH))
    assert found.solved
    assert {len(here) for row in found.states for here in row[-5:]} == {2}


def test_a_state_is_left_for_the_nearest_one_where_it_ends() -> None:
    """A latch whose set input is pulled down turns over both gates; the third one stays."""
    survey = of(LATCH + gate("U3", "IN", "IN", "ASIDE") + resistor("R3", "SET", "GND", 1e9))
    before = {"U1": 0.0, "U2": 1.0, "U3": 0.0}
    lanes = survey.lanes(survey.range.middle(), survey.typical(1))
    at = settle(survey.engine, lanes, 1, before)
    assert state_of(followed(survey.engine, lanes, 1, at, survey.alive), 0) == before
    lanes["R3", "resistance"] = 1.0
    found = followed(survey.engine, lanes, 1, at, survey.alive)
    assert found.solved.all()
    assert state_of(found, 0) == {"U1": 1.0, "U2": 0.0, "U3": 0.0}
