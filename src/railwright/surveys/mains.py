"""A supply on alternating mains: the cycle in which it rests, and what that makes of a question.

A question that knows of one operating point is put at instants of the mains cycle, and the worst
of them counts. Ratings that bound a mean or an effective value get that of the whole cycle, and
temperatures are those that its mean heat keeps up.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Self, cast

import numpy as np
from numpy.typing import NDArray

from railwright.engine.assembly import SYSTEM, temperature_name
from railwright.engine.cycle import UNDECIDED, Cycle, cycle
from railwright.engine.mean_heat import felt, kept_up, temperatures_of, thermal_rows
from railwright.engine.model import ROOM, MissingValue, Model, Name, chosen
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.solutions import OperatingPoints, joined
from railwright.engine.transient import Tolerance
from railwright.standards.electrolytic import mains_share
from railwright.surveys.courses import together
from railwright.surveys.cycles import IN_CYCLES, CycleView, InCycles, batches, clocks
from railwright.surveys.depth import DEFAULT, Depth
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import (
    DIRECT,
    SOURCE,
    STANDS_FOR,
    is_turned,
    stand_in,
    terminals,
    transforms,
    wired,
)
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, OfCourse, Situation, Thrift, View, Which
from railwright.surveys.spread import unpublished_loops
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
PHASES = 240
"""Instants of a cycle at which it is looked at for extremes, means and effective values."""
EVERY = 10
"""Of these, one in so many is an instant at which questions are put."""
HEATED = 4
"""Of these, one in so many counts for the mean heat."""
WARM = 8.0
"""K; a cycle is computed again where its temperatures turn out to differ by more. What its heat
then keeps up is exact to about a tenth of that: a junction that is warmer by 8 K loses 16 mV."""
ROUNDS = 6
SLIGHT = 0.25
"""Share of a limit up to which a value with typical parts is no matter of their spread: none makes
four times as much of it."""
CLOSE = Tolerance(1e-4, 1e-4)
"""Of each step: a tenth of a milliampere and of a millivolt, below which a winding may ring with
the diodes that it feeds without being followed."""
WORST_AT_QUICK = 4
"""Worst points of a question at which vertices are solved at depth quick; deeper, at all."""
PHASE = float(np.arcsin(STANDS_FOR / np.sqrt(2.0)))
"""Of the sine at the start of a cycle: where it passes the volts of the stand-in on its way up."""


@dataclass(frozen=True)
class Course:
    """What is kept of mains cycles over lanes, of one frequency."""

    moments: OperatingPoints
    """Lanes at their instants, those of a lane side by side."""
    instants: int
    means: Mapping[tuple[OfCourse, Name], Array]
    ripple: Mapping[str, Array]
    """Rail -> peak to peak at its terminals [V]."""
    start: Array
    """Unknowns (row, lane) of the isothermal circuit at the start of the cycle."""
    temperatures: Array
    """(thermal unknown, lane), less those of the stand-in [K]."""

    @property
    def solved(self) -> NDArray[np.bool_]:
        """Lanes whose cycle was found."""
        found: NDArray[np.bool_] = self.moments.solved[:: self.instants]
        return found

    def take(self, which: Which) -> Course:
        """Chosen lanes, repeated where asked for."""
        return Course(
            self.moments.take(_spread(which, self.instants)),
            self.instants,
            {key: row[which] for key, row in self.means.items()},
            {rail: row[which] for rail, row in self.ripple.items()},
            self.start[:, which],
            self.temperatures[:, which],
        )


def _spread(which: Which, instants: int) -> Which:
    """Places of all instants of lanes."""
    found: Which = (which[:, None] * instants + np.arange(instants)).ravel()
    return found


@dataclass(frozen=True, kw_only=True)
class Moments(View):
    """Instants of mains cycles, each as a lane of its own."""

    course: Course

    def of_course(self, what: OfCourse, ref: str, observable: str) -> Array:
        if what == "peak":
            return self.at.of(ref, observable)
        return np.repeat(self.course.means[what, (ref, observable)], self.course.instants)

    def ripple(self, rail: str) -> Array:
        """Peak to peak at the terminals of a rail [V]."""
        return np.repeat(self.course.ripple[rail], self.course.instants)


Courses = tuple[Course, ...]
"""One for each frequency that is looked at."""


@dataclass(frozen=True, kw_only=True)
class MainsView(View):
    """Lanes at rest on a stand-in of the mains, and the mains cycle that each of them makes."""

    courses: Mapping[str, Courses] = field(default_factory=dict)
    """By the name of what it is compared with; `at` has none."""

    @property
    def solved(self) -> NDArray[np.bool_]:
        found = super().solved
        for several in self.courses.values():
            for course in several:
                found &= course.solved
        return found

    def take(self, which: Which) -> Self:
        courses = {n: tuple(c.take(which) for c in several) for n, several in self.courses.items()}
        return replace(super().take(which), courses=courses)

    def moments(self) -> Iterator[Moments]:
        """The instants of each frequency."""
        for place, course in enumerate(self.courses[""]):
            which = np.repeat(np.arange(self.points.count), course.instants)
            beside = {name: self.courses[name][place].moments for name in self.beside}
            points = self.points.take(which)
            yield Moments(self.survey, points, course.moments, beside, course=course)

    def waveform(self, rail: str) -> tuple[Array, Array]:
        """Instants of a cycle [s], and the voltage at the terminals, of one lane.

        At the frequency at which it ripples most.
        """
        several = self.courses[""]
        place = int(np.argmax([course.ripple[rail][0] for course in several]))
        even = np.arange(0, PHASES, EVERY)
        volts = self.survey.rail_voltage(several[place].moments, rail)[: even.size]
        return even / (PHASES * frequencies(self.survey)[place]), volts


def put(question: Callable[[View], Answer], view: View) -> Answer:
    """The answer to a question; of mains cycles that of each lane's worst instant."""
    if not isinstance(view, MainsView):
        return question(view)
    answers = [_by_lane(question(m), view.points.count) for m in view.moments()]
    margin, value, limit, *sides = (np.hstack(rows) for rows in zip(*answers, strict=True))
    worst = np.arange(view.points.count), np.argmin(margin, axis=1)
    found = Answer(margin[worst], value[worst], limit[worst], tuple(s.min(axis=1) for s in sides))
    return replace(found, ample=_ample(found))


