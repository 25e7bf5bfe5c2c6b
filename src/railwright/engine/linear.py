"""Circuits linearised at their operating points, over lanes.

    linear = linearise(quiescent(points))

All small-signal analyses (response, loop, noise, poles, sensitivity) start from this.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.engine.blocks import blocks
from railwright.engine.expression import Expression
from railwright.engine.faults import faulty_samples, sampled
from railwright.engine.linear_kernel import LinearKernel, dense, linear_kernel_for
from railwright.engine.linear_system import LinearSystem, Row
from railwright.engine.quiescent import Quiescent
from railwright.engine.system import System
from railwright.engine.topology import SPREAD, Topology

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Mask = NDArray[np.bool_]
SAMPLES = 24


@dataclass(frozen=True)
class Linear:
    """A linearised circuit over lanes: (G + s C) dx = -(slopes by what is changed)."""

    rest: Quiescent
    kernel: LinearKernel
    parameters: Array
    """(row, lane)."""
    entries: Array
    """Slopes of G and C (lane, entry); see `LinearSystem.entries`."""

    @property
    def topology(self) -> Topology:
        """The circuit's shape."""
        return self.rest.model.topology

    @property
    def system(self) -> LinearSystem:
        """The slopes in symbols."""
        return self.kernel.linear

    @property
    def solved(self) -> Mask:
        """Lanes whose operating point was found."""
        return self.rest.solved

    @property
    def count(self) -> int:
        """Number of lanes."""
        return self.solved.size

    def take(self, which: NDArray[np.intp]) -> Linear:
        """Chosen lanes, repeated where asked for."""
        return replace(
            self,
            rest=self.rest.take(which),
            parameters=self.parameters[:, which],
            entries=self.entries[which],
        )

    @cached_property
    def matrices(self) -> tuple[Array, Array]:
        """G and C (lane, row, column)."""
        return dense(self.system, self.entries)

    def evaluated(self, expressions: Sequence[Expression]) -> Array:
        """Values (expression, lane) of expressions of the system."""
        if not expressions:
            return np.empty((0, self.count))
        graph = self.system.system.graph
        return np.array(graph.evaluate(expressions, self.rest.x, self.parameters))

    def vector(self, row: Row) -> Array:
        """A row or column of slopes, as (lane, place)."""
        found = np.zeros((self.count, self.system.size))
        found[:, list(row)] = self.evaluated(list(row.values())).T
        return found

    def transfer(self, output: Array, rights: Array, frequencies: Array) -> tuple[Complex, Mask]:
        """-output^T (G + j2πf C)^-1 right, (lane, right, frequency), and lanes solved.

        output (lane, row); rights (lane, right, row); frequencies [Hz] (lane or 1, frequency).
        Lanes on which the shared order of elimination cannot be trusted are redone with row
        exchanges; lanes that have no solution read not-a-number.
        """
        omegas = 2.0 * np.pi * np.asarray(frequencies, float)
        found, sure = self.kernel.transfer(self.entries, output, rights, omegas)
        good = sure.all(axis=1) & self.solved
        for lane in map(int, np.flatnonzero(~good & self.solved)):
            own = omegas[0 if len(omegas) == 1 else lane]
            answer = self._exchanging_rows(lane, output[lane], rights[lane], own)
            good[lane] = answer is not None
            found[lane] = np.nan if answer is None else answer
        found[~good] = np.nan
        return found, good

    def _exchanging_rows(
        self, lane: int, output: Array, rights: Array, omegas: Array
    ) -> Complex | None:
        """One lane's transfers (right, frequency) by dense solving, None where there is none."""
        conductive, storing = dense(self.system, self.entries[lane][None])
        transposed = (conductive + 1j * omegas[:, None, None] * storing).transpose(0, 2, 1)
        wanted = np.broadcast_to(output[:, None].astype(complex), (*transposed.shape[:2], 1))
        y = -solved_each(transposed, wanted)[..., 0]
        answer = np.asarray(rights @ y.T, complex)
        return answer if np.isfinite(answer).all() else None


def linearise(rest: Quiescent, announce: Callable[[str], None] | None = None) -> Linear:
    """Linearise circuits at rest. announce: told before a first compilation.

    Raises ValueError where no lane has an operating point.
    """
    if not rest.solved.any():
        raise ValueError(
            "none of the lanes has an operating point to linearise at: look at the `solved` of "
            "the operating points first"
        )
    kernel = linear_kernel_for(rest.model.topology, lambda system: _samples(rest, system), announce)
    p = rest.parameters(kernel.linear.system.parameters)
    entries = kernel.entries(blocks(rest.x.T, kernel.width), blocks(p.T, kernel.width))
    return Linear(rest, kernel, p, entries[: rest.count])


def _samples(rest: Quiescent, system: System) -> tuple[Array, Array]:
    """Unknowns and parameters on which the order of elimination is chosen.

    Solutions, and places around them, so that no pivot is chosen that vanishes in a limit; and
    solutions into which the topology's faults were put.
    """
    rng = np.random.default_rng(1)
    topology = rest.model.topology
    count = 2 * SAMPLES + faulty_samples(topology)
    solved = np.flatnonzero(rest.solved)
    which = np.resize(solved[np.linspace(0, solved.size - 1, SAMPLES).astype(int)], count)
    chosen = rest.take(which)
    x = chosen.x
    width = np.array([SPREAD[u.unit] for u in topology.unknowns])[:, None]
    x[:, SAMPLES : 2 * SAMPLES] += width * rng.standard_normal((len(x), SAMPLES))
    samples = replace(chosen, lanes=sampled(topology, chosen.lanes, count))
    return x, samples.parameters(system.parameters)


def solved_each(a: Any, b: Any) -> Any:
    """Solutions of a stack of dense systems a x = b, not-a-number where there is none."""
    try:
        return np.linalg.solve(a, b)
    except np.linalg.LinAlgError:
        if a.ndim > 3:
            return np.stack([solved_each(one, right) for one, right in zip(a, b, strict=True)])
        found = np.full(b.shape, np.nan, np.result_type(a, b))
        for i, (one, right) in enumerate(zip(a, b, strict=True)):
            with suppress(np.linalg.LinAlgError):
                found[i] = np.linalg.solve(one, right)
        return found
