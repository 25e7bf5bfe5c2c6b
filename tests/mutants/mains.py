"""The same where the input alternates: SUNDIALS follows mains cycles until they repeat.

The cycle in which a supply rests is found by shooting: SUNDIALS follows one cycle, and the slopes
of the equations along it tell from which unknowns, and from which temperatures, it would come back
to where it began. What is thermal is far slower than a cycle and stands still in it; the mean of
its balance must be nil. The same slopes give the effect of every spread value on the whole cycle.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from engine.by_sundials import by_sundials
from mutants.rules import Ruled, mains_share, rejection, switched
from mutants.truth import CALLS, JUNCTION_SCALE, Array, Demand, Seen, Stop, Truth, Undecided
from numpy.typing import NDArray

from railwright.circuit.circuit import Part
from railwright.devices.device import Rating
from railwright.engine.assembly import TIME
from railwright.engine.model import Model, Name
from railwright.engine.stimulus import PiecewiseLinear
from railwright.surveys.fixture import SOURCE

INSTANTS = 120
"""Of a cycle at which it is looked at."""
ERRORS = 1e-4, 1e-5
"""Relative and absolute, of SUNDIALS."""
RAMP = 2e-4
"""s; within which the mains come up where they are switched on at their crest."""
FIRST = 6
"""Cycles after switching on before the cycle at rest is sought."""
SWITCHED = 5
"""Cycles after which what goes with switching on is over."""
ROUNDS = 14
"""Steps towards the cycle that repeats."""
WAITS, PLAIN = 5, 8
"""Steps and cycles before each, where that came to nothing."""
VOLTS, SHARE, KELVINS = 5e-3, 1e-3, 0.2
"""What may be left of a step there; the share is of an unknown's peak."""
FARTHEST = 10.0
"""V, A; of one step."""
WARMEST = 60.0
"""K; of one step."""
TOGETHER = 4000
"""Instants of lanes whose equations are evaluated side by side."""


@dataclass(frozen=True)
class Slopes:
    """What a cycle depends on: columns are unknowns at its start, temperatures, then lanes."""

    by: Array
    """Of unknowns that are no temperatures (instant, row, column)."""
    heat: Array
    """Of the mean balance of heat (thermal row, column)."""

    @property
    def count(self) -> int:
        """Columns before those of lanes."""
        return self.by.shape[1] + self.heat.shape[0]

    def step(self, left: Array) -> Array:
        """What to add to the start, and to temperatures, for nothing to be left (column, lane)."""
        away = np.vstack([self.by[-1], self.heat])[:, : self.count].copy()
        away[: self.by.shape[1], : self.by.shape[1]] -= np.eye(self.by.shape[1])
        return np.linalg.solve(away, -left)

    def ends(self) -> Array:
        """How the start and the temperatures move with each lane (column, lane), lanes below."""
        lanes = np.vstack([self.by[-1], self.heat])[:, self.count :]
        return np.vstack([self.step(lanes), np.eye(lanes.shape[1])])