def _ample(answer: Answer) -> float:
    """The margin of a value far below what it must not exceed; infinite where it must reach it.

    Effects take as many cycles as there are quantities, so that they are sought where they matter.
    """
    if not np.allclose(answer.margin, answer.limit - answer.value, equal_nan=True):
        return np.inf
    return float((1.0 - SLIGHT) * np.abs(answer.limit).max())


def _by_lane(answer: Answer, count: int) -> tuple[Array, ...]:
    """Margin, value, limit and all further margins, (lane, instant)."""
    rows = answer.margin, answer.value, answer.limit, *answer.margins
    return tuple(np.asarray(row, float).reshape(count, -1) for row in rows)


class OnMains(Situation):
    """Another situation, in the mains cycles that its lanes make."""

    scope = "in cycles"
    thrift = Thrift(anchors=1, corners=False, estimated=False, turns=0, sampled=1, samples=32)

    def __init__(self, inner: Situation) -> None:
        self.inner = inner
        self.name = inner.name
        self.since = inner.since

    def thrift_at(self, depth: Depth) -> Thrift:
        found = super().thrift_at(depth)
        return found if depth.covers(DEFAULT) else replace(found, vertices=WORST_AT_QUICK)

    def applies(self, survey: Survey) -> bool:
        return self.inner.applies(survey)

    def unready(self, survey: Survey) -> str:
        return self.inner.unready(survey) or survey.once(unready)

    def assumes(self, survey: Survey) -> Sequence[str]:
        return unpublished_loops(survey.fixture.circuit)

    def points(self, survey: Survey) -> Points:
        return self.inner.points(survey)

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> MainsView:
        rest = self.inner.view(survey, points, actual, near)
        known = cast(MainsView, near).courses if near is not None else {}
        solutions = {"": rest.at, **rest.beside}
        done: dict[int, Courses] = {}
        courses = {}
        for name, at in solutions.items():
            if id(at) not in done:
                done[id(at)] = _courses(survey, at, known.get(name))
            courses[name] = done[id(at)]
        return MainsView(survey, points, rest.at, rest.beside, courses=courses)


