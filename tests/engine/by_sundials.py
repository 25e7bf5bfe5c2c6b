"""A circuit over time by SUNDIALS: an integrator that shares nothing with ours but the equations.

Corners of stimuli and events that depend on time alone are stop times; events that depend on
unknowns are found by the integrator's own root finding. After each of them the unknowns are made
consistent again with the stored charges kept, and the integrator starts anew.
"""

from __future__ import annotations

import contextlib
import io
import time as clock
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from engine.charge_form import ChargeForm
from numpy.typing import NDArray
from sksundae.ida import IDA

from railwright.engine.assembly import TIME
from railwright.engine.model import Lanes, Model, Name
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.topology import FLOORS, LONG_PATIENCE, SHRINKAGE, STEP_LIMITS, Topology

Array = NDArray[np.float64]
Stimuli = Mapping[Name, PiecewiseLinear]
INSTANT, SHORT = 1e-12, 1e-10
"""Length of an implicit step in which nothing but a jump happens, and of one that shows rates of
change, as shares of the whole time."""
SAME = 1e-12
"""Instants closer than this share of the whole time are one."""
ROUNDS = 100
NEWTON_STEPS = 300
REVIVALS = 20
"""How often the integrator may start anew, between two stops, where it gave up."""
MOST_CALLS = 20_000_000
"""Residuals after which a run is given up, unless another number is stated."""


class EndlessEvents(RuntimeError):
    """Events take back each other's changes."""


class Lost(RuntimeError):
    """No consistent unknowns were found."""


@dataclass(frozen=True)
class Course:
    """What became of a circuit over time."""

    form: ChargeForm
    times: Array
    x: Array
    """Unknowns (row, time); just after the event where there is one; NaN once it was lost."""
    parameters: Array
    """Parameters (row, time)."""
    happened: Sequence[tuple[float, int]]
    """Instant and number of each event that changed something."""
    residual_calls: int
    slope_calls: int
    seconds: float
    integrating: float
    """Seconds that the integrator itself took, its calls of the equations included."""
    lost: str
    """Why it did not reach the end; empty where it did."""

    @property
    def solved(self) -> bool:
        """Whether the end was reached."""
        return not self.lost

    def potential(self, net: str) -> Array:
        """Potential of a net (time)."""
        return self.unknown(net, "")

    def unknown(self, owner: str, name: str) -> Array:
        """An unknown (time)."""
        topology = self.form.topology
        return self.x[topology.index[owner, name]] if owner != topology.ground else 0.0 * self.times

    def of(self, ref: str, observable: str) -> Array:
        """An observable (time)."""
        system = self.form.system
        root = system.observed[ref, observable]
        return system.graph.evaluate([root], self.x, self.parameters)[0]


def by_sundials(
    model: Model,
    lanes: Lanes,
    times: Sequence[float] | Array,
    start: Array | None = None,
    stimuli: Stimuli | None = None,
    relative: float = 1e-6,
    absolute: float | Array = 1e-9,
    form: ChargeForm | None = None,
    most_calls: int = MOST_CALLS,
    first_step: float = 0.0,
) -> Course:
    """Unknowns at given times [s] in order, the first of which is the start.

    lanes: what differs from nominal, one number each. start: unknowns (row,), as of an operating
    point; all charges are nil where none is given. absolute: error allowed beside the relative
    one, for all unknowns or each. form: compiled equations of an earlier run with the same stimuli.
    most_calls: residuals after which the run is given up. first_step: its length [s] where the
    integrator starts anew; nil leaves it to the integrator.
    EndlessEvents where events do not come to rest.
    """
    stimuli = stimuli or {}
    form = form or ChargeForm(model.topology, tuple(stimuli))
    values = _values(model, lanes, form, stimuli)
    instants = np.array(times, float)
    run = _Run(form, values, instants, stimuli, relative, absolute, most_calls, first_step)
    began = clock.perf_counter()
    lost = run.follow(np.zeros(form.size) if start is None else np.array(start, float))
    return Course(
        form,
        run.times,
        run.found,
        run.known,
        run.happened,
        run.calls[0],
        run.calls[1],
        clock.perf_counter() - began,
        run.integrating,
        lost,
    )


