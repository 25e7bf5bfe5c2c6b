"""Operating points of thousands of lanes: Newton iteration with fall-backs, lane by lane.

A lane that an attempt leaves unsolved goes on to the next one: from a cold start, with shorter
steps, by stepping the amplifiers' gain up, by letting the parts warm up in steps, by stepping the
sources up, by stepping a leak away, and last on the reference path with row exchanges. What none
of them solves is reported as such.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.devices.device import Device
from railwright.engine import reference
from railwright.engine.assembly import AMBIENT, GAIN, LEAK
from railwright.engine.kernel import Kernel, kernel_for
from railwright.engine.model import (
    LEAK_TO_GROUND,
    ROOM,
    Lanes,
    Model,
    Name,
    chosen,
    solve_name,
    weight_name,
)
from railwright.engine.system import System

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

LANES_AT_ONCE = 8192
IMBALANCE = 1e-5
"""Largest residual that a solution may leave, as a share of the terms it is the sum of."""
DISTRUST = 1e-9
"""Below this ratio of a pivot to its terms a lane is redone with row exchanges."""
WARM_ITERATIONS, COLD_ITERATIONS, STAGE_ITERATIONS, DENSE_ITERATIONS = 30, 40, 40, 100
DENSE_LANES = 64
"""Row exchanges are slow: of a piece of lanes no more than this are redone with them."""


@dataclass(frozen=True)
class OperatingPoints:
    """Solutions over lanes: unknowns and observables (row, lane), and which lanes are solved.

    Unsolved lanes hold not-a-number everywhere. `effort` is the iterations used per lane.
    """

    model: Model
    unknowns: Array
    observed: Array
    observables: tuple[Name, ...]
    solved: Mask
    effort: Array
    start: Array
    """Unknowns as left by the solver, unsolved lanes included: a start for neighbours."""

    @property
    def lanes(self) -> int:
        """Number of lanes."""
        return self.solved.size

    def take(self, which: Any) -> OperatingPoints:
        """Chosen lanes, repeated where asked for."""
        return replace(
            self,
            unknowns=self.unknowns[:, which],
            observed=self.observed[:, which],
            solved=self.solved[which],
            effort=self.effort[which],
            start=self.start[:, which],
        )

    def of(self, ref: str, observable: str) -> Array:
        """A part's observable over lanes, in SI units."""
        row: Array = self.observed[self._row(ref, observable)]
        return row

    def _row(self, ref: str, observable: str) -> int:
        return self.observables.index((ref, observable))

    def has(self, ref: str, observable: str) -> bool:
        """Whether a part reports this observable."""
        return (ref, observable) in self.observables

    def potential(self, net: str) -> Array:
        """Potential of a net over lanes [V or K]."""
        if net == self.model.topology.ground:
            return np.where(self.solved, 0.0, np.nan)
        row: Array = self.unknowns[self.model.topology.index[net, ""]]
        return row

    def unknown(self, ref: str, name: str) -> Array:
        """An internal unknown of a part over lanes."""
        row: Array = self.unknowns[self.model.topology.index[ref, name]]
        return row

    def solution_of(self, ref: str, name: str) -> Array:
        """The value of an input that was solved for (beyond its end stops where unreachable)."""
        return self.unknown(ref, f"solved {name}")


Announce = Callable[[str], None]


def operating_point(
    model: Model,
    lanes: Lanes,
    count: int,
    start: Array | None = None,
    announce: Announce | None = None,
    fall_back: bool = True,
) -> OperatingPoints:
    """Operating points of `count` lanes.

    lanes: values, inputs and system parameters that differ from nominal, as numbers or arrays
    (lane), SI. start: unknowns (row, lane) or (row,) to begin from. announce: told before a
    first compilation. fall_back: False stops after the attempt from the given start.
    """
    kernel = kernel_for(model.topology, lambda system: _samples(model, system, lanes), announce)
    pieces = [
        _solve_piece(model, kernel, chosen(lanes, piece), piece, start, fall_back)
        for piece in _pieces(count)
    ]
    return _joined(model, kernel, pieces)


