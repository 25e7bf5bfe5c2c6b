"""Operating points of thousands of lanes: Newton iteration with fall-backs, lane by lane.

A lane that an attempt leaves unsolved goes on to the next one: along the way from a neighbour, at
a pace of its own, from a cold start, with shorter steps, by stepping the amplifiers' gain up, by
letting the parts warm up in steps, by stepping the sources up, by stepping a leak away, by letting
the load grow from next to none, by letting the air cool down from where all parts are hot, by
letting its faults grow in the sound circuit, with latches and comparators held and let go, from
many starts drawn at random, and last on the reference path with row exchanges. What none of them
solves is reported as such.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from railwright.engine import reference
from railwright.engine.assembly import AMBIENT
from railwright.engine.blocks import blocks, flat, gathered, padded
from railwright.engine.faults import begun, faulty, sound
from railwright.engine.kernel import Announce, Kernel, kernel_for
from railwright.engine.kernel_code import REPORT_ROWS
from railwright.engine.ladders import (
    AIR_LADDER,
    DAMPED,
    GAIN_LADDER,
    HEAT_LADDER,
    LEAK_LADDER,
    LIGHT,
    SOURCE_LADDER,
    TRUE,
    Rung,
    on_rung,
)
from railwright.engine.model import ROOM, Lanes, Model, Name, chosen
from railwright.engine.point_samples import point_samples
from railwright.engine.solutions import OperatingPoints, joined
from railwright.engine.system import System
from railwright.engine.topology import SPREAD
from railwright.engine.two_state import held, two_state_parts

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

LADDERS = (DAMPED, GAIN_LADDER, HEAT_LADDER, SOURCE_LADDER, LEAK_LADDER)
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
VAPOUR = 4000.0  # K; a search that ends beyond it followed a part that runs away
DENSE_LANES = 16
"""Row exchanges are slow: of a piece of lanes no more than this are redone with them."""


Start = OperatingPoints | None
Reach = Literal["once", "first", "near", "all"]


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
    before a first compilation. reach: `first` makes one attempt from the start, `once` as well but
    gives up at once where pivots cannot be trusted, `near` also walks there from a neighbour's
    parameters, `all` goes through every fall-back. ValueError where the start is of another
    circuit.
    """
    _same_circuit(model, start)
    kernel = _kernel(model, lanes, announce)
    pieces = []
    for piece in _pieces(count):
        begin = start if start is None or start.count == 1 else start.take(piece)
        work = _Work(model, kernel, chosen(lanes, piece), piece.stop - piece.start)
        found = work.solve(begin, reach)
        odd = work.doubtful if work.doubtful.size > DENSE_LANES else work.doubtful[:0]
        odd = odd[:0] if reach == "once" else odd
        if reach == "all":
            odd = np.union1d(odd, work.lost())
        if odd.size and kernel.renewals < MOST_RENEWALS:
            # Too many for row exchanges: an order of elimination that fits these lanes as well.
            kernel = _renewed(work, odd[:MOST_DOUBTFUL], lanes, announce)
            work = _Work(model, kernel, chosen(lanes, piece), piece.stop - piece.start)
            found = work.solve(begin, reach)
        pieces.append(found)
    return joined(pieces, lanes)


def first_order(model: Model, lanes: Lanes, count: int, start: OperatingPoints) -> OperatingPoints:
    """Where one step of the iteration leads from solutions nearby: an estimate, not a solution.

    Good for telling which way a change moves things. Lanes count as solved where finite.
    ValueError where the start is of another circuit.
    """
    _same_circuit(model, start)
    kernel = _kernel(model, lanes, None)
    pieces = []
    for piece in _pieces(count):
        begin = start if start.count == 1 else start.take(piece)
        work = _Work(model, kernel, chosen(lanes, piece), piece.stop - piece.start)
        pieces.append(work.estimate(begin))
    return joined(pieces, lanes)


def _same_circuit(model: Model, start: Start) -> None:
    """Compiled code reads as many unknowns as its circuit has, wherever they come from."""
    if start is None:
        return
    wanted, found = (len(each.topology.unknowns) for each in (model, start.model))
    if wanted != found:
        raise ValueError(
            f"the start has {found} unknowns, the circuit {wanted}: begin from solutions of the "
            "same circuit, or from none"
        )


