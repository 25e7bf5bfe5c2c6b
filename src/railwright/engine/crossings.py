"""Where a function of frequency passes nil, over lanes: all places, to rounding.

Changes of sign on a grid are bracketed; so are those that an extreme between two grid points
hides, as the peak of a sharp resonance does. Brackets are then cut into sections on the
function itself, all of them at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Lanes = NDArray[np.intp]
Function = Callable[[Lanes, Array], Array]
"""Values (crossing, point) for lanes (crossing) at frequencies (crossing, point)."""

SECTIONS = 9
"""Parts into which a bracket is cut at a time: eight points fill the vector registers."""
CUTS = 14
"""9 to the 14 is 2e13: from a twentieth of a decade down to rounding."""
LOOKS = 10
"""How often the surroundings of an extreme are narrowed (9/2 each time) until it passes nil."""
REACH = 12.0
"""An extreme that stays farther from nil than this on the grid is not looked into."""
FLAT = 1e-9
"""Extremes that stand out by less than this are rounding."""


@dataclass(frozen=True)
class Bracket:
    """Pairs of frequencies between which the function changes its sign, each in a lane."""

    lane: Lanes
    low: Array
    high: Array
    rising: NDArray[np.bool_]
    """True where the function is below nil at `low`."""

    def joined(self, other: Bracket) -> Bracket:
        """Both lists."""
        return Bracket(
            np.concatenate([self.lane, other.lane]),
            np.concatenate([self.low, other.low]),
            np.concatenate([self.high, other.high]),
            np.concatenate([self.rising, other.rising]),
        )


def crossings(
    values: Array, frequencies: Array, function: Function, cuts: int = CUTS
) -> tuple[Lanes, Array, NDArray[np.bool_]]:
    """Lanes, frequencies and directions (True where rising) of all passages through nil.

    values (lane, frequency) of the function on a grid; not-a-number counts as no change. cuts:
    how often brackets are cut.
    """
    brackets = _on_grid(values, frequencies).joined(_hidden(values, frequencies, function))
    low, high = brackets.low, brackets.high
    for _ in range(cuts if brackets.lane.size else 0):
        points = _between(low, high)
        below = (function(brackets.lane, points[:, 1:-1]) < 0) == brackets.rising[:, None]
        # The first point beyond the passage ends the next bracket.
        place = np.where(below.all(axis=1), SECTIONS - 1, np.argmin(below, axis=1))
        every = np.arange(place.size)
        low, high = points[every, place], points[every, place + 1]
    order = np.lexsort((low, brackets.lane))
    return brackets.lane[order], np.sqrt(low * high)[order], brackets.rising[order]


def _between(low: Array, high: Array) -> Array:
    """Points (bracket, SECTIONS + 1) from low to high, evenly spaced in their logarithm."""
    share = np.linspace(0.0, 1.0, SECTIONS + 1)
    points = low[:, None] * (high / low)[:, None] ** share
    points[:, -1] = high
    return points


def _on_grid(values: Array, frequencies: Array) -> Bracket:
    before, after = values[:, :-1], values[:, 1:]
    lane, place = np.nonzero(((before < 0) & (after >= 0)) | ((before >= 0) & (after < 0)))
    rising = before[lane, place] < 0
    return Bracket(lane, frequencies[place], frequencies[place + 1], rising)


def _hidden(values: Array, frequencies: Array, function: Function) -> Bracket:
    """Brackets on both sides of extremes that pass nil between grid points."""
    inner = values[:, 1:-1]
    side = np.where(inner < 0, -1.0, 1.0)
    nearer = np.minimum(values[:, :-2] * side, values[:, 2:] * side) - inner * side
    farther = np.maximum(values[:, :-2] * side, values[:, 2:] * side) - inner * side
    lane, place = np.nonzero((nearer >= 0) & (farther > FLAT) & (inner * side < REACH))
    side = side[lane, place]
    low, high = frequencies[place], frequencies[place + 2]
    first, last = low, high
    best = frequencies[place + 1]
    reached = np.zeros(lane.size, bool)
    for _ in range(LOOKS if lane.size else 0):
        points = _between(low, high)
        found = function(lane, points) * side[:, None]
        at = np.nanargmin(np.where(np.isnan(found), np.inf, found), axis=1)
        every = np.arange(lane.size)
        best = np.where(reached, best, points[every, at])
        reached |= found[every, at] < 0
        low = points[every, np.maximum(at - 1, 0)]
        high = points[every, np.minimum(at + 1, SECTIONS)]
    lane, side, best = lane[reached], side[reached], best[reached]
    down = Bracket(lane, first[reached], best, side < 0)
    return down.joined(Bracket(lane, best, last[reached], side > 0))
