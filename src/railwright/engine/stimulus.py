"""Courses in time of what is set from outside: straight lines from corner to corner."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class PiecewiseLinear:
    """Straight lines between corners; level before the first and after the last one.

    times: (corner) or (lane, corner) [s], not falling; two equal times make a jump. values: the
    same shape, or (corner) for all lanes, in the input's unit.
    """

    times: Array
    values: Array

    def __post_init__(self) -> None:
        times, values = np.asarray(self.times, float), np.asarray(self.values, float)
        if times.shape[-1:] != values.shape[-1:] or times.shape[-1] < 1:
            raise ValueError(
                f"a course has {times.shape[-1:]} times and {values.shape[-1:]} values: "
                "state one value for each time"
            )
        if np.any(np.diff(times) < 0):
            raise ValueError("the times of a course fall somewhere: state them in rising order")
        object.__setattr__(self, "times", times)
        object.__setattr__(self, "values", values)

    def corners(self, lanes: NDArray[np.intp] | None = None) -> Array:
        """Every time at which a line begins or ends, rising [s]; of some lanes only, if named."""
        own = self.times if lanes is None or self.times.ndim == 1 else self.times[lanes]
        return np.unique(own)

    def lines(self, after: float, lanes: int) -> tuple[Array, Array, Array]:
        """The lines on which the lanes are just after an instant: (value, slope, since) (lane)."""
        times = np.broadcast_to(self.times, (lanes, self.times.shape[-1]))
        values = np.broadcast_to(self.values, (lanes, self.values.shape[-1]))
        number = (times <= after).sum(axis=1)
        lane = np.arange(lanes)
        last = np.maximum(number - 1, 0)
        following = np.minimum(number, times.shape[1] - 1)
        span = times[lane, following] - times[lane, last]
        rise = values[lane, following] - values[lane, last]
        inside = (number > 0) & (span > 0)
        slope = np.where(inside, rise / np.where(inside, span, 1.0), 0.0)
        return values[lane, last], slope, times[lane, last]

    def value(self, time: float, lanes: int = 1) -> Array:
        """The values (lane) at an instant; at a jump those behind it."""
        value, slope, since = self.lines(time, lanes)
        found: Array = value + slope * (time - since)
        return found
