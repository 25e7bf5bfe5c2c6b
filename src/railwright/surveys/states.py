"""States of latches and comparators: which exist, which is the working one, which one is left.

A two-state part is first held at a state while the rest of the circuit settles, then let go.
A state that the circuit keeps by itself is a stable one.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Lanes, Model, Name, chosen
from railwright.engine.operating_point import OperatingPoints, operating_point

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
State = Mapping[str, float]
"""Ref of a two-state part -> 0 (inactive) or 1 (active)."""
CLEAR = 0.2
"""A part within this of 0 or 1 is in that state; between them it is on the edge."""
MOST_PARTS = 10


def two_state_parts(model: Model) -> tuple[str, ...]:
    """Refs of the parts that can rest in either of two states."""
    return tuple(e.ref for e in model.topology.elements if e.device.two_state)


def held(parts: Sequence[str], state: State) -> dict[Name, Array | float]:
    """Inputs that hold parts at a state."""
    lanes: dict[Name, Array | float] = {(ref, "free"): 0.0 for ref in parts}
    return lanes | {(ref, "forced"): firmly(state[ref]) for ref in parts}


def firmly(state: Array | float) -> Array | float:
    """Where a part is held for a state: well beyond the bend, so that it is let go smoothly."""
    return 3.0 * state - 1.0


def in_state(at: OperatingPoints, state: State) -> Mask:
    """Lanes in which every part named is clearly in its state."""
    inside = at.solved.copy()
    for ref, wanted in state.items():
        inside &= np.abs(level(at, ref) - wanted) < CLEAR
    return inside


def state_of(at: OperatingPoints, lane: int) -> dict[str, float]:
    """The state of every two-state part in one lane, rounded."""
    parts = two_state_parts(at.model)
    return {ref: float(np.round(level(at, ref)[lane])) for ref in parts}


def level(at: OperatingPoints, ref: str) -> Array:
    """How far a two-state part is active over lanes, 0 to 1."""
    return np.clip(at.unknown(ref, "state"), 0.0, 1.0)


def settle(
    model: Model,
    lanes: Lanes,
    count: int,
    state: State,
    start: OperatingPoints | None = None,
    announce: Callable[[str], None] | None = None,
) -> OperatingPoints:
    """Solutions that come from a state: kept where the circuit keeps it, left where it must.

    A lane counts as solved in another state only if it was first held in this one.
    """
    if not state:
        return operating_point(model, lanes, count, start, announce)
    first = None
    again = np.arange(count)
    if start is not None:
        first = operating_point(model, lanes, count, start, announce, "near")
        again = np.flatnonzero(~in_state(first, state))
        if not again.size:
            return first
    some = chosen(lanes, again)
    begin = start if start is None or start.count == 1 else start.take(again)
    bound = operating_point(model, some | held(tuple(state), state), again.size, begin, announce)
    freed = operating_point(model, some, again.size, bound, announce)
    freed = replace(freed, solved=freed.solved & bound.solved)
    return freed if first is None else first.replaced(again, freed)


def stable_states(
    model: Model, lanes: Lanes, announce: Callable[[str], None] | None = None
) -> list[tuple[dict[str, float], OperatingPoints, int]]:
    """Every stable state at one operating point: (state, solutions, lane in them).

    lanes: scalars. Tries each combination of two-state parts and keeps what stays when let go.
    """
    parts = two_state_parts(model)[:MOST_PARTS]
    trials = np.array(list(itertools.product((0.0, 1.0), repeat=len(parts)))).T
    count = trials.shape[1] if parts else 1
    forced: dict[Name, Array | float] = {}
    for ref, row in zip(parts, trials, strict=True):
        forced |= {(ref, "free"): 0.0, (ref, "forced"): firmly(row)}
    bound = operating_point(model, {**lanes, **forced}, count, None, announce)
    freed = operating_point(model, lanes, count, bound, announce, "first")
    found: list[tuple[dict[str, float], OperatingPoints, int]] = []
    for lane in np.flatnonzero(freed.solved):
        state = state_of(freed, int(lane))
        clear = all(abs(level(freed, r)[lane] - s) < CLEAR for r, s in state.items())
        if clear and all(state != known for known, _, _ in found):
            found.append((state, freed, int(lane)))
    return found


@dataclass(frozen=True)
class States:
    """The stable states of a supply at the middle of its range, controls half way."""

    stable: tuple[dict[str, float], ...]
    working: dict[str, float]
    """The state in which the rails come nearest to what their controls can ask for."""
    start: OperatingPoints | None
    """The working state, one lane; None where no state was found."""
    solutions: tuple[OperatingPoints, ...] = ()
    """One lane for each stable state."""

    @classmethod
    def of(
        cls,
        model: Model,
        lanes: Lanes,
        alive: Callable[[OperatingPoints], Array],
        announce: Callable[[str], None] | None = None,
    ) -> States:
        """The states at one operating point.

        lanes: of that point. alive: how far the rails are alive over lanes; the working state
        is the one where this is greatest, if only as the best of bad ones.
        """
        found = stable_states(model, _scalars(lanes), announce)
        if not found:
            return cls((), dict.fromkeys(two_state_parts(model), 0.0), None)
        scores = [np.nan_to_num(alive(at)[lane], nan=-1.0) for _, at, lane in found]
        state, at, lane = found[int(np.argmax(scores))]
        lasting = tuple(each.take(np.array([place])) for _, each, place in found)
        return cls(tuple(s for s, _, _ in found), state, at.take(np.array([lane])), lasting)


def _scalars(lanes: Lanes) -> dict[Name, Array | float]:
    return {k: float(np.ravel(v)[0]) for k, v in lanes.items()}