def _kernel(model: Model, lanes: Lanes, announce: Announce | None) -> Kernel:
    return kernel_for(model.topology, lambda system: point_samples(model, system, lanes), announce)


def _renewed(
    work: _Work, which: NDArray[np.intp], lanes: Lanes, announce: Announce | None
) -> Kernel:
    """The kernel again, its order chosen with these lanes among the samples."""
    p = work._parameters(which, TRUE)
    rows = p.transpose(1, 0, 2).reshape(p.shape[1], -1)[:, : which.size].copy()
    x = gathered(work.x, which).T
    cold = gathered(work._cold(which), np.arange(which.size)).T
    x = np.where(np.isfinite(x).all(axis=0), x, cold)

    def samples(system: System) -> tuple[Array, Array]:
        ordinary = point_samples(work.model, system, lanes)
        return np.hstack([ordinary[0], x]), np.hstack([ordinary[1], rows])

    return kernel_for(work.model.topology, samples, announce, renew=True)


def _pieces(count: int) -> Iterator[slice]:
    for first in range(0, max(count, 1), LANES_AT_ONCE):
        yield slice(first, min(first + LANES_AT_ONCE, count))


_WALK = (0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 1.0)
"""Shares of the way from a neighbour's parameters to a lane's own."""
_PACE, _LEAST_PACE, _ROUNDS = 0.1, 1e-4, 60
"""First and least share of that way in one step of a lane that walks at its own pace, and steps."""
_FASTER, _SLOWER = 2.0, 0.25
"""Times the pace after a step that was made, and after one that was not."""
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
        self.confirms = True
        """Whether such lanes are looked at with row exchanges."""
        self.astray = np.zeros(count, bool)
        """Lanes that began cold and met such pivots on their way, not for heat without end."""

    def solve(self, start: Start, reach: Reach) -> OperatingPoints:
        """Try one way after the other until all lanes are solved or no way is left."""
        self.confirms = reach != "once"
        if start is None:
            self._begin_cold()
        else:
            self._climb([TRUE], lambda which: self._from(start, which), WARM_ITERATIONS)
            if reach in ("near", "all"):
                self._walk(start)
        if reach == "all":
            if start is not None:
                self._pace(start)
                self._begin_cold()
            for ladder in LADDERS:
                self._climb(ladder, self._cold, STAGE_ITERATIONS)
            self._load()
            # After all others: it finds hot states also where there is a cool one beside.
            hot = partial(self._cold, air=AIR_LADDER[0].air)
            self._climb(AIR_LADDER, hot, STAGE_ITERATIONS)
            self._break(start)
            self._let_go()
            self._scatter()
            self._redo_densely()
        return self._result()

    def estimate(self, start: OperatingPoints) -> OperatingPoints:
        """One step from a start."""
        everything = np.arange(self.count)
        self.x = self._from(start, everything)
        p = self._parameters(everything, TRUE)
        self.kernel.newton(self.x, p, 1)
        self.seen = self.kernel.inspect(self.x, p)
        ends = self.x.sum(axis=1).reshape(-1)[: self.count]
        self.solved = np.isfinite(ends)
        return self._result()

    def lost(self) -> NDArray[np.intp]:
        """Open lanes whose first step from a cold start only this order makes divide by nil."""
        which = self._open()[:MOST_DOUBTFUL]
        x = self._cold(which)
        cold = gathered(x, np.arange(which.size)).T
        self.kernel.newton(x, self._parameters(which, TRUE), 1)
        failed = ~np.isfinite(gathered(x, np.arange(which.size)).sum(axis=1))
        found: NDArray[np.intp] = which[failed]
        if found.size:
            everything = self._everything(found)
            by_exchanges = reference.step(self.model.topology, cold[:, failed], everything)
            found = found[np.abs(by_exchanges).max(axis=0) < FARTHEST]
        return found

    def _open(self) -> NDArray[np.intp]:
        return np.flatnonzero(~self.solved)

    def _cold(self, which: NDArray[np.intp], air: float = 1.0) -> Array:
        """An unaided start with all parts as warm as the air, which is `air` times the ambient."""
        ambient = np.multiply(chosen(self.lanes, which).get(AMBIENT, ROOM), air)
        return blocks(self.model.cold_start(which.size, ambient).T, self.width)

    def _from(self, start: OperatingPoints, which: NDArray[np.intp]) -> Array:
        lanes = start.take(np.zeros(which.size, np.intp) if start.count == 1 else which)
        return blocks(lanes.last, self.width)

    def _begin_cold(self) -> None:
        which = self._open()
        report = self._climb([TRUE], self._cold, COLD_ITERATIONS)
        if report is None:
            return
        warm = [i for i, u in enumerate(self.model.topology.unknowns) if u.unit == "K"]
        hottest = gathered(self.x, which)[:, warm].max(axis=1, initial=0.0)
        self.astray[which] = (flat(report, 3)[: which.size] < DISTRUST) & ~(hottest > VAPOUR)

    def _climb(
        self, ladder: list[Rung], start: Callable[[NDArray[np.intp]], Array], iterations: int
    ) -> Array | None:
        """Walk open lanes from an easy circuit to the true one; the last report on them."""
        which = self._open()
        if not which.size:
            return None
        x = start(which)
        for rung in ladder:
            p = self._parameters(which, rung)
            report = self.kernel.newton(x, p, iterations, rung.damping)
            self.effort[which] += flat(report, 1)[: which.size]
        self._accept(which, x, p, report)
        return report

    def _walk(self, start: OperatingPoints) -> None:
        """Walk open lanes from a neighbour's parameters to their own."""
        which = self._open()
        if not which.size:
            return
        x, begin, end = self._way(start, which)
        for share in _WALK:
            p = (1.0 - share) * begin + share * end
            report = self.kernel.newton(x, p, STAGE_ITERATIONS)
            self.effort[which] += flat(report, 1)[: which.size]
        self._accept(which, x, p, report)

    def _pace(self, start: OperatingPoints) -> None:
        """Walk open lanes once more, each in steps as short as it needs, from rest to rest.

        Where one loop takes over from another, a long step may find neither in control.
        """
        which = self._open()
        if which.size:
            self._at_own_pace(which, *self._way(start, which))

    def _load(self) -> None:
        """Let the load of open lanes grow, from next to none, at which a cold start comes to rest.

        What a current limit leaves of a heavy load a cold start does not find at once.
        """
        which = self._open()
        if not which.size:
            return
        eased = dict(on_rung(self.model, chosen(self.lanes, which), LIGHT))
        light = _Work(self.model, self.kernel, eased, which.size)
        for ladder in ([TRUE], GAIN_LADDER, SOURCE_LADDER):
            light._climb(ladder, light._cold, STAGE_ITERATIONS)
        begin = self._filled(eased, which.size).copy()
        self._at_own_pace(which, light.x, begin, self._parameters(which, TRUE))

    def _at_own_pace(self, which: NDArray[np.intp], x: Array, begin: Array, end: Array) -> None:
        """From parameters to others, in blocks: each lane in steps as short as it needs."""
        done, pace = np.zeros((2, x.shape[0], 1, self.width))
        pace += _PACE
        for _ in range(_ROUNDS):
            ahead = np.minimum(done + pace, 1.0)
            tried, p = x.copy(), (1.0 - ahead) * begin + ahead * end
            report = self.kernel.newton(tried, p, STAGE_ITERATIONS)
            self.effort[which] += flat(report, 1)[: which.size]
            good = (report[:, :1] > 0.5) & np.isfinite(tried.sum(axis=1, keepdims=True))
            x, done = np.where(good, tried, x), np.where(good, ahead, done)
            pace = np.where(good, _FASTER, _SLOWER) * pace
            if np.all((done == 1.0) | (pace < _LEAST_PACE)):
                break
        self._accept(which, x, end, self.kernel.newton(x, end, STAGE_ITERATIONS))

    def _way(self, start: OperatingPoints, which: NDArray[np.intp]) -> tuple[Array, Array, Array]:
        """A neighbour's solution, its parameters and the lanes' own, in blocks."""
        near = start.take(np.zeros(which.size, np.intp) if start.count == 1 else which)
        begin = self._filled(near.inputs, which.size).copy()
        end = self._parameters(which, TRUE)
        return blocks(near.last, self.width), begin, end

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
        x = blocks(mended.solve(begin, "all").last, self.width)
        for share in _GROWTH:
            p = self._filled({**own, **begun(topology, own, share)}, which.size)
            report = self.kernel.newton(x, p, STAGE_ITERATIONS)
            self.effort[which] += flat(report, 1)[: which.size]
        self._accept(which, x, p, report)

    def _parameters(self, which: NDArray[np.intp], rung: Rung) -> Array:
        lanes = self.lanes if which.size == self.count else chosen(self.lanes, which)
        return self._filled(on_rung(self.model, lanes, rung), which.size)

    def _filled(self, lanes: Lanes, count: int) -> Array:
        """Parameters (block, row, W) of lanes, in memory that the next call uses again."""
        wanted = self.kernel.layout.parameters
        found = self.model.parameters(wanted, lanes)
        return self.kernel.filled((found[name] for name in wanted), count)

    def _accept(self, which: NDArray[np.intp], x: Array, p: Array, report: Array) -> None:
        seen = self.kernel.inspect(x, p)
        at_rest, trust, imbalance = (
            flat(report, 0)[: which.size],
            flat(report, 2)[: which.size],
            flat(seen, -1)[: which.size],
        )
        ends = x.sum(axis=1).reshape(-1)[: which.size]
        good = (at_rest > 0.5) & (imbalance < IMBALANCE) & np.isfinite(ends)
        doubtful = np.flatnonzero(good & ~(trust >= DISTRUST))
        if doubtful.size:
            self.doubtful = which[doubtful]
            good[doubtful] = self.confirms and self._confirmed(
                which[doubtful], gathered(x, doubtful)
            )
        if which.size == self.count:
            self.x, self.seen = x, seen
        else:
            block, lane = np.divmod(which, self.width)
            self.x[block, :, lane] = gathered(x, np.arange(which.size))
            self.seen[block, :, lane] = gathered(seen, np.arange(which.size))
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

        All inactive, each active by itself, each inactive by itself, all active; for a few open
        lanes.
        """
        free = [r for r in two_state_parts(self.model) if np.any(self.lanes.get((r, "free"), 1.0))]
        alone = np.eye(len(free))
        states = [np.zeros((1, len(free))), alone, 1.0 - alone, np.ones((1, len(free)))]
        for state in np.unique(np.vstack(states), axis=0):
            which = self._open()[:FEW]
            if not which.size:
                return
            bound = held(free, dict(zip(free, state, strict=True)))
            work = _Work(self.model, self.kernel, chosen(self.lanes, which) | bound, which.size)
            for ladder in ([TRUE], GAIN_LADDER, LEAK_LADDER):
                work._climb(ladder, work._cold, STAGE_ITERATIONS)
            which, x = which[work.solved], work.x
            if which.size:
                x = blocks(gathered(x, np.flatnonzero(work.solved)), self.width)
                p = self._parameters(which, TRUE)
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
        starts = gathered(self._cold(each), np.arange(each.size))
        x = blocks(starts + np.tile(away, (which.size, 1)), self.width)
        report = self.kernel.newton(x, self._parameters(each, TRUE), SCATTERED_ITERATIONS)
        ends = x.sum(axis=1).reshape(-1)[: each.size]
        good = (flat(report, 0)[: each.size] > 0.5) & np.isfinite(ends)
        first = np.arange(which.size) * STARTS + good.reshape(-1, STARTS).argmax(axis=1)
        self.effort[which] += flat(report, 1)[: each.size].reshape(-1, STARTS).sum(axis=1)
        x = blocks(gathered(x, first), self.width)
        report = blocks(gathered(report, first), self.width)
        self._accept(which, x, self._parameters(which, TRUE), report)

    def _redo_densely(self) -> None:
        """Try a few open lanes on the reference path, with row exchanges.

        Where the pivots held, row exchanges lead the same way from a cold start.
        """
        which = np.flatnonzero(~self.solved & self.astray)[:DENSE_LANES]
        if not which.size:
            return
        found, solved = self._dense(which, self.model.cold_start(which.size))
        p = self._parameters(which, TRUE)
        report = np.ones((p.shape[0], REPORT_ROWS, self.width))
        report[:, 0] = padded(solved.astype(float), self.width)
        self._accept(which, blocks(found.T, self.width), p, report)

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
