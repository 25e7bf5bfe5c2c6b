"""Inputs that change with time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PiecewiseLinear:
    """An input over time: straight between its corners, constant before and after them.

    times [s] (corner,), in order; values (corner,), in the input's unit. Two corners at one time
    are a step; at that time the later value holds. ValueError for anything else.
    """

    times: Array
    values: Array

    def __post_init__(self) -> None:
        times, values = np.array(self.times, float), np.array(self.values, float)
        if times.ndim != 1 or times.shape != values.shape or not times.size:
            raise ValueError(
                f"found {times.shape} times and {values.shape} values; wanted is one value per time"
            )
        if not (np.isfinite(times).all() and np.isfinite(values).all()):
            raise ValueError("times and values have to be finite numbers")
        if (np.diff(times) < 0.0).any():
            raise ValueError("the times have to be in order")
        object.__setattr__(self, "times", times)
        object.__setattr__(self, "values", values)

    def value(self, t: ArrayLike) -> Array:
        """The input at times t [s] of any shape."""
        at = np.asarray(t, float)
        later = np.searchsorted(self.times, at, side="right")
        inside = (later > 0) & (later < self.times.size)
        low, high = np.maximum(later - 1, 0), np.minimum(later, self.times.size - 1)
        span = np.where(inside, self.times[high] - self.times[low], 1.0)
        share = np.where(inside, (at - self.times[low]) / span, 0.0)
        found: Array = self.values[low] + share * (self.values[high] - self.values[low])
        return found

    @property
    def corners(self) -> Array:
        """Times at which the slope changes [s], each once."""
        return np.unique(self.times)
