"""The reference path: the same equations on plain numpy, solved densely with row exchanges.

Slow and simple. Tests hold the compiled path against it, and lanes on which the shared order
of elimination cannot be trusted are redone here.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from railwright.devices.device import Number
from railwright.engine.assembly import Assembly, Parameters, magnitude
from railwright.engine.dual import Dual
from railwright.engine.model import chosen
from railwright.engine.topology import (
    CUT_ALONE,
    FLOORS,
    LONG_PATIENCE,
    PATIENCE,
    REACH,
    SHRINKAGE,
    SHRINKING,
    STEP_LIMITS,
    Topology,
)

Array = NDArray[np.float64]
Name = tuple[str, str]


def _reader(parameters: Mapping[Name, Array | float]) -> Parameters:
    """Hands out parameters. What only storages, events and noises read may be wanting here; if
    a residual does read it after all, that lane is not solved."""
    return lambda owner, name: parameters.get((owner, name), np.nan)


def assemble(topology: Topology, x: Array, parameters: Mapping[Name, Array | float]) -> Assembly:
    """The circuit's equations at unknowns x (row, lane), without slopes."""
    with np.errstate(all="ignore"):
        return Assembly(topology, list(x), _reader(parameters))


def residuals(topology: Topology, x: Array, parameters: Mapping[Name, Array | float]) -> Array:
    """Residuals (row, lane) of all equations."""
    assembly = assemble(topology, x, parameters)
    return np.array([np.broadcast_to(r, x.shape[1:]) for r in assembly.residuals])


def relative_residuals(
    topology: Topology, x: Array, parameters: Mapping[Name, Array | float]
) -> Array:
    """Residuals (row, lane) over the sum of the magnitudes of their terms."""
    assembly = assemble(topology, x, parameters)
    lanes = x.shape[1:]
    return np.array(
        [
            np.abs(np.broadcast_to(r, lanes)) / magnitude(assembly, i)
            for i, r in enumerate(assembly.residuals)
        ]
    )


def linearised(
    topology: Topology, x: Array, parameters: Mapping[Name, Array | float]
) -> tuple[Array, Array]:
    """Residuals (row, lane) and slope matrices (lane, row, column) at unknowns x (row, lane)."""
    size, lanes = x.shape
    seeds: list[Number] = [Dual(x[i], {i: np.ones(lanes)}) for i in range(size)]
    with np.errstate(all="ignore"):
        assembly = Assembly(topology, seeds, _reader(parameters))
    values, slopes = np.zeros((size, lanes)), np.zeros((lanes, size, size))
    for row, residual in enumerate(assembly.residuals):
        if isinstance(residual, Dual):
            values[row] = residual.value
            for column, slope in residual.slopes.items():
                slopes[:, row, column] = slope
        else:
            values[row] = residual
    return values, slopes


def step(topology: Topology, x: Array, parameters: Mapping[Name, Array | float]) -> Array:
    """The whole step (row, lane) from unknowns x (row, lane); not-a-number where there is none."""
    values, slopes = linearised(topology, x, parameters)
    return dense_step(slopes, values)


def newton(
    topology: Topology,
    start: Array,
    parameters: Mapping[Name, Array | float],
    iterations: int = 200,
    relative: float = 1e-9,
) -> tuple[Array, NDArray[np.bool_]]:
    """Unknowns (row, lane) from a start, and which lanes were solved."""

    def whole(x: Array, lanes: NDArray[np.intp]) -> Array:
        return step(topology, x, chosen(parameters, lanes))

    return iterated(topology, start, whole, iterations, relative)


def iterated(
    topology: Topology,
    start: Array,
    whole_step: Callable[[Array, NDArray[np.intp]], Array],
    iterations: int,
    relative: float = 1e-9,
) -> tuple[Array, NDArray[np.bool_]]:
    """Newton iteration with cut steps: unknowns (row, lane), and which lanes came to rest.

    whole_step: gives the whole steps (row, lane) of the chosen lanes from their unknowns.
    """
    limits = np.array([STEP_LIMITS[u.unit] for u in topology.unknowns])[:, None]
    floors = np.array([FLOORS[u.unit] for u in topology.unknowns])[:, None]
    alone = np.array([u.unit in CUT_ALONE for u in topology.unknowns])[:, None]
    x = np.array(start, float)
    solved = np.zeros(x.shape[1], bool)
    for done in range(iterations):
        active = np.flatnonzero(~solved & np.isfinite(x).all(axis=0))
        if not active.size:
            break
        whole = whole_step(x[:, active], active)
        patience = np.where(alone, PATIENCE, LONG_PATIENCE)
        late = np.maximum(0.0, done - patience)
        growing = 1.0 + SHRINKAGE * np.where(late > SHRINKING, 0.0, late)
        cut = np.maximum(limits, REACH * np.abs(x[:, active])) / growing
        shares = cut / np.maximum(np.abs(whole), cut)
        scale = np.min(np.where(alone, 1.0, shares), axis=0)
        small = np.all(np.abs(whole) <= relative * np.abs(x[:, active]) + floors, axis=0)
        move = scale * whole
        x[:, active] += np.where(alone, np.clip(move, -cut, cut), move)
        solved[active] = small
    return x, solved


def dense_step(slopes: Array, values: Array) -> Array:
    """Steps (row, lane) that bring values (row, lane) to nil along slopes (lane, row, column).

    Not-a-number where there is none.
    """
    usable = np.isfinite(slopes).all(axis=(1, 2)) & np.isfinite(values).all(axis=0)
    found = np.full(values.shape, np.nan)
    try:
        found[:, usable] = -np.linalg.solve(slopes[usable], values.T[usable][..., None])[..., 0].T
    except np.linalg.LinAlgError:
        for lane in np.flatnonzero(usable):
            try:
                found[:, lane] = -np.linalg.solve(slopes[lane], values[:, lane])
            except np.linalg.LinAlgError:
                continue
    return found
