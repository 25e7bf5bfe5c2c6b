"""The values that no reading contradicts: a box of limits, cut by what meters leave open."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
AT_LIMIT = 1.0 - 1e-9


class LearnError(ValueError):
    """Readings from which nothing can be learned: what was found, what to do."""


class Feasible:
    """Places of unknowns that no reading contradicts, along straight lines around some of them."""

    def __init__(self, places: Array, slopes: Array, away: Array, errors: Array) -> None:
        """away: what was read beyond what the places give."""
        rows = slopes / errors[:, None]
        centre = away / errors + rows @ places
        self.rows = np.vstack([rows, -rows])
        self.most = np.concatenate([centre, -centre]) + 1.0
        self._known: dict[int, tuple[Array, Array]] = {}
        self._points: list[Array] = []

    def least_strain(self) -> float:
        """Times its error by which a meter has to be off at least."""
        from scipy.optimize import linprog

        count, size = self.rows.shape
        rows = np.hstack([self.rows, np.full((count, 1), -1.0)])
        bounds = [(-1.0, 1.0)] * size + [(0.0, None)]
        found = linprog([0.0] * size + [1.0], rows, self.most - 1.0, bounds=bounds)
        return float(found.fun)

    def end(self, weights: Array) -> Array:
        """Where a weighted sum of the places is least."""
        from scipy.optimize import linprog

        found = linprog(weights, self.rows, self.most, bounds=(-1.0, 1.0))
        if found.x is None:
            raise LearnError(f"the ends of what the readings leave were not found: {found.message}")
        return np.asarray(np.clip(found.x, -1.0, 1.0), float)

    def range(self, weights: Array) -> tuple[float, float]:
        """Least and greatest weighted sum of the places."""
        return float(weights @ self.end(weights)), float(weights @ self.end(-weights))

    def range_of(self, place: int) -> tuple[float, float]:
        """Least and greatest of one place."""
        low, high = self._ends_of(place)
        return float(low[place]), float(high[place])

    def ends(self) -> Array:
        """Points among which each place is least and greatest (place, point)."""
        for place in range(self.rows.shape[1]):
            self._ends_of(place)
        return np.array(self._points).T

    def _ends_of(self, place: int) -> tuple[Array, Array]:
        if place not in self._known:
            self._known[place] = self._farthest(place, -1.0), self._farthest(place, 1.0)
        return self._known[place]

    def _farthest(self, place: int, side: float) -> Array:
        """A point in which a place is least (side -1) or greatest."""
        # Most ends are at a limit, where another place's end lies as well.
        known = next((p for p in self._points if side * p[place] > AT_LIMIT), None)
        if known is None:
            weights = np.zeros(self.rows.shape[1])
            weights[place] = -side
            known = self.end(weights)
            self._points.append(known)
        return known
