"""A topology's equations, traced once: what the compiled and the interpreted path share."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property, partial

import numpy as np
from numpy.typing import NDArray

from railwright.devices.device import Number
from railwright.engine.assembly import SYSTEM, Assembly, Event, Noise, Storage, magnitude
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
    storages: tuple[Storage, ...]
    """Charges and fluxes; their amounts are expressions."""
    events: tuple[Event, ...]
    noises: tuple[Noise, ...]
    signals: Mapping[Name, Expression]
    """Where loops can be opened."""
    paces: tuple[Expression, ...]
    """Lengths that no step in time may exceed [s]."""

    @cached_property
    def stored(self) -> Mapping[int, Expression]:
        """Row -> what is stored there; its rate of change adds to the row's residual."""
        rows: dict[int, Expression] = {}
        for storage in self.storages:
            for row, amount in ((storage.plus, storage.amount), (storage.minus, -storage.amount)):
                if row is not None:
                    rows[row] = rows[row] + amount if row in rows else amount
        return rows


def trace(topology: Topology, from_values: bool = False) -> System:
    """Run every part's equations on traced numbers and differentiate them.

    from_values: parameters are only what a part is given, so that derivatives by its values can
    be taken; what it computes of them (`Device.constants`) is traced too.
    """
    graph = Graph()
    rows: dict[Name, Expression] = {}

    def parameter(owner: str, name: str) -> Expression:
        key = (owner, name)
        if key not in rows:
            rows[key] = graph.parameter(len(rows))
        return rows[key]

    @cache
    def constants(ref: str) -> Mapping[str, Number]:
        return topology.element[ref].device.constants(_Given(partial(parameter, ref)))

    def computed(owner: str, name: str) -> Number:
        found = {} if owner == SYSTEM else constants(owner)
        return found[name] if name in found else parameter(owner, name)

    unknowns = [graph.unknown(i) for i in range(len(topology.unknowns))]
    assembly = Assembly(topology, unknowns, computed if from_values else parameter)
    residuals = tuple(graph.lift(r) for r in assembly.residuals)
    slopes = slopes_of(residuals)
    magnitudes = tuple(graph.lift(magnitude(assembly, i)) for i in range(len(residuals)))
    lift = graph.lift
    storages = tuple(replace(s, amount=lift(s.amount)) for s in assembly.storages)
    events = tuple(
        Event(lift(e.guard), {name: lift(value) for name, value in e.changes.items()})
        for e in assembly.events
    )
    noises = tuple(
        replace(n, density=lift(n.density), corner=lift(n.corner)) for n in assembly.noises
    )
    return System(
        topology,
        graph,
        tuple(rows),
        residuals,
        magnitudes,
        slopes,
        {name: lift(e) for name, e in assembly.observed.items()},
        storages,
        events,
        noises,
        {name: lift(e) for name, e in assembly.signals.items()},
        tuple(map(lift, assembly.paces)),
    )


class _Given:
    """Attribute access to what one part is given."""

    def __init__(self, parameter: Callable[[str], Number]) -> None:
        self._parameter = parameter

    def __getattr__(self, name: str) -> Number:
        return self._parameter(name)


def slopes_of(residuals: Sequence[Expression]) -> dict[tuple[int, int], Expression]:
    """(row, column) -> derivative of residual `row` by unknown `column`; absent ones are nil."""
    return {
        (row, column): slope
        for row, residual in enumerate(residuals)
        for column, slope in gradient(residual).items()
        if slope.value != 0.0
    }


def slope_matrices(system: System, x: Array, p: Array) -> Array:
    """Slope matrices (lane, row, column) at unknowns x and parameters p, both (row, lane)."""
    size, lanes = x.shape
    places = list(system.slopes)
    values = system.graph.evaluate([system.slopes[place] for place in places], x, p)
    matrices = np.zeros((lanes, size, size))
    for (row, column), value in zip(places, values, strict=True):
        matrices[:, row, column] = value
    return matrices
