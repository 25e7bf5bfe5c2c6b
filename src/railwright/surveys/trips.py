"""Which comparators decide that a supply trips, and the states before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Part
from railwright.devices.device import Role
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import State, held
from railwright.surveys.fixture import IN_LIMIT
from railwright.surveys.survey import Survey

LEVELS = (0.25, 2.0, 6.0, 20.0, 100.0)
"""Loads, as shares of the current by which the limit must act, that tell what it acts on. The
first is light; the heaviest short a rail that has come up with too low a voltage."""

SEEN = 1e-4
"""V; a sense amplifier whose input moves by more than this from load to load sees that load."""


def heavily_loaded(survey: Survey) -> Mapping[str, OperatingPoints]:
    """Per rail with a trip: what happens from a light to a heavy load, a lane for each of LEVELS.

    Two-state parts are held in the working state meanwhile, so that the answer does not depend
    on what a trip does.
    """
    found = {}
    middle = survey.range.middle().take(np.zeros(len(LEVELS), np.intp))
    for rail, output in survey.fixture.rails.items():
        overload = output.overload
        if overload is None or overload.style != "trip" or overload.act_by is None:
            continue
        loads = dict(middle.loads) | {rail: np.array(LEVELS) * overload.act_by}
        points = replace(middle, loads=loads)
        lanes = survey.lanes(points, survey.typical(len(LEVELS))) | survey.aimed(points)
        lanes |= held(tuple(survey.states.working), survey.states.working)
        found[rail] = survey.solve(lanes, len(LEVELS), survey.states.start)
    return found


def deciding_comparators(survey: Survey) -> Mapping[str, Mapping[str, float]]:
    """Per rail with a trip: the comparators that turn over between a light and a heavy load.

    Each with the state, 0 or 1, that it has under the heavy load. What turns over as the source
    breaks down counts only where nothing else does.
    """
    found = {}
    for rail, at in survey.once(heavily_loaded).items():
        fed = ~_source_in_limit(survey, at)
        turned = _turned_over(at, fed) or _turned_over(at, np.ones_like(fed))
        if turned:
            found[rail] = turned
    return found


def _turned_over(at: OperatingPoints, looked: NDArray[np.bool_]) -> dict[str, float]:
    """The comparators that turn over from the first lane to some of those that are looked at."""
    turned = {}
    for ref, name in at.observables:
        if name == "difference":
            light, *heavier = at.of(ref, name)
            crossed = [heavy for heavy in np.array(heavier)[looked[1:]] if light * heavy < 0]
            if crossed:
                turned[ref] = float(crossed[0] > 0)
    return turned


def _source_in_limit(survey: Survey, at: OperatingPoints) -> NDArray[np.bool_]:
    found = np.zeros(at.solved.size, bool)
    for source in survey.fixture.feeds:
        found |= at.of(source, "current") > IN_LIMIT * at.of(source, "current_limit")
    return found


def sensed_rails(survey: Survey, ref: str) -> tuple[str, ...]:
    """The rails with a trip whose load a sense amplifier sees."""
    return tuple(
        rail
        for rail, at in survey.once(heavily_loaded).items()
        if np.nanmax(np.diff(at.of(ref, "sense_voltage")), initial=0.0) > SEEN
    )


LastingState = tuple[OperatingPoints, int]
"""Solutions, and the lane in them."""


def rest_and_trip(survey: Survey) -> Mapping[str, LastingState]:
    """The states of rest and of trip at the middle of the range: `rest` and `trip`, if found.

    `trip` is the state while a deciding comparator reports an overload. `rest` is a stable
    state, without overload, other than the one that a trip leaves behind. Neither is told where
    a stable state may have been overlooked.
    """
    points = survey.range.middle()
    lanes = survey.lanes(points, survey.typical(1))
    quiet = survey.stable(lanes)
    asserted = {
        ref: s for turned in survey.once(deciding_comparators).values() for ref, s in turned.items()
    }
    if not quiet.complete:
        return {}
    if not asserted:
        working = survey.states.working
        alike = [q for q in quiet.found if q[0] == working] or quiet.found
        return {"rest": alike[0][1:]} if alike else {}
    overloaded = survey.stable(lanes | held(tuple(asserted), asserted))
    if not overloaded.complete:
        return {}
    found: dict[str, LastingState] = {}
    tripped = _nearest(overloaded.found, survey.states.working, asserted)
    if tripped is not None:
        found["trip"] = tripped[1:]
    latched = _gates(survey, tripped[0]) if tripped is not None else {}
    rest = [
        q
        for q in quiet.found
        if (not latched or _gates(survey, q[0]) != latched)
        and all(q[0][ref] != s for ref, s in asserted.items())
    ]
    calm = _nearest(rest, survey.states.working, asserted)
    if calm is not None:
        found["rest"] = calm[1:]
    return found


Found = tuple[dict[str, float], OperatingPoints, int]


def _nearest(found: Sequence[Found], like: State, besides: Mapping[str, float]) -> Found | None:
    """The state that shares most with another one, parts `besides` left out."""
    if not found:
        return None
    return max(found, key=lambda f: sum(f[0][r] == s for r, s in like.items() if r not in besides))


def _gates(survey: Survey, state: State) -> dict[str, float]:
    return {ref: state[ref] for ref in latch_gates(survey)}


def latch_gates(survey: Survey) -> tuple[str, ...]:
    """Refs of the digital parts that remember.

    Those that do so by themselves, and gates from whose output nets lead back to their inputs.
    """
    gates = [
        p for p in survey.fixture.circuit.parts if p.device.two_state and _nets(p, "logic-input")
    ]
    drives = {
        gate.ref: {
            other.ref
            for other in gates
            if _nets(other, "logic-input") & _nets(gate, "output")
            or (other is gate and gate.device.remembers)
        }
        for gate in gates
    }

    def downstream(ref: str) -> set[str]:
        seen: set[str] = set()
        pending = list(drives[ref])
        while pending:
            each = pending.pop()
            if each not in seen:
                seen.add(each)
                pending.extend(drives[each])
        return seen

    return tuple(ref for ref in drives if ref in downstream(ref))


def _nets(part: Part, role: Role) -> set[str]:
    """Nets on which pins of a role lie."""
    return {net for pin, net in part.pins.items() if part.device.pins[pin].role == role}
