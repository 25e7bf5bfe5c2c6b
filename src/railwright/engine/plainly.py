"""Operating points on the reference path alone: nothing is compiled, traced or shared.

For what has to be computed by other means than the tool's own answers are, such as a supply that
is simulated to try them on. Slow for one lane, bearable for hundreds side by side.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from railwright.engine import reference
from railwright.engine.assembly import AMBIENT, Assembly
from railwright.engine.ladders import (
    GAIN_LADDER,
    LEAK_LADDER,
    SOURCE_LADDER,
    TRUE,
    Rung,
    on_rung,
)
from railwright.engine.model import ROOM, Lanes, Model, Name, chosen
from railwright.engine.operating_point import Reach
from railwright.engine.solutions import OperatingPoints
from railwright.engine.topology import Topology

Array = NDArray[np.float64]
Which = NDArray[np.intp]
LADDERS = ([TRUE], GAIN_LADDER, SOURCE_LADDER, LEAK_LADDER)
IMBALANCE = 1e-5
"""Largest residual that a solution may leave, as a share of the terms it is the sum of."""
NEAR_ITERATIONS, STAGE_ITERATIONS = 60, 40


class Plainly:
    """Solves lanes of one model by Newton's iteration with row exchanges on plain numpy."""

    def __init__(self, model: Model) -> None:
        self.model = model
        self.names = _asked(model.topology)

    def __call__(
        self,
        lanes: Lanes,
        count: int,
        start: OperatingPoints | None = None,
        reach: Reach = "all",
    ) -> OperatingPoints:
        """Operating points of lanes, as `operating_point` gives them.

        What no ladder leads to a solution is not solved; `first` and `near` try the start alone.
        """
        work = _Work(self, lanes, count)
        if start is not None:
            which = np.zeros(count, np.intp) if start.count == 1 else np.arange(count)
            work.climb([TRUE], start.take(which).last.T, NEAR_ITERATIONS)
        if start is None or reach == "all":
            for ladder in LADDERS:
                work.climb(ladder, work.cold, STAGE_ITERATIONS)
        return work.found()


class _Names(dict[Name, float]):
    """Takes down which parameters the equations ask for."""

    def __call__(self, owner: str, name: str) -> float:
        return self.setdefault((owner, name), 1.0)


def _asked(topology: Topology) -> Sequence[Name]:
    """Every parameter that the equations of a circuit ask for."""
    names = _Names()
    with np.errstate(all="ignore"):
        Assembly(topology, [np.ones(1)] * len(topology.unknowns), names)
    return list(names)


class _Work:
    def __init__(self, plainly: Plainly, lanes: Lanes, count: int) -> None:
        self.model, self.names = plainly.model, plainly.names
        self.lanes, self.count = lanes, count
        self.cold = self.model.cold_start(count, lanes.get(AMBIENT, ROOM))
        self.x = self.cold.copy()
        self.solved = np.zeros(count, bool)

    def climb(self, ladder: Sequence[Rung], start: Array, iterations: int) -> None:
        """Walk open lanes from an easy circuit to the true one."""
        which = np.flatnonzero(~self.solved)
        if not which.size:
            return
        x, topology = start[:, which], self.model.topology
        for rung in ladder:
            known = self._known(which, rung)
            x, good = reference.newton(topology, x, known, iterations)
        off = reference.relative_residuals(topology, x, known)
        self.x[:, which] = x
        self.solved[which] = good & (np.nan_to_num(off, nan=np.inf).max(axis=0) < IMBALANCE)

    def _known(self, which: Which, rung: Rung) -> dict[Name, Array | float]:
        lanes = on_rung(self.model, chosen(self.lanes, which), rung)
        return self.model.parameters(self.names, lanes)

    def found(self) -> OperatingPoints:
        """Lanes as far as they were solved."""
        known = self._known(np.arange(self.count), TRUE)
        seen = reference.assemble(self.model.topology, self.x, known).observed
        rows = [np.broadcast_to(value, self.count) for value in seen.values()]
        table = np.array(rows, float).reshape(len(rows), self.count).T
        return OperatingPoints.stated(self.model, list(seen), self.x.T, table, self.solved)
