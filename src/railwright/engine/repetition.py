"""How a period follows the values: from what is set from outside, or by a clock alone.

What is set from outside is the same one period later: F(x, t + T(p), p) = F(x, t, p). The
derivative of that by a value p tells dT/dp without a word about sources.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import TIME
from railwright.engine.cycle_adjoint import Adjoint, Nodes
from railwright.engine.expression import Expression, partials

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

ALIKE = 1e-6
"""Share by which two slopes may differ and still count as the same."""


class Repetition:
    """What reads the time in the recorded steps of some lanes.

    grows: (lane, held) 1 where a held quantity is an instant that grows by the period.
    """

    def __init__(self, adjoint: Adjoint, period: Array, grows: Array) -> None:
        self.adjoint = adjoint
        self.period = period
        self.grows = grows
        self.step = adjoint.step

    @cached_property
    def _timed(self) -> list[Expression]:
        """Equations that read the time."""
        every = [*self.step.system.residuals, *self.step.amounts]
        return [root for root in every if self._reads_time(root)]

    def _reads_time(self, root: Expression) -> bool:
        graph, names = self.step.graph, self.step.system.parameters
        read = (graph.nodes[number] for number in graph.needed([root]))
        return any(op == "p" and names[rest[0]] == TIME for op, *rest in read)

    @cached_property
    def _places(self) -> tuple[NDArray[np.intp], Nodes]:
        """Lanes, and places within steps: at their ends sources may have corners."""
        steps = self.adjoint.steps
        inside = steps.taken & ~steps.single
        return np.nonzero(inside)[1], self.adjoint.nodes(inside, steps.middle, steps.midway)

    def _total(self, rows: Array) -> Array:
        """Sums (lane) over rows and places (row, place)."""
        lane = self._places[0]
        found: Array = np.bincount(lane, rows.sum(axis=0), self.period.size).astype(float)
        return found

    @property
    def by_clock(self) -> Mask:
        """Lanes in which all that reads the time reads it against instants that are held."""
        lane, nodes = self._places
        slopes = nodes.slopes(self._timed)
        parts = slopes.held * self.grows[lane][:, None]
        left = np.abs(slopes.time + parts.sum(axis=2))
        whole = np.abs(slopes.time) + np.abs(parts).sum(axis=2)
        found: Mask = self._total((left > ALIKE * whole).T.astype(float)) == 0.0
        return found

    @property
    def by_outside(self) -> Mask:
        """Lanes in which no clock of the circuit's own holds an instant."""
        return np.logical_not(self.grows.any(axis=1))

    def follows(self, leaves: Sequence[int]) -> Array:
        """dT/dp (leaf, lane) by parameters; not-a-number where nothing repeats any more."""
        found = np.zeros((len(leaves), self.period.size))
        slopes = [partials(root) for root in self._timed]
        for place, leaf in enumerate(leaves):
            own = {row: part["p", leaf] for row, part in enumerate(slopes) if ("p", leaf) in part}
            if any(map(self._reads_time, own.values())):
                found[place] = self._by(own)
        return found

    def _by(self, own: Mapping[int, Expression]) -> Array:
        """dT/dp from the slopes of the equations that read the value, by their numbers."""
        lane, now = self._places
        later = now.later(self.period[lane])
        before, after = now.values(list(own.values())), later.values(list(own.values()))
        # What is left of equal numbers is rounding.
        differs = np.abs(after - before) > ALIKE * np.abs(before)
        change = np.zeros_like(self._pace)
        change[list(own)] = np.where(differs, after - before, 0.0)
        change /= self._scale
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = -self._total(self._pace * change) / self._total(self._pace**2)
        slope = np.where(self._total(np.abs(change)) > 0.0, slope, 0.0)
        left = self._total((change + self._pace * slope[lane]) ** 2)
        return np.where(left <= ALIKE**2 * self._total(change**2), slope, np.nan)

    @cached_property
    def _scale(self) -> Array:
        """Largest slope in time of each equation and lane, at every place."""
        lane, nodes = self._places
        rows = nodes.slopes(self._timed).time.T
        sizes = np.zeros((len(rows), self.period.size))
        for size, row in zip(sizes, rows, strict=True):
            np.maximum.at(size, lane, np.abs(row))
        scale: Array = np.where(sizes > 0.0, sizes, 1.0)[:, lane]
        return scale

    @cached_property
    def _pace(self) -> Array:
        """Slopes in time (equation, place), as shares of their scale."""
        found: Array = self._places[1].slopes(self._timed).time.T / self._scale
        return found