@cache
def _on_mains(situation: Situation) -> OnMains:
    return OnMains(situation)


class InUse(Situation):
    """As set; in the cycle of what switches, or of the mains, where there is one."""

    name = "in use"
    scope = "in cycles"


class CyclesOnMains(InCycles):
    """In the cycle of what switches, its input held at the valley and at the crest of the mains.

    Far faster than the mains, it finds its input at rest at every instant. The input of a point is
    what brings the stand-in to that voltage.
    """

    on_mains = False

    def points(self, survey: Survey) -> Points:
        base = super().points(survey)
        valley, crest = _supplied(survey.within(self.scope), base)
        return together(
            replace(base, input=base.input * valley), replace(base, input=base.input * crest)
        )

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CycleView:
        cycles = super().view(survey, points, actual, near)
        mains = OnMains(AS_SET).view(survey, points, actual, None)
        slow = {
            part.ref: _slow(mains, part.ref)
            / mains_share(part.values["capacitance"].spread.typical)
            for part in survey.fixture.circuit.parts
            if part.kind == "capacitor"
        }
        return replace(cycles, slow=slow)


def _supplied(survey: Survey, points: Points) -> Array:
    """What a switching part is supplied with at the valley and at the crest of the mains, as shares
    of what the stand-in gives it (2, point); not-a-number where no cycle was found."""
    (clock,) = clocks(survey.fixture.circuit)
    view = OnMains(AS_SET).view(survey, points, survey.typical(points.count), None)
    rest = view.at.of(clock, "supply_voltage")
    seen = np.hstack(
        [
            course.moments.of(clock, "supply_voltage").reshape(points.count, -1)
            for course in view.courses[""]
        ]
    )
    shares = np.array([seen.min(axis=1), seen.max(axis=1)]) / rest
    found: Array = np.where(view.solved, shares, np.nan)
    return found


def _slow(view: MainsView, ref: str) -> Array:
    """Effective value of what alternates with the mains in the current of a part [A]."""
    several = [_alternating(course.means, ref) for course in view.courses[""]]
    found: Array = np.where(view.solved, np.max(several, axis=0), np.nan)
    return found


def _alternating(means: Mapping[tuple[OfCourse, Name], Array], ref: str) -> Array:
    rms, mean = means["rms", (ref, "current")], means["mean", (ref, "current")]
    found: Array = np.sqrt(np.maximum(rms**2 - mean**2, 0.0))
    return found


IN_USE, CYCLES_ON_MAINS = InUse(), CyclesOnMains()


def as_fed(survey: Survey, situation: Situation) -> Situation:
    """A situation as a supply's input has it."""
    if situation is IN_USE:
        situation = IN_CYCLES if clocks(survey.fixture.circuit) else AS_SET
    if situation is IN_CYCLES and survey.fixture.alternating:
        return CYCLES_ON_MAINS
    on_mains = survey.fixture.alternating and situation.on_mains
    return _on_mains(situation) if on_mains else situation


def to_and_fro(view: View, ref: str) -> Array:
    """Effective value of what alternates in the current of a part, of lanes in use [A].

    Where something switches, what the mains add counts as in `CycleView.slow`.
    """
    if isinstance(view, CycleView):
        rms, mean = (view.kept(what, ref, "current") for what in ("rms", "mean"))
        slow = view.slow.get(ref, np.zeros(view.points.count))
        return np.asarray(np.sqrt(np.maximum(rms**2 - mean**2, 0.0) + slow**2))
    if isinstance(view, Moments):
        return np.repeat(_alternating(view.course.means, ref), view.course.instants)
    return np.zeros(view.points.count)