def _pieces(count: int) -> Iterator[slice]:
    for first in range(0, max(count, 1), LANES_AT_ONCE):
        yield slice(first, min(first + LANES_AT_ONCE, count))


def _joined(model: Model, kernel: Kernel, pieces: list[OperatingPoints]) -> OperatingPoints:
    if len(pieces) == 1:
        return pieces[0]
    return OperatingPoints(
        model,
        np.concatenate([p.unknowns for p in pieces], axis=1),
        np.concatenate([p.observed for p in pieces], axis=1),
        kernel.layout.observables,
        np.concatenate([p.solved for p in pieces]),
        np.concatenate([p.effort for p in pieces]),
        np.concatenate([p.start for p in pieces], axis=1),
    )


def _solve_piece(
    model: Model,
    kernel: Kernel,
    lanes: dict[Name, Array | float],
    piece: slice,
    start: Array | None,
    fall_back: bool,
) -> OperatingPoints:
    work = _Work(model, kernel, lanes, piece.stop - piece.start)
    if start is None:
        work.attempt(work.cold(), COLD_ITERATIONS)
    else:
        begin = start[:, piece] if start.ndim == 2 else start[:, None]
        work.attempt(np.broadcast_to(begin, work.x.shape), WARM_ITERATIONS)
    if fall_back:
        if start is not None:
            work.attempt(work.cold(), COLD_ITERATIONS)
        for ladder in (_DAMPED, _GAIN_LADDER, _HEAT_LADDER, _SOURCE_LADDER, _LEAK_LADDER):
            work.climb(ladder)
        work.redo_densely()
    return work.result()


@dataclass(frozen=True)
class _Rung:
    """One easier circuit on the way to the true one."""

    gain: float = 1.0
    sources: float = 1.0
    leak: float = LEAK_TO_GROUND
    heat: float = 1.0
    """Share of every rise in temperature."""
    damping: float = 1.0


_DAMPED = [_Rung(damping=0.4), _Rung()]
_GAIN_LADDER = [_Rung(gain=g) for g in (1e-3, 1e-2, 1e-1, 1.0)]
_HEAT_LADDER = [
    *(_Rung(gain=g, heat=0.01) for g in (1e-3, 1e-2, 1e-1, 1.0)),
    *(_Rung(heat=h) for h in (0.03, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)),
]
_SOURCE_LADDER = [_Rung(sources=s) for s in (0.1, 0.25, 0.5, 0.75, 0.9, 1.0)]
_LEAK_LADDER = [_Rung(leak=s) for s in (1e-1, 1e-2, 1e-3, 1e-4, 1e-6, 1e-9, LEAK_TO_GROUND)]


