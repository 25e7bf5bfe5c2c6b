"""States of latches and comparators: which exist, which is the working one, which one is left.

A two-state part is first held at a state while the rest of the circuit settles, then let go.
A state that the circuit keeps by itself is a stable one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Lanes, Name, chosen
from railwright.engine.operating_point import Reach
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import combinations, held, two_state_parts

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
CLEAR = 0.2
"""A part within this of 0 or 1 is in that state; between them it is on the edge."""
MELTS = 1687.0
"""K, at which silicon melts (CRC Handbook of Chemistry and Physics): what conducts ever better the
hotter it is has a second state of rest beyond, in the equations alone."""


class Engine(Protocol):
    """What solves lanes of one model."""

    def __call__(
        self,
        lanes: Lanes,
        count: int,
        start: OperatingPoints | None = None,
        reach: Reach = "all",
    ) -> OperatingPoints:
        """Operating points of lanes, from a start, by as many steps as `reach` allows."""
        ...


def in_state(at: OperatingPoints, state: Mapping[str, Array | float]) -> Mask:
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
    engine: Engine,
    lanes: Lanes,
    count: int,
    state: Mapping[str, Array | float],
    start: OperatingPoints | None = None,
) -> OperatingPoints:
    """Solutions that come from a state: kept where the circuit keeps it, left where it must.

    state: of parts, one for all lanes or one of each.

    A lane counts as solved in another state only if it was first held in this one.
    """
    if not state:
        return engine(lanes, count, start)
    first = None
    again = np.arange(count)
    if start is not None:
        first = engine(lanes, count, start, "near")
        again = np.flatnonzero(~in_state(first, state))
        if not again.size:
            return first
    some = chosen(lanes, again)
    begin = start if start is None or start.count == 1 else start.take(again)
    bound = engine(some | chosen(held(tuple(state), state), again), again.size, begin)
    freed = engine(some, again.size, bound)
    freed = replace(freed, solved=freed.solved & bound.solved)
    return freed if first is None else first.replaced(again, freed)


def followed(
    engine: Engine,
    lanes: Lanes,
    count: int,
    before: OperatingPoints,
    alive: Callable[[OperatingPoints], Array],
) -> OperatingPoints:
    """The next states of lanes on their way: the near one while there is one.

    before: solutions a little way back, one of each lane. Where a state has ended, two-state parts
    are held as they were, then with one of them turned over, with two, and so on, and let go; the
    first state that stays is taken, of equally near ones that in which `alive` is least. Only where
    none of them does any state is taken that is found, which may be far away. One in which a part
    has melted is none: such lanes are not solved.
    """
    at = _solid(engine(lanes, count, before, "near"))
    parts = two_state_parts(at.model)
    trials = combinations(parts)
    tried = parts[: len(trials)]
    old = np.array([np.round(level(before, ref)) for ref in tried])
    for turned in range(len(tried) + 1 if tried else 0):
        lost = np.flatnonzero(~at.solved)
        if not lost.size:
            return at
        flips = trials[:, trials.sum(axis=0) == turned]
        which = np.repeat(lost, flips.shape[1])
        wanted = dict(zip(tried, np.abs(old[:, which] - np.tile(flips, lost.size)), strict=True))
        some = chosen(lanes, which)
        bound = engine(some | held(tried, wanted), which.size, before.take(which))
        freed = _solid(engine(some, which.size, bound, "first"))
        stays = bound.solved & in_state(freed, wanted)
        score = np.where(stays, alive(freed), np.inf).reshape(lost.size, -1)
        rests = np.isfinite(score.min(axis=1))
        best = np.arange(lost.size) * flips.shape[1] + np.argmin(score, axis=1)
        at = at.replaced(lost[rests], freed.take(best[rests]))
    lost = np.flatnonzero(~at.solved)
    if not lost.size:
        return at
    return at.replaced(lost, _solid(engine(chosen(lanes, lost), lost.size, before.take(lost))))


def _solid(at: OperatingPoints) -> OperatingPoints:
    """The same, lanes in which a part has melted not solved: the circuit is another by then."""
    warm = [row for row, unknown in enumerate(at.model.topology.unknowns) if unknown.unit == "K"]
    hottest = at.last[:, warm].max(axis=1, initial=0.0)
    return replace(at, solved=at.solved & ~(hottest > MELTS))


@dataclass(frozen=True)
class Stable:
    """The stable states at one operating point."""

    found: Sequence[tuple[dict[str, float], OperatingPoints, int]]
    """Each with solutions, and the lane in them."""
    complete: bool
    """Whether every combination of two-state parts was tried and could be solved while held."""


def stable_states(engine: Engine, parts: Sequence[str], lanes: Lanes) -> Stable:
    """Every stable state of two-state parts at one operating point.

    lanes: one value of each input. Tries each combination and keeps what stays when let go.
    """
    trials = combinations(parts)
    tried, count = parts[: len(trials)], trials.shape[1]
    same: dict[Name, Array | float] = {k: float(np.ravel(v)[0]) for k, v in lanes.items()}
    bound = engine(same | held(tried, dict(zip(tried, trials, strict=True))), count)
    freed = engine(same, count, bound, "first")
    found: list[tuple[dict[str, float], OperatingPoints, int]] = []
    for lane in np.flatnonzero(freed.solved):
        state = state_of(freed, int(lane))
        clear = all(abs(level(freed, r)[lane] - s) < CLEAR for r, s in state.items())
        if clear and all(state != known for known, _, _ in found):
            found.append((state, freed, int(lane)))
    return Stable(found, bool(bound.solved.all()) and len(tried) == len(parts))


@dataclass(frozen=True)
class States:
    """The stable states of a supply at the middle of its range, controls half way."""

    working: dict[str, float]
    """The state in which the rails come nearest to what their controls can ask for."""
    start: OperatingPoints | None
    """The working state, one lane; None where no state was found."""
    solutions: tuple[OperatingPoints, ...]
    """One lane for each stable state."""
    complete: bool
    """Whether no stable state can have been overlooked."""

    @classmethod
    def of(
        cls, stable: Stable, parts: Sequence[str], alive: Callable[[OperatingPoints], Array]
    ) -> States:
        """Tell the working state among the stable ones of two-state parts.

        alive: how far the rails are alive over lanes; the working state is the one where this
        is greatest, if only as the best of bad ones.
        """
        if not stable.found:
            return cls(dict.fromkeys(parts, 0.0), None, (), stable.complete)
        scores = [np.nan_to_num(alive(at)[lane], nan=-1.0) for _, at, lane in stable.found]
        state, at, lane = stable.found[int(np.argmax(scores))]
        lasting = tuple(each.take(np.array([place])) for _, each, place in stable.found)
        return cls(state, at.take(np.array([lane])), lasting, stable.complete)
