"""Operating points of thousands of lanes: Newton iteration with fall-backs, lane by lane.

A lane that an attempt leaves unsolved goes on to the next one: along the way from a neighbour,
from a cold start, with shorter steps, by stepping the amplifiers' gain up, by letting the parts
warm up in steps, by stepping the sources up, by stepping a leak away, by letting its faults grow
in the sound circuit, with latches and comparators held and let go, from many starts drawn at
random, and last on the reference path with row exchanges. What none of them solves is reported as
such.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from railwright.devices.device import Device
from railwright.engine import reference
from railwright.engine.assembly import AMBIENT, GAIN, LEAK
from railwright.engine.faults import begun, faulty, faulty_samples, sampled, sound
from railwright.engine.kernel import Announce, Kernel, kernel_for
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
from railwright.engine.system import System, trace
from railwright.engine.topology import SPREAD
from railwright.engine.two_state import held, two_state_parts

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

LANES_AT_ONCE = 8192
IMBALANCE = 1e-5
"""Largest residual that a solution may leave, as a share of the terms it is the sum of."""
DISTRUST = 1e-13
"""Trust in the pivots below which a lane is redone with row exchanges: steps may then be off by
some per cent, and no longer tell whether a lane has come to rest."""
WARM_ITERATIONS, COLD_ITERATIONS, STAGE_ITERATIONS, DENSE_ITERATIONS = 40, 60, 40, 60
FARTHEST = 1e9
"""A step that goes farther than this, in any unit, is that of a singular circuit."""
MOST_RENEWALS = 3
"""Orders of elimination that are tried one after the other for a topology."""
MOST_DOUBTFUL = 32
"""Doubtful lanes that are taken among the samples of a new order."""
FEW = 32
"""Of a piece of lanes no more than these are tried with states held and from many starts."""
STARTS, SCATTERED_ITERATIONS = 96, 200
"""Of each of them, and how long each is followed."""
DENSE_LANES = 16
"""Row exchanges are slow: of a piece of lanes no more than this are redone with them."""


@dataclass(frozen=True)
class OperatingPoints:
    """Solutions over lanes. Rows are read by name; unsolved lanes read not-a-number.

    Lanes are views into blocks (block, row, W) of what was solved together: taking lanes
    copies nothing. What they were asked for is kept, so that neighbours can be walked to.
    """

    model: Model
    observables: tuple[Name, ...]
    solved: Mask
    effort: Array
    _inputs: Lanes
    _asked: NDArray[np.intp]
    _x: Array
    _seen: Array
    _lanes: NDArray[np.intp]

    @property
    def count(self) -> int:
        """Number of lanes."""
        return self.solved.size

    def take(self, which: Any) -> OperatingPoints:
        """Chosen lanes, repeated where asked for."""
        return replace(
            self,
            solved=self.solved[which],
            effort=self.effort[which],
            _asked=self._asked[which],
            _lanes=self._lanes[which],
        )

    def of(self, ref: str, observable: str) -> Array:
        """A part's observable over lanes, in SI units."""
        return self._read(self._seen, self._places[ref, observable])

    @cached_property
    def _places(self) -> Mapping[Name, int]:
        return {name: place for place, name in enumerate(self.observables)}

    def potential(self, net: str) -> Array:
        """Potential of a net over lanes [V or K]."""
        if net == self.model.topology.ground:
            return np.where(self.solved, 0.0, np.nan)
        return self._read(self._x, self.model.topology.index[net, ""])

    def unknown(self, ref: str, name: str) -> Array:
        """An internal unknown of a part over lanes."""
        return self._read(self._x, self.model.topology.index[ref, name])

    def solution_of(self, ref: str, name: str) -> Array:
        """The value of an input that was solved for (beyond its end stops where unreachable)."""
        return self.unknown(ref, f"solved {name}")

    @property
    def inputs(self) -> Lanes:
        """What the lanes were asked for."""
        return chosen(self._inputs, self._asked)

    @property
    def unknowns(self) -> Array:
        """All unknowns (row, lane)."""
        return np.where(self.solved, self.last.T, np.nan)

    @property
    def last(self) -> Array:
        """All unknowns (lane, row) as the solver left them, unsolved lanes included."""
        return _gathered(self._x, self._lanes)

    def _read(self, blocks: Array, row: int) -> Array:
        return np.where(self.solved, blocks[:, row].reshape(-1)[self._lanes], np.nan)

    def moved(self, x: Array) -> OperatingPoints:
        """The same lanes at other unknowns (row, lane): a start for a search, not solutions."""
        width = self._x.shape[2]
        return replace(
            self,
            solved=np.zeros(self.count, bool),
            _x=_blocks(x.T, width),
            _seen=_blocks(np.full((self.count, self._seen.shape[1]), np.nan), width),
            _lanes=np.arange(self.count),
        )

    def replaced(self, which: NDArray[np.intp], others: OperatingPoints) -> OperatingPoints:
        """These lanes with the lanes `which` taken from others."""
        x, seen = self.last, _gathered(self._seen, self._lanes)
        x[which], seen[which] = others.last, _gathered(others._seen, others._lanes)
        solved, effort = self.solved.copy(), self.effort.copy()
        solved[which] = others.solved
        effort[which] += others.effort
        width = self._x.shape[2]
        return replace(
            self,
            solved=solved,
            effort=effort,
            _x=_blocks(x, width),
            _seen=_blocks(seen, width),
            _lanes=np.arange(self.count),
        )


