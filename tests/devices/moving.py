"""Small circuits in time and in frequency, on dense matrices: plain, slow, and by the book.

Every row is F(x) + d/dt Q(x) = 0. What is looked at begins at the operating point of a single
lane, whose temperatures are held.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from devices.solving import Part, Solution, solved
from numpy.typing import NDArray
from scipy import linalg

from railwright.engine.assembly import Assembly, temperature_name
from railwright.engine.dual import Dual
from railwright.engine.model import Model
from railwright.engine.reduction import reduced
from railwright.engine.system import trace

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Name = tuple[str, str]
Course = Callable[[float], float]


class Moving:
    """A circuit at its operating point, ready to move."""

    def __init__(self, parts: list[Part], **lanes: Any) -> None:
        rest = solved(parts, **lanes)
        self.topology = replace(rest.model.topology, isothermal=True)
        self.model = Model(self.topology, rest.model.nominal)
        self.wanted = reduced(trace(self.topology), "storages").parameters
        self.given = {**rest.lanes, **self._temperatures(rest)}
        self.parameters = self.read({})
        at = dict(zip(rest.model.topology.index, rest.unknowns[:, 0], strict=True))
        self.x = np.array([at[key] for key in self.topology.index])
        self.x = self._settled(self.x)

    def _temperatures(self, rest: Solution) -> dict[Name, Array]:
        rows = zip(rest.model.topology.unknowns, rest.unknowns, strict=True)
        return {temperature_name(u.label): row for u, row in rows if u.unit == "K"}

    def read(self, changed: Mapping[Name, float]) -> dict[Name, Any]:
        """All parameters, some of them changed."""
        found = self.model.parameters(self.wanted, {**self.given, **changed})
        return {name: np.ravel(value)[0] for name, value in found.items()}

    def assembled(self, x: Array, parameters: Mapping[Name, Any]) -> tuple[Array, ...]:
        """F, Q, and their slopes by the unknowns and by what else is a dual number."""
        size = x.size
        seeds = [Dual(np.array([v]), {i: np.ones(1)}) for i, v in enumerate(x)]
        with np.errstate(all="ignore"):
            found = Assembly(self.topology, seeds, lambda *name: parameters.get(name, np.nan))
        f, q = np.zeros(size), np.zeros(size)
        slopes, stored = np.zeros((size, size + 1)), np.zeros((size, size + 1))
        for row, residual in enumerate(found.residuals):
            _add(residual, 1.0, row, f, slopes)
        for storage in found.storages:
            for row, sign in ((storage.plus, 1.0), (storage.minus, -1.0)):
                if row is not None:
                    _add(storage.amount, sign, row, q, stored)
        return f, q, slopes, stored

    def _settled(self, x: Array) -> Array:
        """Where all rates are nil: the states of what is driven hard are others than at rest."""
        for _ in range(60):
            f, _, slopes, stored = self.assembled(x, self.parameters)
            # Damped by the storages themselves, as if a long step in time were taken.
            move = np.linalg.solve((slopes + 1e3 * stored)[:, :-1], -f)
            x = x + move
        return x

    def response(self, cause: str, effect: str, frequencies: Any) -> Complex:
        """Small change of a net or an unknown `ref.name` over that of an input or value."""
        key = tuple(cause.split("."))
        seeded = {**self.parameters}
        seeded[key] = Dual(np.array([seeded[key]]), {self.x.size: np.ones(1)})
        _, _, slopes, stored = self.assembled(self.x, seeded)
        return _solved(slopes, stored, self._row(effect), frequencies)

    def response_to_unknown(self, cause: str, effect: str, frequencies: Any) -> Complex:
        """The same with an unknown as the cause: its own equation is left out."""
        _, _, slopes, stored = self.assembled(self.x, self.parameters)
        own = self._row(cause)
        order = [*(i for i in range(self.x.size) if i != own), own]
        pick = np.ix_(order[:-1], order)
        return _solved(slopes[pick], stored[pick], order.index(self._row(effect)), frequencies)

    def poles(self) -> Complex:
        """Natural frequencies s [rad/s] of the circuit, the slowest first."""
        _, _, slopes, stored = self.assembled(self.x, self.parameters)
        found = linalg.eig(-slopes[:, :-1], stored[:, :-1], right=False)
        kept = found[np.isfinite(found) & (np.abs(found) < 1e12)]
        return kept[np.argsort(np.abs(kept))]

    def _row(self, what: str) -> int:
        owner, _, name = what.partition(".")
        return self.topology.index[owner, name]

    def course(self, times: Array, *nets: str, **inputs: Course) -> list[Array]:
        """Potentials of nets over times [s], which begin at rest; `V_voltage=f` sets f(t).

        Gear's second-order formula in equal steps, Newton's method in each.
        """
        named = {tuple(key.split("_", 1)): course for key, course in inputs.items()}
        h = times[1] - times[0]
        x = self.x
        _, before, _, _ = self.assembled(x, self.parameters)
        earlier = before
        rows = [x]
        for time in times[1:]:
            p = self.read({key: course(time) for key, course in named.items()})
            x = self._step(x, p, h, before, earlier)
            _, stored, _, _ = self.assembled(x, p)
            before, earlier = stored, before
            rows.append(x)
        found = np.array(rows)
        return [found[:, self.topology.index[net, ""]] for net in nets]

    def _step(self, x: Array, p: Mapping[Name, Any], h: float, q1: Array, q0: Array) -> Array:
        for _ in range(80):
            f, q, slopes, stored = self.assembled(x, p)
            r = f + (1.5 * q - 2.0 * q1 + 0.5 * q0) / h
            move = np.linalg.solve((slopes + 1.5 / h * stored)[:, :-1], -r)
            x = x + move / max(1.0, float(np.abs(move).max()) / 3.0)
            if np.all(np.abs(move) <= 1e-9 + 1e-7 * np.abs(x)):
                return x
        raise AssertionError("a step in time was not solved")


def _solved(slopes: Array, stored: Array, row: int, frequencies: Any) -> Complex:
    """Unknown `row` of (G + j w C) x = -b; b is the last column."""
    found = []
    for frequency in np.atleast_1d(frequencies):
        a = slopes + 2j * np.pi * frequency * stored
        found.append(np.linalg.solve(a[:, :-1], -a[:, -1])[row])
    return np.array(found)


def _add(amount: Any, sign: float, row: int, total: Array, slopes: Array) -> None:
    if isinstance(amount, Dual):
        total[row] += sign * amount.value[0]
        for column, slope in amount.slopes.items():
            slopes[row, column] += sign * np.ravel(slope)[0]
    else:
        total[row] += sign * np.ravel(amount)[0]


def when(times: Array, course: Array, level: float) -> float:
    """The first time at which a course crosses a level."""
    above = course > level
    number = int(np.flatnonzero(above[1:] != above[:-1])[0])
    share = (level - course[number]) / (course[number + 1] - course[number])
    return float(times[number] + share * (times[number + 1] - times[number]))
