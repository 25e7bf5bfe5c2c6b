"""What switches with the setting of a rail, such as the taps of a winding: in which positions the
supply works at which settings.

Between the settings at which it switches one way and back, either position may be on; parts within
their spread move both. So each position is held, and looked at, up to the farthest setting at
which it can still be on, and is let go where what happens in time is looked at. Of several rails
that are set each may switch parts of its own: all combinations of their positions are looked at.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Name
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import State, held, two_state_parts
from railwright.surveys.operating_range import Points
from railwright.surveys.states import settle, state_of
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
AT_SETTING = 0.05
"""Of its setting, within which a rail has it."""
SEARCHED = 17
"""Settings at which it is looked for where a position ends."""
APART = 0.01
"""Of a setting, from one to the next in search of where a comparator turns over."""


@dataclass(frozen=True)
class Positions:
    """Two positions of parts, below and above some setting of a rail."""

    rail: str
    states: tuple[State, State]
    """Of all two-state parts, in the lower position and in the upper one."""
    moving: tuple[str, ...]
    """Those that differ."""
    rising: tuple[float, float] = (np.nan, np.nan)
    """Least and greatest setting at which the lower position ends, over the spread [V]."""
    falling: tuple[float, float] = (np.nan, np.nan)
    """The same of the upper position, on the way down."""
    width: float = np.nan
    """Least distance of both in one supply [V]."""
    deciding: str = ""
    """The comparator that turns over."""
    why: str = ""
    """Why it could not be told where they end; empty where it could."""


def positions(survey: Survey) -> tuple[Positions, ...]:
    """The positions of a supply, by the rails that are set by a control; none where nothing
    switches.

    Ask for it by `survey.once`.
    """
    if not two_state_parts(survey.model):
        return ()
    rails = sorted(set(survey.controls_of_role("set").values()))
    moved = [found for rail in rails if (found := _moved(survey, rail)) is not None]
    switched = [ref for found in moved for ref in found.positions.moving]
    shared = {ref for ref in switched if switched.count(ref) > 1}
    if shared:
        names = " and ".join(found.positions.rail for found in moved)
        told = f"{', '.join(sorted(shared))} switch with {names}; where each has parts of its own, "
        return tuple(replace(f.positions, why=f"{told}it can be told where.") for f in moved)
    if len(rails) > 1 and (loose := _with_several(survey, rails) - set(switched)):
        told = f"{', '.join(sorted(loose))} switch with several settings at once, not with one."
        states = survey.states.working
        return (Positions(" and ".join(rails), (states, states), tuple(sorted(loose)), why=told),)
    crossings = [_Crossings.of(survey, found) for found in moved]
    return tuple(
        _with_ends(survey, own, tuple(other for other in crossings if other is not own))
        for own in crossings
    )


@dataclass(frozen=True)
class _Moved:
    """Positions, and where they were solved: at the lowest setting and at the highest one."""

    positions: Positions
    starts: tuple[OperatingPoints, OperatingPoints]


def _moved(survey: Survey, rail: str) -> _Moved | None:
    """The positions of one rail that is set, the others in the middle of theirs."""
    low, high = survey.range.settings[rail][[0, -1]]
    both = _ends(survey, _at(survey, rail, np.array([low, high])), [rail])
    if both is None:
        return None
    (below, start), (above, begin) = both
    moving = tuple(ref for ref in below if below[ref] != above[ref])
    found = Positions(rail, (below, above), moving)
    comparing = [ref for ref in moving if (ref, "difference") in start.observables]
    if len(comparing) != 1:
        told = f"{len(comparing)} comparators turn over from the lowest setting to the highest"
        found = replace(found, why=f"{told}; where one does, it can be told where.")
    else:
        found = replace(found, deciding=comparing[0])
    return _Moved(found, (start, begin))


def _with_several(survey: Survey, rails: Sequence[str]) -> set[str]:
    """Parts that rest in another state with all rails at their highest than at their lowest."""
    points = survey.range.middle().take(np.zeros(2, np.intp))
    ends = {rail: survey.range.settings[rail][[0, -1]] for rail in rails}
    both = _ends(survey, replace(points, settings={**points.settings, **ends}), rails)
    if both is None:
        return set()
    (below, _), (above, _) = both
    return {ref for ref in below if below[ref] != above[ref]}


Found = tuple[dict[str, float], OperatingPoints]


def _ends(survey: Survey, points: Points, rails: Sequence[str]) -> tuple[Found, Found] | None:
    """The states at the lowest and at the highest setting of rails, with solutions.

    points: both. None where one state does for both, or none was found.
    """
    lanes = survey.lanes(points, survey.typical(2)) | survey.aimed(points)
    at = settle(survey.engine, lanes, 2, survey.states.working, survey.states.start)
    if _have_settings(survey, at, rails, points).all() and state_of(at, 0) == state_of(at, 1):
        return None
    ends = []
    for lane in range(2):
        own = points.take(np.array([lane]))
        stable = survey.stable(survey.lanes(own, survey.typical(1)) | survey.aimed(own))
        ends.append(
            [
                (state, found.take(np.array([place])))
                for state, found, place in stable.found
                if _have_settings(survey, found.take(np.array([place])), rails, own).all()
            ]
        )
    if not all(ends) or any(state == other for state, _ in ends[0] for other, _ in ends[1]):
        return None
    return ends[0][0], ends[1][0]


def _have_settings(
    survey: Survey, at: OperatingPoints, rails: Sequence[str], points: Points
) -> NDArray[np.bool_]:
    found: NDArray[np.bool_] = at.solved.copy()
    for rail in rails:
        wanted = points.settings[rail]
        off = np.abs(survey.rail_voltage(at, rail) - wanted)
        found &= off <= AT_SETTING * np.abs(wanted)
    return found


def _at(survey: Survey, rail: str, settings: Array) -> Points:
    points = survey.range.middle().take(np.zeros(settings.size, np.intp))
    return replace(points, settings={**points.settings, rail: settings})


def _with_ends(survey: Survey, own: _Crossings, others: tuple[_Crossings, ...]) -> Positions:
    """The same with the settings at which positions end, at the extreme vertex of first order."""
    found, spread = own.positions, survey.spread
    if found.why:
        return found
    rail = found.rail
    lowest, highest = survey.range.settings[rail][[0, -1]]
    ends = survey.coarsest.extremes()
    corners = ends.take(np.flatnonzero(ends.settings[rail] == lowest))
    crossings = [replace(each, others=others) for each in own.ways]
    vertices = [np.repeat(spread.typical[:, None], 1, axis=1)]
    for each in crossings:
        if not np.isfinite(each.typical):
            told = f"no setting was found at which {found.deciding} turns over"
            return replace(found, why=f"{told} with its output held.")
        limits = np.stack([spread.low, spread.high], axis=1)
        actual = np.repeat(spread.typical[:, None], limits.size, axis=1)
        which = np.arange(limits.size)
        actual[which // 2, which] = limits.ravel()
        moved = each.at(_at(survey, rail, np.full(limits.size, each.typical)), actual)
        moved = moved.reshape(limits.shape)
        if not np.isfinite(moved).all():
            return replace(found, why=_UNSOLVED.format(found.deciding))
        for way in (-1.0, 1.0):
            sides = np.argmax(way * moved, axis=1)
            still = np.ptp(np.append(moved, np.full((len(moved), 1), each.typical), 1), axis=1) == 0
            vertex = np.where(still, spread.typical, limits[np.arange(len(limits)), sides])
            vertices.append(vertex[:, None])
    samples = np.concatenate(vertices, axis=1)
    count = samples.shape[1]
    points = corners.take(np.repeat(np.arange(corners.count), count))
    actual = np.tile(samples, corners.count)
    rising, falling = (each.at(points, actual) for each in crossings)
    if not (np.isfinite(rising).all() and np.isfinite(falling).all()):
        return replace(found, why=_UNSOLVED.format(found.deciding))
    return replace(
        found,
        rising=(float(rising.min()), float(min(rising.max(), highest))),
        falling=(float(max(falling.min(), lowest)), float(falling.max())),
        width=float((rising - falling).min()),
    )


_UNSOLVED = "not every setting at which {} turns over within its spread could be solved."


@dataclass(frozen=True)
class _Crossings:
    """Where both positions of a rail end."""

    positions: Positions
    ways: tuple[_Crossing, ...]
    """On the way up and on the way down; none where a comparator alone does not decide."""

    @classmethod
    def of(cls, survey: Survey, moved: _Moved) -> _Crossings:
        """By typical parts, in the middle of the range."""
        found = moved.positions
        if found.why:
            return cls(found, ())
        ways = (_Crossing(survey, found, side, moved.starts[side]) for side in (0, 1))
        return cls(found, tuple(replace(way, typical=way.sought()) for way in ways))

    def sides(self, settings: Array) -> Array:
        """0 or 1: the position that is on at settings, the upper one from the middle of both
        crossings on."""
        found: Array = (settings > np.mean([way.typical for way in self.ways])).astype(float)
        return found

    @property
    def known(self) -> bool:
        """Whether both were found."""
        return bool(self.ways) and all(np.isfinite(way.typical) for way in self.ways)


@dataclass(frozen=True)
class _Crossing:
    """Where the deciding comparator turns over while everything is held in a position."""

    survey: Survey
    found: Positions
    side: int
    start: OperatingPoints
    others: tuple[_Crossings, ...] = ()
    """What other rails switch, which is held as their settings have it."""
    typical: float = np.nan
    """With typical parts, in the middle of the range; not-a-number where unknown [V]."""

    def sought(self) -> float:
        """That setting [V]."""
        axis = self.survey.range.settings[self.found.rail]
        settings = np.linspace(axis[0], axis[-1], SEARCHED)
        points = _at(self.survey, self.found.rail, settings)
        seen = self._difference(points, self.survey.typical(SEARCHED))
        turns = np.flatnonzero(seen[1:] * seen[:-1] <= 0.0)
        if not turns.size:
            return np.nan
        first = int(turns[0])
        share = seen[first] / (seen[first] - seen[first + 1])
        about = settings[first] + share * (settings[1] - settings[0])
        near = _at(self.survey, self.found.rail, np.array([about]))
        return float(replace(self, typical=about).at(near, self.survey.typical(1))[0])

    def at(self, points: Points, actual: Array) -> Array:
        """The settings at which it turns over, at points and quantities; not-a-number if unknown.

        By secants, which a divider makes straight.
        """
        rail = self.found.rail
        last = np.full(points.count, self.typical * (1.0 - APART))
        here = np.full(points.count, self.typical)
        before = self._difference(_set(points, rail, last), actual)
        for _ in range(3):
            now = self._difference(_set(points, rail, here), actual)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = np.where(now == before, 0.0, now * (here - last) / (now - before))
            last, before, here = here, now, here - step
        return here

    def _difference(self, points: Points, actual: Array) -> Array:
        survey, found = self.survey, self.found
        lanes = survey.lanes(points, actual) | survey.aimed(points)
        lanes |= held(found.moving, found.states[self.side])
        for other in filter(lambda each: each.known, self.others):
            sides = other.sides(points.settings[other.positions.rail])
            lanes |= held(other.positions.moving, _by_point(other.positions, sides))
        start = self.start.take(np.zeros(points.count, np.intp))
        at = survey.engine(lanes, points.count, start)
        seen: Array = np.where(at.solved, at.of(found.deciding, "difference"), np.nan)
        return seen


def _set(points: Points, rail: str, settings: Array) -> Points:
    return replace(points, settings={**points.settings, rail: settings})


def placed(survey: Survey, points: Points) -> Points:
    """Points of the range, each in the positions that are on there, and those where they end."""
    each = survey.once(positions)
    if any(found.why for found in each):
        return points
    for number, found in enumerate(each):
        points = _placed(found, points, 2.0**number)
    return points


def _placed(found: Positions, points: Points, bit: float) -> Points:
    """The same for one rail; bit: what its upper position adds to the number of all."""
    settings = points.settings[found.rail]
    upto, down_to = found.rising[1], found.falling[0]
    below, above = np.flatnonzero(settings <= upto), np.flatnonzero(settings >= down_to)
    lowest = np.flatnonzero(settings == settings.min())
    ends = np.concatenate(
        [
            settings[below],
            settings[above],
            np.full(lowest.size, upto),
            np.full(lowest.size, down_to),
        ]
    )
    sides = np.repeat([0.0, 1.0, 0.0, 1.0], [below.size, above.size, lowest.size, lowest.size])
    each = points.take(np.concatenate([below, above, lowest, lowest]))
    before = 0.0 if each.position is None else each.position
    return replace(_set(each, found.rail, ends), position=before + bit * sides)


def _sides(points: Points, number: int) -> Array | None:
    """0 or 1 at every point, of the rail with a number; None where no position is asked for."""
    return None if points.position is None else np.floor(points.position / 2.0**number) % 2.0


def holding(survey: Survey, points: Points) -> dict[Name, Array | float]:
    """Inputs that hold every point in its positions, where it has some."""
    lanes: dict[Name, Array | float] = {}
    if points.position is not None:
        for number, found in enumerate(survey.once(positions)):
            side = _sides(points, number)
            assert side is not None
            lanes |= held(found.moving, _by_point(found, side))
    return lanes


def beginning(survey: Survey, points: Points) -> Mapping[str, Array | float]:
    """The working state at every point: of all two-state parts, 0 or 1."""
    state: dict[str, Array | float] = dict(survey.states.working)
    for number, found in enumerate(survey.once(positions)):
        side = _sides(points, number)
        if side is None:
            middle = np.nanmean([found.rising, found.falling]) if not found.why else np.nan
            if np.isnan(middle):
                middle = 0.5 * survey.range.settings[found.rail][[0, -1]].sum()
            side = (points.settings[found.rail] > middle).astype(float)
        state |= _by_point(found, side)
    return state


def _by_point(found: Positions, side: Array) -> dict[str, Array]:
    below, above = found.states
    return {ref: np.where(side > 0.5, above[ref], below[ref]) for ref in found.moving}
