"""A topology's equations, traced once: what the compiled and the interpreted path share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import Assembly, magnitude
from railwright.engine.expression import Expression, Graph, gradient
from railwright.engine.topology import Topology

Array = NDArray[np.float64]
Name = tuple[str, str]


@dataclass(frozen=True)
class System:
    """Residuals, slopes and observables of a topology as expressions.

    `parameters` lists the parameter rows in the order in which the graph numbers them.
    """

    topology: Topology
    graph: Graph
    parameters: tuple[Name, ...]
    residuals: tuple[Expression, ...]
    magnitudes: tuple[Expression, ...]
    slopes: Mapping[tuple[int, int], Expression]
    """(row, column) -> derivative of residual `row` by unknown `column`; absent ones are nil."""
    observed: Mapping[Name, Expression]


def trace(topology: Topology) -> System:
    """Run every part's equations on traced numbers and differentiate them."""
    graph = Graph()
    rows: dict[Name, Expression] = {}

    def parameter(owner: str, name: str) -> Expression:
        key = (owner, name)
        if key not in rows:
            rows[key] = graph.parameter(len(rows))
        return rows[key]

    unknowns = [graph.unknown(i) for i in range(len(topology.unknowns))]
    assembly = Assembly(topology, unknowns, parameter)
    residuals = tuple(graph.lift(r) for r in assembly.residuals)
    slopes = {
        (row, column): slope
        for row, residual in enumerate(residuals)
        for column, slope in gradient(residual).items()
        if slope.value != 0.0
    }
    magnitudes = tuple(graph.lift(magnitude(assembly, i)) for i in range(len(residuals)))
    observed = {name: graph.lift(e) for name, e in assembly.observed.items()}
    return System(topology, graph, tuple(rows), residuals, magnitudes, slopes, observed)


def slope_matrices(system: System, x: Array, p: Array) -> Array:
    """Slope matrices (lane, row, column) at unknowns x and parameters p, both (row, lane)."""
    size, lanes = x.shape
    places = list(system.slopes)
    values = system.graph.evaluate([system.slopes[place] for place in places], x, p)
    matrices = np.zeros((lanes, size, size))
    for (row, column), value in zip(places, values, strict=True):
        matrices[:, row, column] = value
    return matrices