def unready(survey: Survey) -> str:
    """Why mains cycles cannot be looked at; empty where they can."""
    points = survey.range.middle()
    try:
        OnMains(AS_SET).view(survey, points, survey.typical(1), None)
    except MissingValue as error:
        return f"{error}, which tells how it behaves in time. State it."
    return ""


def frequencies(survey: Survey) -> list[float]:
    """Least and greatest frequency of the mains [Hz]."""
    given = survey.fixture.design.need.input.frequency
    assert given is not None
    return sorted({given.min, given.max})


def _courses(survey: Survey, at: OperatingPoints, known: Courses | None) -> Courses:
    found = []
    for place, frequency in enumerate(frequencies(survey)):
        near = None if known is None else known[place]
        rest = alternating(survey, at, frequency)
        pieces = [
            _Cycles(survey, at.take(some), rest.take(some), near and near.take(some)).course()
            for some in batches(at.count)
        ]
        found.append(_together(pieces))
    return tuple(found)


def alternating(survey: Survey, at: OperatingPoints, frequency: float) -> Quiescent:
    """Lanes at rest on the stand-in, as lanes of the circuit that alternates, temperatures held.

    They begin where the sine passes the volts of the stand-in, so that nothing jumps and rings.
    """
    rest = quiescent(at)
    # Lanes without a state at rest are followed from anything, and stay unsolved.
    lanes: dict[Name, Array | float] = {
        name: np.where(np.isnan(row), ROOM if name[0] == SYSTEM else 0.5, row)
        for name, row in rest.lanes.items()
    }
    ref, share = next(iter(survey.fixture.feeds.items()))
    lanes[SOURCE, "voltage"] = lanes[ref, "voltage"] / share
    lanes[SOURCE, "frequency"] = frequency
    lanes[SOURCE, "phase"] = PHASE
    full = survey.fixture.mains_model
    held = replace(full.topology, isothermal=True, aims=(), crossings=())
    index = rest.model.topology.index
    known = {own: rest.x[row] for own, row in index.items()}
    known |= _windings(survey, at, np.asarray(lanes[SOURCE, "voltage"]), frequency)
    none = np.where(at.solved, 0.0, np.nan)
    x = [known.get((u.owner, u.name), u.start) + none for u in held.unknowns]
    return Quiescent(Model(held, full.nominal), lanes, np.array(x), at.solved)


def _windings(
    survey: Survey, at: OperatingPoints, volts: Array, frequency: float
) -> dict[Name, Array]:
    """What the transformers' windings carry where the sine passes the stand-in, and the source."""
    found: dict[Name, Array] = {}
    drawn = np.zeros(at.count)
    for part in survey.fixture.circuit.parts:
        if not transforms(part):
            continue
        ratio, own, coil = (
            part.values[name].spread.typical
            for name in ("turns_ratio", "secondary_resistance", "magnetising_inductance")
        )
        induced = 2.0 * np.pi * frequency * coil
        magnetising = -np.sqrt(2.0) * volts * np.cos(PHASE) / induced
        primary, core = magnetising, np.zeros(at.count)
        for winding in wired(part):
            ref = stand_in(part.ref, winding)
            given = at.of(ref, "current")
            if is_turned(survey.fixture.circuit, part, winding):
                given = 0.0 * given  # half a cycle before its diode conducts
            found[part.ref, winding] = -given
            primary = primary + given / ratio
            core = ratio * (at.of(ref, "voltage") + own * given)
        found |= {(part.ref, "magnetising"): magnetising, (part.ref, "core"): core}
        found[part.ref, "primary"] = primary
        drawn = drawn + primary
    if DIRECT in survey.fixture.feeds:
        drawn = at.of(DIRECT, "current")
    return {**found, (SOURCE, "current"): drawn}