Start = OperatingPoints | None
Reach = Literal["first", "near", "all"]


def operating_point(
    model: Model,
    lanes: Lanes,
    count: int,
    start: Start = None,
    announce: Announce | None = None,
    reach: Reach = "all",
) -> OperatingPoints:
    """Operating points of `count` lanes.

    lanes: values, inputs and system parameters that differ from nominal, as numbers or arrays
    (lane), SI. start: solutions to begin from, one lane for each or one for all. announce: told
    before a first compilation. reach: `first` makes one attempt from the start, `near` also
    walks there from a neighbour's parameters, `all` goes through every fall-back.
    """
    kernel = _kernel(model, lanes, announce)
    pieces = []
    for piece in _pieces(count):
        begin = start if start is None or start.count == 1 else start.take(piece)
        work = _Work(model, kernel, chosen(lanes, piece), piece.stop - piece.start)
        found = work.solve(begin, reach)
        odd = work.doubtful if work.doubtful.size > DENSE_LANES else work.doubtful[:0]
        if reach == "all":
            odd = np.union1d(odd, work.lost())
        if odd.size and kernel.renewals < MOST_RENEWALS:
            # Too many for row exchanges: an order of elimination that fits these lanes as well.
            kernel = _renewed(work, odd[:MOST_DOUBTFUL], lanes, announce)
            work = _Work(model, kernel, chosen(lanes, piece), piece.stop - piece.start)
            found = work.solve(begin, reach)
        pieces.append(found)
    return _joined(pieces, lanes)


def first_order(model: Model, lanes: Lanes, count: int, start: OperatingPoints) -> OperatingPoints:
    """Where one step of the iteration leads from solutions nearby: an estimate, not a solution.

    Good for telling which way a change moves things. Lanes count as solved where finite.
    """
    kernel = _kernel(model, lanes, None)
    pieces = []
    for piece in _pieces(count):
        begin = start if start.count == 1 else start.take(piece)
        work = _Work(model, kernel, chosen(lanes, piece), piece.stop - piece.start)
        pieces.append(work.estimate(begin))
    return _joined(pieces, lanes)


def _kernel(model: Model, lanes: Lanes, announce: Announce | None) -> Kernel:
    return kernel_for(model.topology, lambda system: _samples(model, system, lanes), announce)


def _renewed(
    work: _Work, which: NDArray[np.intp], lanes: Lanes, announce: Announce | None
) -> Kernel:
    """The kernel again, its order chosen with these lanes among the samples."""
    p = work._parameters(which, _TRUE)
    rows = p.transpose(1, 0, 2).reshape(p.shape[1], -1)[:, : which.size].copy()
    x = _gathered(work.x, which).T
    cold = _gathered(work._cold(which), np.arange(which.size)).T
    x = np.where(np.isfinite(x).all(axis=0), x, cold)

    def samples(system: System) -> tuple[Array, Array]:
        ordinary = _samples(work.model, system, lanes)
        return np.hstack([ordinary[0], x]), np.hstack([ordinary[1], rows])

    return kernel_for(work.model.topology, samples, announce, renew=True)


def _pieces(count: int) -> Iterator[slice]:
    for first in range(0, max(count, 1), LANES_AT_ONCE):
        yield slice(first, min(first + LANES_AT_ONCE, count))


