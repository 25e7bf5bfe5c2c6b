"""Temperatures that the mean heat of a cycle keeps up.

What is thermal is far slower than a cycle: the flows of heat balance in their means. What a part
turns into heat is told from the imbalance of its equations at the temperatures of the cycle.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.devices.device import Number
from railwright.engine.assembly import AMBIENT, Assembly, observables, temperature_name
from railwright.engine.dual import Dual
from railwright.engine.linear import solved_each
from railwright.engine.model import ROOM, Lanes, MissingValue, Model, Name

Array = NDArray[np.float64]
ITERATIONS = 12
FLOOR = 1e-3
"""K that a temperature may still move."""


def kept_up(model: Model, lanes: Lanes, courses: Array, temperatures: Array) -> Array:
    """Temperatures (thermal unknown, lane) [K] at which the means of all flows of heat balance.

    model: of a topology that warms up. courses: its unknowns (row, lane, instant) at instants
    evenly spread over the cycle; temperatures: those (thermal unknown, lane) that the cycle was
    computed with, in the order of the unknowns. Not-a-number where nothing was found.
    """
    rows = thermal_rows(model)
    if not rows:
        return temperatures
    known = _Parameters(model, lanes)

    def imbalance(x: Array, warm: Array) -> tuple[Array, Array]:
        x[rows] = warm[:, :, None]
        return _imbalance(model, x, known)

    # Without current nothing warms up: what is left are the flows of heat.
    dead = np.zeros((*courses.shape[:2], 1))
    flows, _ = imbalance(dead, temperatures)
    produced = flows - imbalance(courses.copy(), temperatures)[0]
    found = temperatures.copy()
    for _ in range(ITERATIONS):
        flows, slopes = imbalance(dead, found)
        move = -solved_each(slopes, (flows - produced).T[..., None])[..., 0].T
        found = found + move
        if not np.nanmax(np.abs(move), initial=0.0) > FLOOR:
            break
    return found


def felt(model: Model, lanes: Lanes, x: Array, temperatures: Array) -> Mapping[Name, Array]:
    """What tells of temperatures and flows of heat, at other temperatures: observable -> (lane).

    x: unknowns (row, lane) at any instant; arguments else as for `kept_up`.
    """
    moved = x[:, :, None].copy()
    moved[thermal_rows(model)] = temperatures[:, :, None]
    with np.errstate(all="ignore"):
        observed = Assembly(model.topology, list(moved), _Parameters(model, lanes).of).observed
    return {
        name: np.broadcast_to(np.ravel(observed[name]), (x.shape[1],))
        for name, unit in observables(model.topology).items()
        if unit in ("K", "°C") or _only_warms(model, name[0])
    }


def _only_warms(model: Model, ref: str) -> bool:
    """Whether nothing electrical goes on in a part."""
    pins = model.topology.element[ref].device.pins.values()
    return all(pin.role == "thermal" for pin in pins)


def thermal_rows(model: Model) -> list[int]:
    """Rows of the unknowns that are temperatures."""
    return [row for row, u in enumerate(model.topology.unknowns) if u.unit == "K"]


def _imbalance(model: Model, x: Array, known: _Parameters) -> tuple[Array, Array]:
    """Mean residuals (thermal unknown, lane) and their slopes (lane, thermal row, column)."""
    rows = thermal_rows(model)
    seeds: list[Number] = list(x)
    for column, row in enumerate(rows):
        seeds[row] = Dual(x[row], {column: np.ones(x.shape[1:])})
    with np.errstate(all="ignore"):
        assembly = Assembly(model.topology, seeds, known.of)
    count = x.shape[1]
    values, slopes = np.zeros((len(rows), count)), np.zeros((count, len(rows), len(rows)))
    for place, row in enumerate(rows):
        residual: Any = assembly.residuals[row]
        own = residual.slopes if isinstance(residual, Dual) else {}
        values[place] = _mean(residual.value if isinstance(residual, Dual) else residual, count)
        for column, slope in own.items():
            slopes[:, place, column] = _mean(slope, count)
    return values, slopes


def _mean(row: Any, count: int) -> Array:
    """Means over the instants (lane)."""
    found: Array = np.broadcast_to(np.atleast_2d(row).mean(axis=-1), (count,))
    return found


class _Parameters:
    """Parameters (lane, 1) of a model, as its equations ask for them.

    What only charges and noises read may be wanting: it is not-a-number, as all that reads it.
    """

    def __init__(self, model: Model, lanes: Lanes) -> None:
        wanted: dict[Name, None] = {}

        def ask(owner: str, name: str) -> Number:
            wanted[owner, name] = None
            return 1.0

        x = model.cold_start(1)
        with np.errstate(all="ignore"):
            Assembly(model.topology, list(x), ask)
        self._found: dict[Name, Any] = {}
        for owner in dict.fromkeys(owner for owner, _ in wanted):
            own = [name for name in wanted if name[0] == owner]
            try:
                self._found |= model.parameters(own, lanes)
            except MissingValue:
                for name in own:
                    self._found[name] = np.nan
                    with suppress(MissingValue):
                        self._found |= model.parameters([name], lanes)

    def of(self, owner: str, name: str) -> Number:
        value = np.asarray(self._found[owner, name], float)
        return value[:, None] if value.ndim else float(value)


def temperatures_of(model: Model, lanes: Lanes, count: int) -> Array:
    """The temperatures (thermal unknown, lane) that lanes of the isothermal model are given."""
    air = lanes.get(AMBIENT, ROOM)
    labels = [model.topology.unknowns[row].label for row in thermal_rows(model)]
    rows = [np.broadcast_to(lanes.get(temperature_name(label), air), (count,)) for label in labels]
    return np.array(rows, float).reshape(len(labels), count)