class _Work:
    """Lanes on their way to their solutions."""

    def __init__(
        self, model: Model, kernel: Kernel, lanes: dict[Name, Array | float], count: int
    ) -> None:
        self.model = model
        self.kernel = kernel
        self.lanes = lanes
        self.count = count
        rows = len(model.topology.unknowns)
        self.x = np.full((rows, count), np.nan)
        self.observed = np.full((len(kernel.layout.observables), count), np.nan)
        self.solved = np.zeros(count, bool)
        self.effort = np.zeros(count)

    def cold(self) -> Array:
        """The cold start of all lanes."""
        return self.model.cold_start(self.count, self.lanes.get(AMBIENT, ROOM))

    def open(self) -> NDArray[np.intp]:
        """Lanes not solved yet."""
        return np.flatnonzero(~self.solved)

    def attempt(self, start: Array, iterations: int) -> None:
        """Iterate all open lanes from a start (row, lane of all lanes)."""
        self._climb([_Rung()], start, iterations)

    def climb(self, ladder: list[_Rung]) -> None:
        """Walk open lanes from an easy circuit to the true one, from a cold start."""
        if self.open().size:
            self._climb(ladder, self.cold(), STAGE_ITERATIONS)

    def _climb(self, ladder: list[_Rung], start: Array, iterations: int) -> None:
        open_lanes = self.open()
        if not open_lanes.size:
            return
        lanes = chosen(self.lanes, open_lanes)
        x = _packed(start[:, open_lanes], self.kernel.layout.width)
        for rung in ladder:
            p = self._parameters(lanes, open_lanes.size, rung)
            report = self.kernel.newton(x, p, iterations, rung.damping)
            self.effort[open_lanes] += _unpacked(report, open_lanes.size)[1]
        self._accept(open_lanes, x, p, report)

    def _parameters(self, lanes: Lanes, count: int, rung: _Rung) -> Array:
        lanes = _on_rung(self.model, lanes, rung)
        wanted = self.kernel.layout.parameters
        found = self.model.parameters(wanted, lanes)
        width = self.kernel.layout.width
        blocks = -(-count // width)
        p = np.empty((blocks, len(wanted), width))
        for row, name in enumerate(wanted):
            value = found[name]
            p[:, row] = value if np.ndim(value) == 0 else _padded(value, width)
        return p

    def _accept(self, which: NDArray[np.intp], x: Array, p: Array, report: Array) -> None:
        seen = _unpacked(self.kernel.inspect(x, p), which.size)
        at_rest, _, trust = _unpacked(report, which.size)
        found = _unpacked(x, which.size)
        good = (at_rest > 0.5) & (seen[-1] < IMBALANCE) & np.isfinite(found).all(axis=0)
        self.x[:, which] = found
        good[good] = self._trusted(which[good], trust[good])
        self.solved[which[good]] = True
        self.observed[:, which[good]] = seen[:-1, good]

    def _trusted(self, which: NDArray[np.intp], trust: Array) -> Mask:
        """Lanes whose pivots can be trusted, or that row exchanges lead to the same solution."""
        result = trust >= DISTRUST
        doubtful = np.flatnonzero(~result)
        if doubtful.size:
            again, solved = self._dense(which[doubtful], self.x[:, which[doubtful]])
            near = np.isclose(again, self.x[:, which[doubtful]], rtol=1e-6, atol=1e-6)
            result[doubtful] = solved & near.all(axis=0)
        return result

    def _dense(self, which: NDArray[np.intp], start: Array) -> tuple[Array, Mask]:
        found = self.model.parameters(self.kernel.layout.parameters, chosen(self.lanes, which))
        return reference.newton(self.model.topology, start, found, DENSE_ITERATIONS)

    def redo_densely(self) -> None:
        """Try open lanes on the reference path, with row exchanges."""
        which = self.open()[:DENSE_LANES]
        if not which.size:
            return
        start = np.where(np.isfinite(self.x[:, which]), self.x[:, which], self.cold()[:, which])
        found, solved = self._dense(which, start)
        width = self.kernel.layout.width
        p = self._parameters(chosen(self.lanes, which), which.size, _Rung())
        report = np.ones((p.shape[0], 3, width))
        report[:, 0] = _padded(solved.astype(float), width)
        self._accept(which, _packed(found, width), p, report)

    def result(self) -> OperatingPoints:
        """What was found."""
        return OperatingPoints(
            self.model,
            np.where(self.solved, self.x, np.nan),
            self.observed,
            self.kernel.layout.observables,
            self.solved,
            self.effort,
            self.x,
        )


def _on_rung(model: Model, lanes: Lanes, rung: _Rung) -> Lanes:
    changed = dict(lanes)
    changed[GAIN] = np.multiply(lanes.get(GAIN, 1.0), rung.gain)
    changed[LEAK] = rung.leak
    if rung.sources != 1.0:
        changed |= _scaled(model, lanes, _driving, rung.sources)
    if rung.heat != 1.0:
        changed |= _scaled(model, lanes, _thermal, rung.heat)
    return changed


def _driving(device: Device) -> Iterable[str]:
    """Inputs that feed the circuit."""
    return device.drives


def _thermal(device: Device) -> Iterable[str]:
    """Thermal resistances; all rises in temperature are proportional to them."""
    return (name for name, value in device.values.items() if value.unit == device.thermal_unit)


def _scaled(
    model: Model, lanes: Lanes, names: Callable[[Device], Iterable[str]], factor: float
) -> dict[Name, Array | float]:
    """Every part's quantities of those names, as far as they are known, times a factor."""
    found = {}
    for element in model.topology.elements:
        for name in names(element.device):
            key = (element.ref, name)
            known = lanes.get(key, model.nominal.get(key, element.device.inputs.get(name)))
            if known is not None:
                found[key] = np.multiply(known, factor)
    return found


def _padded(row: Any, width: int) -> Array:
    """A row of lanes as (block, W); the last lane fills the last block."""
    lanes: Array = np.asarray(row, float)
    missing = -lanes.size % width
    if missing:
        lanes = np.concatenate([lanes, np.repeat(lanes[-1:], missing)])
    return lanes.reshape(-1, width)


def _packed(rows: Array, width: int) -> Array:
    """(row, lane) as (block, row, W), contiguous."""
    missing = -rows.shape[1] % width
    if missing:
        rows = np.concatenate([rows, np.repeat(rows[:, -1:], missing, axis=1)], axis=1)
    return np.ascontiguousarray(rows.reshape(rows.shape[0], -1, width).transpose(1, 0, 2))


def _unpacked(blocks: Array, count: int) -> Array:
    """(block, row, W) as (row, lane)."""
    rows: Array = blocks.transpose(1, 0, 2).reshape(blocks.shape[1], -1)[:, :count]
    return rows


SAMPLES = 24


def _samples(model: Model, system: System, lanes: Lanes) -> tuple[Array, Array]:
    """Unknowns and parameters on which the order of elimination is chosen.

    Around the cold start and around solutions of the reference path, over amplifier gains
    and with inputs solved and given, so that no pivot is chosen that only sometimes exists.
    """
    rng = np.random.default_rng(1)
    cold = model.cold_start(SAMPLES)
    given: dict[Name, Array | float] = {
        k: np.resize(np.asarray(v, float), SAMPLES) for k, v in lanes.items()
    }
    given |= _sampled_wishes(model, rng)
    for element in model.topology.elements:
        if element.device.two_state:
            given[element.ref, "free"] = rng.integers(0, 2, SAMPLES).astype(float)
    given[GAIN] = np.where(rng.random(SAMPLES) < 0.3, 1e-3, 1.0)
    found = model.parameters(system.parameters, given)
    x, _ = reference.newton(model.topology, cold, found, 60)
    x = np.where(np.isfinite(x), x, cold)
    units = [u.unit for u in model.topology.unknowns]
    width = np.array([{"V": 5.0, "A": 0.5, "K": 20.0, "1": 0.5}[u] for u in units])[:, None]
    x[:, SAMPLES // 2 :] += width * rng.standard_normal((len(units), SAMPLES - SAMPLES // 2))
    x = np.where(np.array(units)[:, None] == "K", np.maximum(x, 250.0), x)
    p = np.array([np.broadcast_to(found[n], SAMPLES) for n in system.parameters])
    return x, p


def _sampled_wishes(model: Model, rng: np.random.Generator) -> dict[Name, Array | float]:
    """Which inputs are solved for in each sample, and of which observable a crossing makes use.

    Where a crossing's input is given its weights are nil, so none of them may be a pivot.
    """
    given: dict[Name, Array | float] = {}
    for aim in model.topology.aims:
        given[solve_name(aim.ref, aim.input)] = rng.integers(0, 2, SAMPLES).astype(float)
    for crossing in model.topology.crossings:
        count = len(crossing.observables)
        solved = rng.integers(0, 2, SAMPLES) * (count > 0)
        used = rng.integers(0, max(count, 1), SAMPLES)
        given[solve_name(crossing.ref, crossing.input)] = solved.astype(float)
        for place, observable in enumerate(crossing.observables):
            name = weight_name(crossing.ref, crossing.input, observable)
            given[name] = np.where(used == place, solved, 0).astype(float)
    return given