class _Cycles:
    """Some lanes on the way to their mains cycles and the temperatures that those keep up."""

    def __init__(
        self, survey: Survey, at: OperatingPoints, rest: Quiescent, near: Course | None
    ) -> None:
        self.survey, self.at, self.rest = survey, at, rest
        self.full = survey.fixture.mains_model
        self.cold = temperatures_of(self.full, rest.lanes, rest.count)
        self.warm, self.start = self.cold.copy(), np.nan_to_num(rest.x)
        self.lent = np.zeros(rest.count, bool)
        """Lanes that begin in a neighbour's cycle."""
        self.own = self.cold, self.start.copy()
        if near is not None:
            self.lent = there = near.solved.copy()
            # By how much it is warmer than the stand-in hardly differs among neighbours.
            self.warm[:, there] += near.temperatures[:, there]
            self.start[:, there] = near.start[:, there]

    def course(self) -> Course:
        """Cycles, repeated until their temperatures stay.

        What does not last is told by the last iterate but one: it is looked at again, once, from
        the cycle that was found.
        """
        left = np.arange(self.rest.count)
        doubted = np.zeros(self.rest.count, bool)
        kept = _Kept(self.rest.count)
        for _ in range(ROUNDS):
            if not left.size:
                break
            found = self._cycle(left)
            used = self.warm[:, left]
            warmer = self._kept_up(found, left)
            away = np.abs(warmer - used).max(axis=0, initial=0.0)
            self.warm[:, left] = np.where(np.isfinite(warmer), warmer, used)
            self._keep(kept, found, left)
            # One that repeats after two periods is a cycle as well, and looked at in both.
            rests = found.solved & (found.largest <= 1.0 + UNDECIDED)
            kept.solved[left[rests & (away < WARM)]] = True
            doubt = found.decays & ~rests & ~doubted[left]
            doubted[left[doubt]] = True
            again = doubt | self._begin_anew(left, rests | doubt)
            left = left[again | (rests & (away >= WARM))]
        return self._course(kept)

    def _begin_anew(self, which: Which, rests: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Lanes without a cycle that began in a neighbour's: they begin once more at their rest."""
        again = ~rests & self.lent[which]
        lanes = which[again]
        for row, own in zip((self.warm, self.start), self.own, strict=True):
            row[:, lanes] = own[:, lanes]
        self.lent[lanes] = False
        return again

    def _course(self, kept: _Kept) -> Course:
        x, rows = kept.of("x"), kept.of("rows")
        instants = x.shape[1]
        moments = OperatingPoints.stated(
            self.full,
            kept.seen,
            x.reshape(-1, x.shape[2]),
            rows.reshape(-1, rows.shape[2]),
            np.repeat(kept.solved, instants),
        )
        means: dict[tuple[OfCourse, Name], Array] = {}
        for what in ("mean", "rms"):
            means |= {(what, n): row for n, row in zip(kept.seen, kept.of(what).T, strict=True)}
        ripple = dict(zip(self.survey.fixture.rails, kept.of("ripple").T, strict=True))
        return Course(moments, instants, means, ripple, self.start, self.warm - self.cold)

    def _cycle(self, which: Which) -> Cycle:
        self.survey.effort.add(which.size)
        labels = [self.full.topology.unknowns[row].label for row in thermal_rows(self.full)]
        warm = {temperature_name(n): row[which] for n, row in zip(labels, self.warm, strict=True)}
        lanes = {**chosen(self.rest.lanes, which), **warm}
        found = cycle(
            self.rest.model,
            lanes,
            which.size,
            self.start[:, which],
            period=1.0 / np.asarray(lanes[SOURCE, "frequency"]),
            phases=PHASES,
            tolerance=CLOSE,
            announce=self.survey.announce,
        )
        begin = np.array(
            [found.unknown(u.owner, u.name)[:, 0] for u in self.rest.model.topology.unknowns]
        )
        self.start[:, which] = np.where(found.solved, begin, self.start[:, which])
        return found

    def _unknowns(self, found: Cycle, which: Which, instants: Array | slice) -> Array:
        """Unknowns (row, lane, instant) of the circuit that warms up."""
        warm = dict(zip(thermal_rows(self.full), self.warm[:, which], strict=True))
        shape = found.phase[instants].size
        rows = []
        for row, unknown in enumerate(self.full.topology.unknowns):
            own = unknown.owner, unknown.name
            if row in warm:
                rows.append(np.repeat(warm[row][:, None], shape, axis=1))
            elif own in found.names:
                rows.append(found.unknown(*own)[:, instants])
            else:  # an input that was solved for
                solved = self.at.unknown(*own)[which]
                rows.append(np.repeat(solved[:, None], shape, axis=1))
        return np.array(rows)

    def _kept_up(self, found: Cycle, which: Which) -> Array:
        x = self._unknowns(found, which, slice(0, PHASES, HEATED))
        return kept_up(self.full, chosen(self.rest.lanes, which), x, self.warm[:, which])

    def _keep(self, kept: _Kept, found: Cycle, which: Which) -> None:
        """Keep what is worth it of the lanes of a cycle."""
        kept.seen = [name for name in found.names if self._observed(name)]
        places = self._places(found)
        lane = np.arange(which.size)[:, None]
        x = self._unknowns(found, which, slice(None))[:, lane, places]
        rows = np.array([found.of(*name)[lane, places] for name in kept.seen])
        # Cycles were computed with temperatures that are about right; these are right.
        warm = self.warm[:, which]
        for name, row in felt(self.full, chosen(self.rest.lanes, which), x[:, :, 0], warm).items():
            rows[kept.seen.index(name)] = row[:, None]
        kept.put("x", which, x.transpose(1, 2, 0))
        kept.put("rows", which, rows.transpose(1, 2, 0))
        courses = np.array([found.of(*name)[:, :-1] for name in kept.seen])
        kept.put("mean", which, courses.mean(axis=2).T)
        kept.put("rms", which, np.sqrt(np.mean(courses**2, axis=2)).T)
        nets = {rail: terminals(output) for rail, output in self.survey.fixture.rails.items()}
        across = [found.potential(n.plus) - found.potential(n.minus) for n in nets.values()]
        kept.put("ripple", which, np.ptp(np.array(across), axis=2).T)

    def _observed(self, name: Name) -> bool:
        element = self.full.topology.element.get(name[0])
        return element is not None and name[1] in element.device.observes

    def _places(self, found: Cycle) -> Which:
        """Instants (lane, place) at which questions are put: also where capacitors turn."""
        even = np.arange(0, PHASES, EVERY)
        places = [np.repeat(even[None], len(found.outcomes), axis=0)]
        for part in self.survey.fixture.circuit.parts:
            if "capacitance" in part.device.values and (part.ref, "voltage") in found.names:
                voltage = np.nan_to_num(found.of(part.ref, "voltage"))
                turns = voltage.argmin(axis=1), voltage.argmax(axis=1)
                places.append(np.array(turns).T)
        return np.hstack(places)


class _Kept:
    """Numbers of cycles by what they are, lane by lane as they are found."""

    def __init__(self, count: int) -> None:
        self.seen: list[Name] = []
        self.solved = np.zeros(count, bool)
        self._rows: dict[str, Array] = {}

    def put(self, what: str, lanes: Which, values: Array) -> None:
        """Numbers (lane, ...) of some lanes."""
        if what not in self._rows:
            self._rows[what] = np.full((self.solved.size, *values.shape[1:]), np.nan)
        self._rows[what][lanes] = values

    def of(self, what: str) -> Array:
        """Numbers (lane, ...) of all lanes."""
        return self._rows[what]


def _together(pieces: Sequence[Course]) -> Course:
    """The lanes of several side by side."""
    first = pieces[0]
    return Course(
        joined([p.moments for p in pieces], {}),
        first.instants,
        {key: np.concatenate([p.means[key] for p in pieces]) for key in first.means},
        {rail: np.concatenate([p.ripple[rail] for p in pieces]) for rail in first.ripple},
        np.hstack([p.start for p in pieces]),
        np.hstack([p.temperatures for p in pieces]),
    )