def _joined(pieces: list[OperatingPoints], lanes: Lanes) -> OperatingPoints:
    first = pieces[0]
    if len(pieces) == 1:
        return first
    width = first._x.shape[2]
    offsets = np.cumsum([0] + [piece._x.shape[0] * width for piece in pieces[:-1]])
    solved = np.concatenate([piece.solved for piece in pieces])
    return OperatingPoints(
        first.model,
        first.observables,
        solved,
        np.concatenate([piece.effort for piece in pieces]),
        lanes,
        np.arange(solved.size),
        np.concatenate([piece._x for piece in pieces]),
        np.concatenate([piece._seen for piece in pieces]),
        np.concatenate([p._lanes + o for p, o in zip(pieces, offsets, strict=True)]),
    )


@dataclass(frozen=True)
class _Rung:
    """One easier circuit on the way to the true one."""

    gain: float = 1.0
    sources: float = 1.0
    leak: float = LEAK_TO_GROUND
    heat: float = 1.0
    damping: float = 1.0


_TRUE = _Rung()
_DAMPED = [_Rung(damping=0.4), _TRUE]
_GAIN_LADDER = [_Rung(gain=g) for g in (1e-3, 1e-2, 1e-1, 1.0)]
_HEAT_LADDER = [
    *(_Rung(gain=g, heat=0.01) for g in (1e-3, 1e-2, 1e-1, 1.0)),
    *(_Rung(heat=h) for h in (0.03, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)),
]
_SOURCE_LADDER = [_Rung(sources=s) for s in (0.1, 0.25, 0.5, 0.75, 0.9, 1.0)]
_LEAK_LADDER = [_Rung(leak=s) for s in (1e-1, 1e-2, 1e-3, 1e-4, 1e-6, 1e-9, LEAK_TO_GROUND)]
_WALK = (0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0)
"""Shares of the way from a neighbour's parameters to a lane's own."""
_GROWTH = tuple(np.linspace(0.0, 1.0, 37))
"""Shares of a fault's growth in decades, see `begun`: three steps to each."""


