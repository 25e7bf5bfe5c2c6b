"""Within which a reading has to lie, from the spread of the parts.

Each quantity at its limits by itself tells which way it moves a reading; all together at those that
move it down, and up, give the ends. They are widened to whatever single limits gave beyond.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.engine.solutions import OperatingPoints
from railwright.surveys.spread import PartSpread

Array = NDArray[np.float64]
NOBODY = -1
"""Which reading is taken where none is: no meter is in the circuit."""
Solve = Callable[[Array, NDArray[np.intp]], OperatingPoints]
"""Solves lanes with quantities (quantity, lane), each while a reading of a number is taken."""
Read = Callable[[OperatingPoints], Array]


@dataclass(frozen=True)
class Window:
    """Within which a reading has to lie; typical parts give the middle one. SI."""

    low: float
    typical: float
    high: float


@dataclass(frozen=True)
class Windows:
    """Windows by reading, and everything that was solved for them."""

    of: Mapping[str, Window]
    moved_by: Mapping[str, Array]
    """Reading -> how far each quantity alone moves it, from its low limit to its high one."""
    lanes: tuple[OperatingPoints, ...]

    @property
    def unsolved(self) -> int:
        """Lanes that have no solution: while there are any, no window is known."""
        return sum(int((~at.solved).sum()) for at in self.lanes)


def windows(
    spread: PartSpread, solve: Solve, readings: Mapping[str, Read], *, apart: bool = False
) -> Windows:
    """Windows of readings, each taken by itself with its meter in the circuit.

    apart: whether a meter moves everything, so that what moves a reading is told with its meter
    in the circuit as well.
    """
    size, count = spread.size, 2 * spread.size + 1
    turned = np.repeat(spread.typical[:, None], count, axis=1)
    each = np.arange(size)
    turned[each, each], turned[each, size + each] = spread.low, spread.high
    times = len(readings) if apart else 1
    taken = np.repeat(np.arange(times) if apart else [NOBODY], count)
    single = solve(np.tile(turned, times), taken)
    own = [slice(i * count, (i + 1) * count) if apart else slice(None) for i in range(times)]
    alone = [read(single)[own[i % times]] for i, read in enumerate(readings.values())]
    moved = [row[size : 2 * size] - row[:size] for row in alone]
    # Low, typical and high of every reading, side by side.
    ends = [
        quantities
        for row in moved
        for quantities in (
            np.where(row >= 0, spread.low, spread.high),
            spread.typical,
            np.where(row >= 0, spread.high, spread.low),
        )
    ]
    together = solve(np.array(ends).reshape(len(ends), size).T, np.repeat(np.arange(len(alone)), 3))
    found = {}
    for index, (name, read) in enumerate(readings.items()):
        low, typical, high = read(together)[3 * index : 3 * index + 3]
        both = np.concatenate([alone[index], [low, typical, high]])
        found[name] = Window(float(both.min()), float(typical), float(both.max()))
    return Windows(found, dict(zip(readings, moved, strict=True)), (single, together))
