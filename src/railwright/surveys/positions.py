"""What switches with the setting of a rail, such as the taps of a winding: in which positions the
supply works at which settings.

Between the settings at which it switches one way and back, either position may be on; parts within
their spread move both. So each position is held, and looked at, up to the farthest setting at
which it can still be on, and is let go where what happens in time is looked at.
"""

from __future__ import annotations

from collections.abc import Mapping
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


def positions(survey: Survey) -> Positions | None:
    """The positions of a supply whose rail is set by a control; None where nothing switches.

    Ask for it by `survey.once`.
    """
    rails = sorted(set(survey.controls_of_role("set").values()))
    if not two_state_parts(survey.model):
        return None
    each = [found for rail in rails if (found := _of_rail(survey, rail)) is not None]
    if not each:
        return None
    if len(rails) > 1:
        told = f"{' and '.join(rails)} are set; where one rail is, it can be told where."
        return replace(each[0], why=told)
    return each[0]


def _of_rail(survey: Survey, rail: str) -> Positions | None:
    """The positions of one rail that is set, the others in the middle of theirs."""
    low, high = survey.range.settings[rail][[0, -1]]
    both = _ends(survey, rail, float(low), float(high))
    if both is None:
        return None
    (below, start), (above, begin) = both
    moving = tuple(ref for ref in below if below[ref] != above[ref])
    found = Positions(rail, (below, above), moving)
    comparing = [ref for ref in moving if (ref, "difference") in start.observables]
    if len(comparing) != 1:
        told = f"{len(comparing)} comparators turn over from the lowest setting to the highest"
        return replace(found, why=f"{told}; where one does, it can be told where.")
    found = replace(found, deciding=comparing[0])
    return _with_ends(survey, found, (start, begin))


Found = tuple[dict[str, float], OperatingPoints]


def _ends(survey: Survey, rail: str, low: float, high: float) -> tuple[Found, Found] | None:
    """The states at the lowest and at the highest setting, with solutions; None where one does for
    both, or none was found."""
    points = _at(survey, rail, np.array([low, high]))
    lanes = survey.lanes(points, survey.typical(2)) | survey.aimed(points)
    at = settle(survey.engine, lanes, 2, survey.states.working, survey.states.start)
    if _has_setting(survey, at, rail, points).all() and state_of(at, 0) == state_of(at, 1):
        return None
    ends = []
    for lane in range(2):
        own = points.take(np.array([lane]))
        stable = survey.stable(survey.lanes(own, survey.typical(1)) | survey.aimed(own))
        ends.append(
            [
                (state, found.take(np.array([place])))
                for state, found, place in stable.found
                if _has_setting(survey, found.take(np.array([place])), rail, own).all()
            ]
        )
    if not all(ends) or any(state == other for state, _ in ends[0] for other, _ in ends[1]):
        return None
    return ends[0][0], ends[1][0]


def _has_setting(
    survey: Survey, at: OperatingPoints, rail: str, points: Points
) -> NDArray[np.bool_]:
    wanted = points.settings[rail]
    off = np.abs(survey.rail_voltage(at, rail) - wanted)
    found: NDArray[np.bool_] = at.solved & (off <= AT_SETTING * np.abs(wanted))
    return found


def _at(survey: Survey, rail: str, settings: Array) -> Points:
    points = survey.range.middle().take(np.zeros(settings.size, np.intp))
    return replace(points, settings={**points.settings, rail: settings})


def _with_ends(
    survey: Survey, found: Positions, starts: tuple[OperatingPoints, OperatingPoints]
) -> Positions:
    """The same with the settings at which positions end, at the extreme vertex of first order."""
    spread, rail = survey.spread, found.rail
    lowest, highest = survey.range.settings[rail][[0, -1]]
    ends = survey.coarsest.extremes()
    corners = ends.take(np.flatnonzero(ends.settings[rail] == lowest))
    crossings = [_Crossing(survey, found, side, starts[side]) for side in (0, 1)]
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
            own = np.where(still, spread.typical, limits[np.arange(len(limits)), sides])
            vertices.append(own[:, None])
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


@dataclass
class _Crossing:
    """Where the deciding comparator turns over while everything is held in a position."""

    survey: Survey
    found: Positions
    side: int
    start: OperatingPoints

    def __post_init__(self) -> None:
        axis = self.survey.range.settings[self.found.rail]
        settings = np.linspace(axis[0], axis[-1], SEARCHED)
        points = _at(self.survey, self.found.rail, settings)
        seen = self._difference(points, self.survey.typical(SEARCHED))
        turns = np.flatnonzero(seen[1:] * seen[:-1] <= 0.0)
        self.typical = np.nan
        if turns.size:
            first = int(turns[0])
            share = seen[first] / (seen[first] - seen[first + 1])
            about = settings[first] + share * (settings[1] - settings[0])
            self.typical = about
            self.typical = float(
                self.at(_at(self.survey, self.found.rail, np.array([about])), self._typical())[0]
            )

    def _typical(self) -> Array:
        return self.survey.typical(1)

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
        start = self.start.take(np.zeros(points.count, np.intp))
        at = survey.engine(lanes, points.count, start)
        seen: Array = np.where(at.solved, at.of(found.deciding, "difference"), np.nan)
        return seen


def _set(points: Points, rail: str, settings: Array) -> Points:
    return replace(points, settings={**points.settings, rail: settings})


def placed(survey: Survey, points: Points) -> Points:
    """Points of the range, each in the positions that are on there, and those where they end."""
    found = survey.once(positions)
    if found is None or found.why:
        return points
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
    return replace(_set(each, found.rail, ends), position=sides)


def holding(survey: Survey, points: Points) -> dict[Name, Array | float]:
    """Inputs that hold every point in its position, where it has one."""
    if points.position is None:
        return {}
    found = survey.once(positions)
    assert found is not None
    return held(found.moving, _by_point(found, points.position))


def beginning(survey: Survey, points: Points) -> Mapping[str, Array | float]:
    """The working state at every point: of all two-state parts, 0 or 1."""
    working = survey.states.working
    found = survey.once(positions)
    if found is None:
        return working
    side = points.position
    if side is None:
        middle = np.nanmean([found.rising, found.falling]) if not found.why else np.nan
        settings = points.settings[found.rail]
        if np.isnan(middle):
            middle = 0.5 * (survey.range.settings[found.rail][[0, -1]].sum())
        side = (settings > middle).astype(float)
    return {**working, **_by_point(found, side)}


def _by_point(found: Positions, side: Array) -> dict[str, Array]:
    below, above = found.states
    return {ref: np.where(side > 0.5, above[ref], below[ref]) for ref in found.moving}