class _Work:
    """Lanes on their way to their solutions."""

    def __init__(
        self, model: Model, kernel: Kernel, lanes: dict[Name, Array | float], count: int
    ) -> None:
        self.model = model
        self.kernel = kernel
        self.lanes = lanes
        self.count = count
        self.width = kernel.layout.width
        # The first attempt, which is made for all lanes, fills both.
        self.x = np.empty((0, len(model.topology.unknowns), self.width))
        self.seen = np.empty((0, len(kernel.layout.observables) + 1, self.width))
        self.solved = np.zeros(count, bool)
        self.effort = np.zeros(count)
        self.doubtful = np.zeros(0, np.intp)
        """Lanes whose pivots could not be trusted at the last attempt that had such lanes."""

    def solve(self, start: Start, reach: Reach) -> OperatingPoints:
        """Try one way after the other until all lanes are solved or no way is left."""
        if start is None:
            self._climb([_TRUE], self._cold, COLD_ITERATIONS)
        else:
            self._climb([_TRUE], lambda which: self._from(start, which), WARM_ITERATIONS)
            if reach != "first":
                self._walk(start)
        if reach == "all":
            if start is not None:
                self._climb([_TRUE], self._cold, COLD_ITERATIONS)
            for ladder in (_DAMPED, _GAIN_LADDER, _HEAT_LADDER, _SOURCE_LADDER, _LEAK_LADDER):
                self._climb(ladder, self._cold, STAGE_ITERATIONS)
            self._break(start)
            self._let_go()
            self._scatter()
            self._redo_densely()
        return self._result()

    def estimate(self, start: OperatingPoints) -> OperatingPoints:
        """One step from a start."""
        everything = np.arange(self.count)
        self.x = self._from(start, everything)
        p = self._parameters(everything, _TRUE)
        self.kernel.newton(self.x, p, 1)
        self.seen = self.kernel.inspect(self.x, p)
        ends = self.x.sum(axis=1).reshape(-1)[: self.count]
        self.solved = np.isfinite(ends)
        return self._result()

    def lost(self) -> NDArray[np.intp]:
        """Open lanes whose first step from a cold start only this order makes divide by nil."""
        which = self._open()[:MOST_DOUBTFUL]
        x = self._cold(which)
        cold = _gathered(x, np.arange(which.size)).T
        self.kernel.newton(x, self._parameters(which, _TRUE), 1)
        failed = ~np.isfinite(_gathered(x, np.arange(which.size)).sum(axis=1))
        found: NDArray[np.intp] = which[failed]
        if found.size:
            everything = self._everything(found)
            by_exchanges = reference.step(self.model.topology, cold[:, failed], everything)
            found = found[np.abs(by_exchanges).max(axis=0) < FARTHEST]
        return found

    def _open(self) -> NDArray[np.intp]:
        return np.flatnonzero(~self.solved)

    def _cold(self, which: NDArray[np.intp]) -> Array:
        ambient = chosen(self.lanes, which).get(AMBIENT, ROOM)
        return _blocks(self.model.cold_start(which.size, ambient).T, self.width)

    def _from(self, start: OperatingPoints, which: NDArray[np.intp]) -> Array:
        lanes = start.take(np.zeros(which.size, np.intp) if start.count == 1 else which)
        return _blocks(lanes.last, self.width)

    def _climb(
        self, ladder: list[_Rung], start: Callable[[NDArray[np.intp]], Array], iterations: int
    ) -> None:
        """Walk open lanes from an easy circuit to the true one."""
        which = self._open()
        if not which.size:
            return
        x = start(which)
        for rung in ladder:
            p = self._parameters(which, rung)
            report = self.kernel.newton(x, p, iterations, rung.damping)
            self.effort[which] += _flat(report, 1)[: which.size]
        self._accept(which, x, p, report)

    def _walk(self, start: OperatingPoints) -> None:
        """Walk open lanes from a neighbour's parameters to their own."""
        which = self._open()
        if not which.size:
            return
        near = start.take(np.zeros(which.size, np.intp) if start.count == 1 else which)
        begin = self._filled(near.inputs, which.size).copy()
        end = self._parameters(which, _TRUE)
        x = _blocks(near.last, self.width)
        for share in _WALK:
            p = (1.0 - share) * begin + share * end
            report = self.kernel.newton(x, p, STAGE_ITERATIONS)
            self.effort[which] += _flat(report, 1)[: which.size]
        self._accept(which, x, p, report)

    def _break(self, start: Start) -> None:
        """Let the faults of open lanes grow in their circuits without faults."""
        topology = self.model.topology
        which = self._open()
        which = which[faulty(topology, chosen(self.lanes, which), which.size)]
        if not which.size:
            return
        own = chosen(self.lanes, which)
        begin = start if start is None or start.count == 1 else start.take(which)
        mended = _Work(self.model, self.kernel, {**own, **sound(topology)}, which.size)
        x = _blocks(mended.solve(begin, "all").last, self.width)
        for share in _GROWTH:
            p = self._filled({**own, **begun(topology, own, share)}, which.size)
            report = self.kernel.newton(x, p, STAGE_ITERATIONS)
            self.effort[which] += _flat(report, 1)[: which.size]
        self._accept(which, x, p, report)

    def _parameters(self, which: NDArray[np.intp], rung: _Rung) -> Array:
        lanes = self.lanes if which.size == self.count else chosen(self.lanes, which)
        return self._filled(_on_rung(self.model, lanes, rung), which.size)

    def _filled(self, lanes: Lanes, count: int) -> Array:
        """Parameters (block, row, W) of lanes, in memory that the next call uses again."""
        wanted = self.kernel.layout.parameters
        found = self.model.parameters(wanted, lanes)
        blocks = -(-count // self.width)
        p = self.kernel.scratch(blocks)
        for row, name in enumerate(wanted):
            value = found[name]
            p[:, row] = value if np.ndim(value) == 0 else _padded(value, self.width)
        return p

    def _accept(self, which: NDArray[np.intp], x: Array, p: Array, report: Array) -> None:
        seen = self.kernel.inspect(x, p)
        at_rest, trust, imbalance = (
            _flat(report, 0)[: which.size],
            _flat(report, 2)[: which.size],
            _flat(seen, -1)[: which.size],
        )
        ends = x.sum(axis=1).reshape(-1)[: which.size]
        good = (at_rest > 0.5) & (imbalance < IMBALANCE) & np.isfinite(ends)
        doubtful = np.flatnonzero(good & ~(trust >= DISTRUST))
        if doubtful.size:
            self.doubtful = which[doubtful]
            good[doubtful] = self._confirmed(which[doubtful], _gathered(x, doubtful))
        if which.size == self.count:
            self.x, self.seen = x, seen
        else:
            block, lane = np.divmod(which, self.width)
            self.x[block, :, lane] = _gathered(x, np.arange(which.size))
            self.seen[block, :, lane] = _gathered(seen, np.arange(which.size))
        self.solved[which] = good

    def _confirmed(self, which: NDArray[np.intp], found: Array) -> Mask:
        """Lanes that row exchanges lead to the same solution (found: (lane, row))."""
        again, solved = self._dense(which[:DENSE_LANES], found[:DENSE_LANES].T)
        near = np.isclose(again.T, found[:DENSE_LANES], rtol=1e-6, atol=1e-6).all(axis=1)
        result = np.zeros(which.size, bool)
        result[:DENSE_LANES] = solved & near
        return result

    def _dense(self, which: NDArray[np.intp], start: Array) -> tuple[Array, Mask]:
        whole = self._everything(which)
        return reference.newton(self.model.topology, start, whole, DENSE_ITERATIONS)

    def _everything(self, which: NDArray[np.intp]) -> dict[Name, Array | float]:
        """Every parameter that the equations name, by lane."""
        layout = self.kernel.layout
        found = self.model.parameters(layout.parameters, chosen(self.lanes, which))
        return dict.fromkeys(layout.unread, 1.0) | found

    def _let_go(self) -> None:
        """Hold what can rest in two states at one of them while the rest settles, then let go.

        All inactive, each active by itself, all active; for a few open lanes.
        """
        free = [r for r in two_state_parts(self.model) if np.any(self.lanes.get((r, "free"), 1.0))]
        for state in np.unique(
            np.vstack([np.zeros(len(free)), np.eye(len(free)), np.ones(len(free))]), axis=0
        ):
            which = self._open()[:FEW]
            if not which.size:
                return
            bound = held(free, dict(zip(free, state, strict=True)))
            work = _Work(self.model, self.kernel, chosen(self.lanes, which) | bound, which.size)
            for ladder in ([_TRUE], _GAIN_LADDER, _LEAK_LADDER):
                work._climb(ladder, work._cold, STAGE_ITERATIONS)
            which, x = which[work.solved], work.x
            if which.size:
                x = _blocks(_gathered(x, np.flatnonzero(work.solved)), self.width)
                p = self._parameters(which, _TRUE)
                self._accept(which, x, p, self.kernel.newton(x, p, COLD_ITERATIONS))

    def _scatter(self) -> None:
        """Begin a few open lanes from many starts each, and keep the first that comes to rest."""
        which = self._open()[:FEW]
        if not which.size:
            return
        each = np.repeat(which, STARTS)
        rng = np.random.default_rng(1)
        far = np.exp(rng.uniform(np.log(0.05), np.log(3.0), STARTS))
        units = [SPREAD[u.unit] for u in self.model.topology.unknowns]
        away = far[:, None] * np.array(units) * rng.standard_normal((STARTS, len(units)))
        starts = _gathered(self._cold(each), np.arange(each.size))
        x = _blocks(starts + np.tile(away, (which.size, 1)), self.width)
        report = self.kernel.newton(x, self._parameters(each, _TRUE), SCATTERED_ITERATIONS)
        ends = x.sum(axis=1).reshape(-1)[: each.size]
        good = (_flat(report, 0)[: each.size] > 0.5) & np.isfinite(ends)
        first = np.arange(which.size) * STARTS + good.reshape(-1, STARTS).argmax(axis=1)
        self.effort[which] += _flat(report, 1)[: each.size].reshape(-1, STARTS).sum(axis=1)
        x = _blocks(_gathered(x, first), self.width)
        report = _blocks(_gathered(report, first), self.width)
        self._accept(which, x, self._parameters(which, _TRUE), report)

    def _redo_densely(self) -> None:
        """Try a few open lanes on the reference path, with row exchanges."""
        which = self._open()[:DENSE_LANES]
        if not which.size:
            return
        found, solved = self._dense(which, self.model.cold_start(which.size))
        p = self._parameters(which, _TRUE)
        report = np.ones((p.shape[0], 3, self.width))
        report[:, 0] = _padded(solved.astype(float), self.width)
        self._accept(which, _blocks(found.T, self.width), p, report)

    def _result(self) -> OperatingPoints:
        return OperatingPoints(
            self.model,
            self.kernel.layout.observables,
            self.solved,
            self.effort,
            self.lanes,
            np.arange(self.count),
            self.x,
            self.seen,
            np.arange(self.count),
        )


def _on_rung(model: Model, lanes: Lanes, rung: _Rung) -> Lanes:
    changed = dict(lanes)
    changed[GAIN] = np.multiply(lanes.get(GAIN, 1.0), rung.gain)
    changed[LEAK] = rung.leak
    if rung.sources != 1.0:
        changed |= scaled(model, lanes, driving, rung.sources)
    if rung.heat != 1.0:
        changed |= scaled(model, lanes, _thermal, rung.heat)
    return changed


def driving(device: Device) -> Iterable[str]:
    """Inputs that feed the circuit."""
    return device.drives


def loading(device: Device) -> Iterable[str]:
    """Inputs that load the circuit."""
    return device.loads


def _thermal(device: Device) -> Iterable[str]:
    """Thermal resistances; all rises in temperature are proportional to them."""
    return (name for name, value in device.values.items() if value.unit == device.thermal_unit)


def scaled(
    model: Model, lanes: Lanes, names: Callable[[Device], Iterable[str]], factor: Array | float
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


def _blocks(lanes: Array, width: int) -> Array:
    """(lane, row) as (block, row, W), contiguous; the last lane fills the last block."""
    missing = -lanes.shape[0] % width
    if missing:
        lanes = np.concatenate([lanes, np.repeat(lanes[-1:], missing, axis=0)])
    return np.ascontiguousarray(lanes.reshape(-1, width, lanes.shape[1]).transpose(0, 2, 1))


def _gathered(blocks: Array, lanes: NDArray[np.intp]) -> Array:
    """Lanes (lane, row) of blocks (block, row, W)."""
    block, lane = np.divmod(lanes, blocks.shape[2])
    found: Array = blocks[block, :, lane]
    return found


def _flat(blocks: Array, row: int) -> Array:
    """One row of blocks over all their lanes."""
    return blocks[:, row].reshape(-1)


SAMPLES, COLD = 24, 4
"""Samples for the order of elimination; one in so many lies at or around the cold start."""


def _samples(model: Model, system: System, lanes: Lanes) -> tuple[Array, Array]:
    """Unknowns and parameters on which the order of elimination is chosen.

    Around the cold start and around solutions of the reference path, over amplifier gains,
    with inputs solved and given, and with the faults that the topology names, so that no pivot is
    chosen that only sometimes exists.
    """
    rng = np.random.default_rng(1)
    count = SAMPLES + faulty_samples(model.topology)
    cold = model.cold_start(count)
    given: dict[Name, Array | float] = {**sampled(model.topology, lanes, count)}
    given |= _sampled_wishes(model, rng, count)
    for element in model.topology.elements:
        if element.device.two_state:
            given[element.ref, "free"] = rng.integers(0, 2, count).astype(float)
    given[GAIN] = np.where(rng.random(count) < 0.3, 1e-3, 1.0)
    found = model.parameters(system.parameters, given)
    # What no residual depends on may not be known, and any number will do.
    whole = dict.fromkeys(trace(model.topology).parameters, 1.0) | found
    x, _ = reference.newton(model.topology, cold, whole, 60)
    x = np.where(np.isfinite(x), x, cold)
    x[:, ::COLD] = cold[:, ::COLD]
    units = [u.unit for u in model.topology.unknowns]
    width = np.array([SPREAD[u] for u in units])[:, None]
    around = slice(SAMPLES // 2, SAMPLES)
    x[:, around] += width * rng.standard_normal((len(units), SAMPLES - SAMPLES // 2))
    x = np.where(np.array(units)[:, None] == "K", np.maximum(x, 250.0), x)
    p = np.array([np.broadcast_to(found[n], count) for n in system.parameters])
    return x, p


def _sampled_wishes(
    model: Model, rng: np.random.Generator, samples: int
) -> dict[Name, Array | float]:
    """Which inputs are solved for in each sample, and of which observable a crossing makes use.

    Where a crossing's input is given its weights are nil, so none of them may be a pivot.
    """
    given: dict[Name, Array | float] = {}
    for aim in model.topology.aims:
        given[solve_name(aim.ref, aim.input)] = rng.integers(0, 2, samples).astype(float)
    for crossing in model.topology.crossings:
        count = len(crossing.observables)
        solved = rng.integers(0, 2, samples) * (count > 0)
        used = rng.integers(0, max(count, 1), samples)
        given[solve_name(crossing.ref, crossing.input)] = solved.astype(float)
        for place, observable in enumerate(crossing.observables):
            name = weight_name(crossing.ref, crossing.input, observable)
            given[name] = np.where(used == place, solved, 0).astype(float)
    return given