def _values(model: Model, lanes: Lanes, form: ChargeForm, stimuli: Stimuli) -> Array:
    """Parameters at the start; ValueError where a constant would have to follow a stimulus."""

    def at(which: int) -> Array:
        moved = {name: float(s.values[which]) for name, s in stimuli.items()}
        found = model.parameters(form.parameters, {**lanes, **moved})
        return np.array([float(np.asarray(found[n]).reshape(-1)[0]) for n in form.parameters])

    first, last = at(0), at(-1)
    stray = [
        name
        for name, moves in zip(form.parameters, first != last, strict=True)
        if moves and name not in stimuli
    ]
    if stray:
        raise ValueError(f"{stray} follow from an input that changes; give them as its stimulus")
    return first


@dataclass
class _Run:
    form: ChargeForm
    values: Array
    times: Array
    stimuli: Stimuli
    relative: float
    absolute: float | Array
    most_calls: int
    first_step: float
    integrating: float = 0.0
    happened: list[tuple[float, int]] = field(default_factory=list)
    calls: list[int] = field(default_factory=lambda: [0, 0])

    def __post_init__(self) -> None:
        self.found = np.full((self.form.size, self.times.size), np.nan)
        self.known = np.full((len(self.values), self.times.size), np.nan)
        self.written = 0
        self.solver = self._solver()

    @cached_property
    def span(self) -> float:
        return float(self.times[-1] - self.times[0])

    @cached_property
    def corners(self) -> Array:
        return np.unique(np.concatenate([[np.inf], *(s.corners() for s in self.stimuli.values())]))

    @cached_property
    def timed(self) -> list[int]:
        """Events whose guards depend on time and held quantities alone."""
        found = []
        for i, event in enumerate(self.form.system.events):
            graph = self.form.system.graph
            nodes = [graph.nodes[k] for k in graph.needed([event.guard])]
            stimulated = [n[1] for n in nodes if n[0] == "p"]
            moving = any(self.form.parameters[k] in self.stimuli for k in stimulated)
            if not moving and all(n[0] != "x" for n in nodes):
                found.append(i)
        return found

    @cached_property
    def sought(self) -> list[int]:
        """Events that the integrator's root finding has to look for."""
        return [i for i in range(len(self.form.system.events)) if i not in self.timed]

    def at(self, t: float) -> Array:
        """Parameters at a time."""
        values = self.values.copy()
        for name, stimulus in self.stimuli.items():
            values[self.form.row[name]] = stimulus.value(t)[0]
        if TIME in self.form.row:
            values[self.form.row[TIME]] = t
        return values

    # The course as a whole

    def follow(self, x: Array) -> str:
        """Go from the first time to the last; why that failed, or nothing."""
        t, end = float(self.times[0]), float(self.times[-1])
        revivals = 0
        try:
            x = self._settled(t, x, set())
            self._write(t, x)
            while t < end:
                stop, due = self._next_stop(t, end)
                t, x, fired, message = self._integrate(t, x, stop)
                if message:
                    revivals += 1
                    if revivals > REVIVALS:
                        return message
                    continue
                revivals = 0
                if stop - t <= SAME * self.span:
                    t, fired = stop, fired | due
                if t < end or fired or self._jumps(t):
                    x = self._settled(t, x, fired)
                self._write(t, x)
        except Lost as lost:
            return str(lost)
        return ""

    def _jumps(self, t: float) -> bool:
        return any(np.count_nonzero(s.times == t) > 1 for s in self.stimuli.values())

    def _write(self, t: float, x: Array) -> None:
        while self.written < self.times.size and self.times[self.written] <= t:
            self.found[:, self.written] = x
            self.known[:, self.written] = self.at(self.times[self.written])
            self.written += 1

    def _next_stop(self, t: float, end: float) -> tuple[float, set[int]]:
        """The next instant at which something is due, and the events that are due then."""
        near = SAME * self.span
        ahead = {i: at for i, at in self._instants(t).items() if at > t + near}
        corner = float(self.corners[np.searchsorted(self.corners, t + near, side="right")])
        stop = min([end, corner, *ahead.values()])
        return stop, {i for i, at in ahead.items() if at <= stop + near}

    def _instants(self, t: float) -> dict[int, float]:
        """When guards that depend on time alone reach nil; straight in time or nearly so."""
        if not self.timed or TIME not in self.form.row:
            return {}
        self.form.run(self.at(t), t, {})
        return {i: self._instant(i, t) for i in self.timed}

    def _instant(self, event: int, t: float) -> float:
        nowhere = np.zeros(self.form.size)

        def height(at: float) -> float:
            return float(self.form.guards(at, nowhere)[event])

        before, here = t, t + self.span
        low, high = height(before), height(here)
        for _ in range(60):
            if high == 0.0 or abs(here - before) < 0.01 * SAME * self.span:
                return here
            if low == high:
                break
            before, here, low = here, here - high * (here - before) / (high - low), high
            high = height(here)
        return np.inf

    # Integration between two stops

    def _solver(self) -> IDA:
        form, calls = self.form, self.calls

        def residual(t: float, y: Array, yp: Array, out: Array) -> None:
            calls[0] += 1
            if calls[0] > self.most_calls:
                raise Lost(f"at {t:g} s: {self.most_calls} residuals are enough")
            form.residual(t, y, yp, out)

        def slopes(t: float, y: Array, yp: Array, res: Array, cj: float, out: Array) -> None:
            calls[1] += 1
            form.slopes(t, y, yp, res, cj, out)

        options: dict[str, Any] = {}
        if self.sought:
            sought = np.array(self.sought)

            def events(t: float, y: Array, yp: Array, out: Array) -> None:
                heights = form.guards(t, y)[sought]
                out[:] = np.where(heights == 0.0, np.finfo(float).tiny, heights)

            events.direction = [1] * len(sought)  # type: ignore[attr-defined]
            events.terminal = [True] * len(sought)  # type: ignore[attr-defined]
            options |= {"eventsfn": events, "num_events": len(sought)}
        return IDA(
            residual,
            jacfn=slopes,
            rtol=self.relative,
            atol=self.absolute,
            max_num_steps=MOST_CALLS,
            max_conv_fails=50,
            first_step=self.first_step,
            **options,
        )

    def _integrate(self, t: float, x: Array, stop: float) -> tuple[float, Array, set[int], str]:
        """Towards the next stop: where it came to, which events struck, and what went wrong."""
        h = min(SHORT * self.span, (stop - t) / 8.0)
        before = self._implicit_step(t, x, h)
        x = self._implicit_step(t + h, before, h)
        t = t + 2.0 * h
        self._write(t, x)
        self.form.run(self.at(t), t, self._ramps(t, stop))
        began = clock.perf_counter()
        self.solver.init_step(t, x, (x - before) / h)
        self.integrating += clock.perf_counter() - began
        while True:
            goal = min(stop, self.times[self.written]) if self.written < self.times.size else stop
            found = self._step(goal, stop)
            if found.status < 0:
                return float(found.t), found.y, set(), f"at {found.t:g} s: {found.message}"
            if found.status == 2:
                struck = np.flatnonzero(found.i_events[-1])
                return float(found.t), found.y, {self.sought[i] for i in struck}, ""
            if found.t >= stop:
                return stop, found.y, set(), ""
            self._write(float(found.t), found.y)

    def _step(self, goal: float, stop: float) -> Any:
        began = clock.perf_counter()
        try:
            # The integrator prints what went wrong; here the status tells.
            with contextlib.redirect_stdout(io.StringIO()):
                return self.solver.step(goal, tstop=stop)
        except KeyError as error:
            raise Lost(f"before {goal:g} s: an unknown status, {error}") from error
        finally:
            self.integrating += clock.perf_counter() - began

    def _ramps(self, t: float, stop: float) -> dict[Name, float]:
        return {name: float(s.lines(t, 1)[1][0]) for name, s in self.stimuli.items()}

    def _implicit_step(self, t: float, x: Array, h: float) -> Array:
        """Unknowns a short step h after t; charges are those of x at t."""
        form = self.form
        form.hold(self.at(t), t)
        return self._kept(t + h, x, form.stored(t, x), h)

    # Events

    def _settled(self, t: float, x: Array, fired: set[int]) -> Array:
        """Unknowns just after t, once every event that acts there has acted."""
        form = self.form
        form.hold(self.at(t), t)
        charges = form.stored(t, x)
        for round_ in range(ROUNDS):
            form.hold(self.at(t), t)
            acting = fired | {i for i, g in enumerate(form.guards(t, x)) if g >= 0.0}
            changed = self._change(t, x, acting)
            if round_ and not changed:
                return x
            fired = set()
            x = self._kept(t, x, charges, INSTANT * self.span)
        raise EndlessEvents(f"events at {t:g} s take back each other's changes")

    def _change(self, t: float, x: Array, acting: set[int]) -> bool:
        """Give held quantities their new values; whether one differs."""
        events, graph = self.form.system.events, self.form.system.graph
        new: dict[Name, float] = {}
        values = self.at(t)[:, None]
        for i in sorted(acting):
            names = [n for n in events[i].changes if n in self.form.row]
            found = graph.evaluate([events[i].changes[n] for n in names], x[:, None], values)
            new |= {name: float(v[0]) for name, v in zip(names, found, strict=True)}
            if any(new[n] != self.values[self.form.row[n]] for n in names):
                self.happened.append((t, i))
        changed = False
        for name, value in new.items():
            row = self.form.row[name]
            changed |= bool(self.values[row] != value)
            self.values[row] = value
        return changed

    def _kept(self, t: float, x: Array, charges: Array, h: float) -> Array:
        """Unknowns for which F(x) + (Q(x) - charges)/h = 0, by Newton's method."""
        form = self.form
        form.hold(self.at(t), t)
        still, rest, slopes = np.zeros(form.size), np.zeros(form.size), np.zeros((form.size,) * 2)
        limits, floors = _limits(form.topology)
        floors = np.maximum(floors, 1e-3 * self.absolute)
        x, before = x.copy(), np.inf
        for done in range(NEWTON_STEPS):
            form.residual(t, x, still, rest)
            missing = rest + (form.stored(t, x) - charges) / h
            form.slopes(t, x, still, rest, 1.0 / h, slopes)
            try:
                step = -np.linalg.solve(slopes, missing)
            except np.linalg.LinAlgError as error:
                raise Lost(f"at {t:g} s: the equations are singular") from error
            closer = 1.0 + SHRINKAGE * max(0.0, done - LONG_PATIENCE)
            x = x + step / max(1.0, float((np.abs(step) * closer / limits).max()))
            size = float((np.abs(step) / (1e-9 * np.abs(x) + floors)).max())
            # On, until rounding is all that is left.
            if (size <= 1.0 and size >= 0.1 * before) or size == 0.0:
                return x
            before = size
        raise Lost(f"at {t:g} s: no consistent unknowns were found")


def _limits(topology: Topology) -> tuple[Array, Array]:
    units = [u.unit for u in topology.unknowns]
    return np.array([STEP_LIMITS[u] for u in units]), np.array([FLOORS[u] for u in units])