@dataclass
class MainsTruth(Truth):
    """One design on the mains."""

    near = 0.5

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.knobs:
            raise Undecided("controls on the mains are not looked at")
        given = self.design.need.input.frequency
        assert given is not None
        self.period = 1.0 / given.min
        self.known: dict[bytes, Seen] = {}

    @property
    def model(self) -> Model:
        return self.survey.fixture.mains_model

    @cached_property
    def running(self) -> tuple[Name, ...]:
        return ((SOURCE, "voltage"),)

    @property
    def stops(self) -> list[Stop]:
        """Corners, the full load first: from there on the reservoir only fills."""
        return sorted(super().stops, key=lambda stop: -stop.load)

    def lanes(self, stop: Stop, actual: Array, knob: float | Array = 0.0) -> dict[Name, Any]:
        found = super().lanes(stop, actual, knob)
        return {**found, (SOURCE, "frequency"): 1.0 / self.period, (SOURCE, "phase"): 0.0}

    # Cycles

    def cycles(
        self, stop: Stop, actual: Array, start: Array, times: Array, phase: float = 0.0,
        ramp: float = 0.0,
    ) -> Array:  # fmt: skip
        """Unknowns (row, time) by SUNDIALS, at constant temperatures."""
        lanes = {k: float(np.ravel(v)[0]) for k, v in self.lanes(stop, actual).items()}
        lanes[SOURCE, "phase"] = phase
        volts = lanes.pop((SOURCE, "voltage"))
        rise = PiecewiseLinear([0.0, ramp], [0.0, volts]) if ramp else None
        stimuli = {(SOURCE, "voltage"): rise or PiecewiseLinear([0.0], [volts])}
        relative, absolute = ERRORS
        try:
            course = by_sundials(
                self.model, lanes, times, start, stimuli, relative, absolute, self.held, 20 * CALLS
            )
        except Exception as error:
            raise Undecided(str(error)) from error
        if not course.solved:
            raise Undecided(course.lost)
        return course.x

    @cached_property
    def even(self) -> Array:
        return np.linspace(0.0, self.period, INSTANTS + 1)

    def switched_on(
        self, stop: Stop, phase: float, cycles: int, actual: Array
    ) -> tuple[Array, Array]:
        """Instants, and unknowns (row, instant) from the moment at which the mains are put on."""
        times = np.linspace(0.0, cycles * self.period, cycles * INSTANTS + 1)
        start = np.zeros(self.form.size)
        start[self.thermal] = stop.ambient
        ramp = RAMP if phase else 0.0
        return times, self.cycles(stop, actual, start, times, phase, ramp)

    def start(self) -> tuple[Array, dict[str, list[float]]]:
        """Unknowns after some cycles of the crest's half, so that they end where cycles begin."""
        times, x = self.switched_on(self.stops[0], 0.5 * np.pi, FIRST, self.spread.typical[:, None])
        begins = x[:, int(np.searchsorted(times, (FIRST - 0.25) * self.period - 1e-9))]
        return begins, {}

    @cached_property
    def others(self) -> NDArray[np.intp]:
        """Rows of all unknowns that are no temperatures."""
        return np.setdiff1d(np.arange(self.form.size), self.thermal)

    def hold(self, stop: Stop, start: Array, actual: Array, knob: float = 0.0) -> Array:
        """Unknowns at the start of the cycle that repeats."""
        try:
            return self._sought(stop, start, actual, ROUNDS, 1)
        except (Undecided, np.linalg.LinAlgError):
            return self._sought(stop, start, actual, WAITS, PLAIN)

    def _sought(self, stop: Stop, start: Array, actual: Array, rounds: int, passed: int) -> Array:
        """The same by so many steps, each after so many cycles.

        After several cycles only temperatures are moved on: all else finds its place by itself.
        """
        parameters = self.parameters(stop, actual)
        x, count = start.copy(), self.others.size
        for _ in range(rounds):
            for _ in range(passed):
                course = self.cycles(stop, actual, x, self.even)
                x = course[:, -1]
            move = self._slopes(course, parameters).step(self._left(course, parameters))
            if passed > 1:
                move[:count] = course[self.others, -1] - course[self.others, 0]
            most = np.abs(move[:count]).max(initial=0.0)
            peaks = np.abs(course[self.others]).max(axis=1)
            left = (np.abs(move[:count]) / (VOLTS + SHARE * peaks)).max(initial=0.0)
            hotter = np.abs(move[count:]).max(initial=0.0)
            share = max(1.0, most / FARTHEST, hotter / WARMEST)
            x = course[:, 0].copy()
            x[self.others] += move[:count] / share
            x[self.thermal] += move[count:] / share
            if left < 1.0 and hotter < KELVINS:
                return x
        raise Undecided(f"no cycle repeats at {stop.name}")

    def _left(self, course: Array, parameters: Array) -> Array:
        """By how much a cycle does not come back, and the mean heat that nothing takes away."""
        form, still, out = self.form, np.zeros(self.form.size), np.zeros(self.form.size)
        heat, values = np.zeros(self.thermal.size), parameters[:, 0].copy()
        for t, x in zip(self.even[1:], course.T[1:], strict=True):
            values[form.row[TIME]] = t
            form.hold(values, float(t))
            form.residual(float(t), x, still, out)
            heat += out[self.thermal] / INSTANTS
        return np.concatenate([course[self.others, -1] - course[self.others, 0], heat])

    def _slopes(self, course: Array, parameters: Array, disturbed: Array | None = None) -> Slopes:
        """What all instants depend on, step by step.

        disturbed: residuals (row, instant, lane) that other parameters would leave.
        """
        form, e, w = self.form, self.others, self.thermal
        lanes = 0 if disturbed is None else disturbed.shape[2]
        count, step = e.size + w.size, self.period / INSTANTS
        still, out = np.zeros(form.size), np.zeros(form.size)
        plain, both = np.zeros((form.size,) * 2), np.zeros((form.size,) * 2)
        by = np.zeros((INSTANTS + 1, e.size, count + lanes))
        by[0, :, : e.size] = np.eye(e.size)
        heat, before = np.zeros((w.size, count + lanes)), np.zeros_like(plain)
        values = parameters[:, 0].copy()
        among, by_heat, of_heat, of_both = (
            np.ix_(a, b) for a, b in ((e, e), (e, w), (w, e), (w, w))
        )
        for k, t in enumerate(self.even):
            values[form.row[TIME]] = t
            form.hold(values, float(t))
            form.slopes(float(t), course[:, k], still, out, 0.0, plain)
            form.slopes(float(t), course[:, k], still, out, 1.0, both)
            stored = (both - plain) / step
            if k:
                right = before[among] @ by[k - 1]
                right[:, e.size : count] -= (plain + stored - before)[by_heat]
                heat[:, e.size : count] += plain[of_both] / INSTANTS
                if disturbed is not None:
                    right[:, count:] -= disturbed[e, k]
                    heat[:, count:] += disturbed[w, k] / INSTANTS
                by[k] = np.linalg.solve((plain + stored)[among], right)
                heat += plain[of_heat] @ by[k] / INSTANTS
            before = stored
        return Slopes(by, heat)

    # Effects of the spread

    def around(self, stop: Stop, x: Array, knob: float | None) -> Seen:
        """The cycle as it is, and moved by each quantity at each of its ends."""
        size = self.spread.size
        actual = np.repeat(self.spread.typical[:, None], 1 + 2 * size, axis=1)
        for q in range(size):
            actual[q, 1 + 2 * q] = self.spread.low[q]
            actual[q, 2 + 2 * q] = self.spread.high[q]
        parameters = self.parameters(stop, actual)
        course = self.cycles(stop, self.spread.typical[:, None], x, self.even)
        slopes = self._slopes(course, parameters, self._disturbed(course, parameters))
        every = np.repeat(course[:, :, None], 1 + 2 * size, axis=2)
        begins = slopes.ends()
        every[self.others] += (slopes.by @ begins).transpose(1, 0, 2)
        every[self.thermal] += begins[self.others.size : slopes.count][:, None]
        return self.observe(stop, every[:, :-1], parameters, None)

    def _disturbed(self, course: Array, parameters: Array) -> Array:
        """Residuals (row, instant, lane) that the parameters of lanes leave in the first one's."""
        system, lanes = self.form.system, parameters.shape[1]
        nil = system.graph.constant(0.0)
        roots = [*system.residuals, *(system.stored.get(r, nil) for r in range(self.form.size))]
        found = self._evaluated(roots, np.repeat(course[:, :, None], lanes, axis=2), parameters)
        found -= found[:, :, :1]
        plain, stored = np.split(found, 2)
        plain[:, 1:] += np.diff(stored, axis=1) * INSTANTS / self.period
        return plain

    def _evaluated(self, roots: Any, x: Array, parameters: Array) -> Array:
        """Values (root, instant, lane) for unknowns (row, instant, lane)."""
        instants, lanes = x.shape[1:]
        found, some = np.empty((len(roots), instants, lanes)), max(1, TOGETHER // lanes)
        for first in range(0, instants, some):
            times = self.even[first : min(first + some, instants)]
            values = np.repeat(parameters[:, None], times.size, axis=1)
            values[self.form.row[TIME]] = times[:, None]
            part = x[:, first : first + times.size]
            rows = self.form.system.graph.evaluate(
                roots, part.reshape(len(x), -1), values.reshape(len(values), -1)
            )
            found[:, first : first + times.size] = np.reshape(rows, (len(roots), -1, lanes))
        return found

    def observe(self, stop: Stop, x: Array, parameters: Array, knob: Array | None) -> Seen:
        values = self._evaluated([self.form.system.observed[n] for n in self.wanted], x, parameters)
        topology = self.form.topology
        nets = {
            net: x[topology.index[net, ""]] if net != topology.ground else np.zeros(x.shape[1:])
            for net in self.survey.fixture.powered.nets
        }
        return Seen(stop, x, parameters, dict(zip(self.wanted, values, strict=True)), nets, knob)

    def at(self, seen: Seen, sides: Array) -> Seen:
        """The cycle with the parts at ends of their spreads."""
        key = seen.stop.name.encode() + sides.astype(np.int8).tobytes()
        if key not in self.known:
            actual = self.actual(sides)[:, None]
            x = self.hold(seen.stop, seen.x[:, 0, 0], actual)
            course = self.cycles(seen.stop, actual, x, self.even)[:, :-1, None]
            self.known[key] = self.observe(
                seen.stop, course, self.parameters(seen.stop, actual), None
            )
        return self.known[key]

    # Demands

    def course(self, seen: Seen, ref: str, rating: Rating) -> Array:
        found = seen.of(ref, rating.bounds)
        if rating.bounds_of_course == "mean":
            return found.mean(axis=0, keepdims=True)
        if rating.bounds_of_course == "rms":
            return _effective(found)
        return found

    def demands(self, seen: Seen) -> Iterator[Demand]:
        """Those of every stop at their worst instants, and those of a whole cycle."""
        for rule, subject, limit, margin, scale in super().demands(seen):
            yield rule, subject, limit, margin.min(axis=0), scale
        allowed, rail = self.rail.ripple, self.rail.name
        if allowed is not None:
            yield "ripple", rail, allowed, allowed - self._ripple(seen), allowed
        for part in self.design.circuit.parts:
            if part.kind == "transformer":
                yield from self._windings(part, seen)
            promised = part.values.get("rated_ripple") if part.kind == "capacitor" else None
            if promised is not None and promised.spread.typical > 0:
                current = seen.of(part.ref, "current")
                limit = promised.spread.typical * mains_share(
                    part.values["capacitance"].spread.typical
                )
                size = _effective(current - current.mean(axis=0))[0]
                yield "ripple current", part.ref, limit, limit - size, limit

    def _ripple(self, seen: Seen) -> Array:
        """Peak to peak at the output over lanes, and at least what is promised of a regulator.

        The limits of its line regulation hold for slow changes, warmth included; of a ripple its
        rejection is promised, so that no lane has another line regulation than the typical one.
        """
        found = np.ptp(self.output(seen), axis=0)
        for part in self.design.circuit.parts:
            decibels = rejection(part)
            if decibels is None:
                continue
            for number, quantity in enumerate(self.spread.quantities):
                lanes = slice(1 + 2 * number, 3 + 2 * number)
                if (part.ref, "line_regulation") in quantity.moves:
                    found[lanes] = found[:1]
            before = seen.potentials[part.pins["input"]] - seen.potentials[part.pins["ground"]]
            found = np.maximum(found, np.ptp(before, axis=0) * 10.0 ** (-decibels / 20.0))
        return found

    def _windings(self, part: Part, seen: Seen) -> Iterator[Demand]:
        """What a transformer's label and class promise: IEC 61558-1."""
        rated, rise, limit, first, own, ratio, core = (
            part.values[name].spread.typical
            for name in ("rated_current", "rated_rise", "winding_limit", "primary_resistance",
                         "secondary_resistance", "turns_ratio", "core_resistance")
        )  # fmt: skip
        for winding in ("secondary", "second"):
            size = _effective(seen.of(part.ref, f"{winding}_current"))[0]
            yield "winding current", part.ref, rated, rated - size, rated
        nominal = self.design.need.input.voltage.nominal
        full = 2 * rated**2 * own + (2 * rated / ratio) ** 2 * first + nominal**2 / core
        lost = seen.of(part.ref, "power").mean(axis=0)
        yield ("winding heat", part.ref, limit,
               limit - seen.stop.ambient - rise * lost / full, JUNCTION_SCALE)  # fmt: skip

    def together(self) -> list[Ruled]:
        return [*super().together(), *self._switched_on()]

    def tour(self) -> list[Seen]:
        seen, (x, _) = [], self.start()
        for stop in self.stops:
            x = self.hold(stop, x, self.spread.typical[:, None])
            seen.append(self.sound(self.around(stop, x, None)))
        return seen

    def _switched_on(self) -> Iterator[Ruled]:
        """Fuses and rectifiers while the reservoir fills and the core is drawn aside.

        Nothing holds the current back but resistances, which are at their low ends.
        """
        stop = max(self.stops, key=lambda stop: (stop.input, -stop.ambient, stop.load))
        sides = [
            -1 if all(name.endswith("resistance") or name == "esr" for _, name in q.moves) else 0
            for q in self.spread.quantities
        ]
        actual = self.actual(np.array(sides))[:, None]
        parameters = self.parameters(stop, actual)
        for phase in (0.0, 0.5 * np.pi):
            times, x = self.switched_on(stop, phase, SWITCHED, actual)
            for part in self.design.circuit.parts:
                name = part.ref, "current"
                if part.kind not in ("fuse", "bridge-rectifier", "diode"):
                    continue
                roots = [self.form.system.observed[name]]
                (current,) = self.form.system.graph.evaluate(
                    roots, x, np.repeat(parameters, times.size, axis=1)
                )
                yield from switched(part, times, np.abs(current))

    def _rates(self, seen: Seen) -> NDArray[np.complex128]:
        """At instants spread over the cycle."""
        lanes = [
            Seen(seen.stop, seen.x[:, k], seen.parameters, seen.observed, seen.potentials)
            for k in range(0, INSTANTS, INSTANTS // 8)
        ]
        return np.concatenate([super(MainsTruth, self)._rates(lane) for lane in lanes])


def _effective(course: Array) -> Array:
    found: Array = np.sqrt(np.mean(course**2, axis=0, keepdims=True))
    return found
