"""A supply in time: what happens to it at the extreme operating points, followed by the engine.

Switching regulators are looked at by their averages over a cycle: what a cycle leaves is a matter
of `surveys.cycles`. One course follows what happens to each rail in turn. A supply on alternating
mains is looked at on their stand-in (`surveys.fixture`).
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Part
from railwright.circuit.need import LoadStep, SourceLimit, Terminals
from railwright.engine.model import MissingValue, Name
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance, transient
from railwright.surveys.depth import DEFAULT
from railwright.surveys.fixture import IN_LIMIT, SOURCE, feeding_ref, load_ref, terminals
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, Situation, Thrift, View, Which
from railwright.surveys.spread import Scope, unpublished_loops
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
EXACT = Tolerance(relative=1e-3, absolute=1e-5)
"""Of each step: limits of needs are not stated to more than some parts of a hundred."""
ROUGH = Tolerance(relative=1e-2, absolute=1e-3)
"""The same where it counts only whether something has come to rest."""
INSTANTS = 160
"""At which a stretch is looked at, closer together just after its beginning."""
EDGE = 4
"""Of them on the edge at its beginning, where that is short."""
LONG = 0.1
"""Of its stretch; a longer edge is looked at as closely as what follows it."""
SETTLED = 10.0
"""A stretch lasts so many times as long as what has to be over in it may take."""
LEAST_STRETCH = 10e-3
"""s; and no less than this, so that a coil and a capacitor of some stage further back have rung."""
UNLIMITED = 1e3
"""A; the limit of a source that has none."""
UNFED = 0.1
"""Of its setting; a rail below that on the stand-in of the mains is not fed by it."""
NO_VOLTAGE = 1e-9
"""V; below this across a load there is no current to tell."""
LATE, RISING = 0.9, 0.01
"""What gains no more than a hundredth of its setting in the last tenth has come to rest."""
LONGER, MOST_LONGER = 4.0, 3
"""What does not come to rest is followed so many times as long, and so often."""
CLEARLY = 0.3
"""Typical parts must come to rest by this share of it, so that slower ones do as well."""
LEAST_CHARGING = 0.1
"""A; what charges a supply that is loaded with next to nothing, at least."""
MOST_STEPS = 1e5
"""Of a course: what takes more swings on and on, and is not followed to its end."""
WIDE = 3
"""Lanes that are followed by the same code as many."""
FED_BACK = "fed_back"
"""The input of what feeds back into a rail."""
OPERATED = "operated"
"""The input of a part that a person pushes or switches."""
DRIVE = "drive"
"""The unknown of a source which is its current up to its limit, and rises on beyond that."""
RATED_POWER = "rated_power"
SMALL = 10.0
"""Ω; a greater resistor is not in the way of a rail's current (common practice, no source)."""
SOON = 1e-7
"""s; the first look at what happens after an edge."""
NOT_FOLLOWED = ("foldback", "fuse")
"""Styles of a source's limit in which that gives another current, which the need does not tell."""


@dataclass(frozen=True)
class Stretch:
    """A piece of a course, in which one thing happens to the supply."""

    begin: float
    edge: float
    """How long what happens takes [s]."""
    end: float

    @property
    def lasts(self) -> float:
        """Its length [s]."""
        return self.end - self.begin

    @property
    def instants(self) -> Array:
        """Where it is looked at [s], its beginning (and what was before) included."""
        rest = self.lasts - self.edge
        after = np.geomspace(min(SOON, rest / INSTANTS), rest, INSTANTS - EDGE)
        long = self.edge > LONG * self.lasts
        on_edge = np.linspace(0.0, self.edge, INSTANTS if long else EDGE)
        return self.begin + np.concatenate([on_edge, self.edge + after])


@dataclass(frozen=True)
class Record:
    """What is kept of courses over lanes and instants."""

    times: Array
    rows: Mapping[Name, Array]
    solved: NDArray[np.bool_]

    def take(self, which: Which) -> Record:
        """Chosen lanes, repeated where asked for."""
        rows = {name: row[which] for name, row in self.rows.items()}
        return replace(self, rows=rows, solved=self.solved[which])

    @cached_property
    def in_limit(self) -> Array:
        """The longest time for which the source is in its limit without a break, over lanes [s]."""
        found = run = np.zeros(self.solved.size)
        if (SOURCE, DRIVE) not in self.rows:
            return found
        over = self.rows[SOURCE, DRIVE] - IN_LIMIT * self.rows[SOURCE, "current_limit"]
        for instant, lasts in enumerate(time_above(self.times, over).T):
            run = np.where(over[:, instant] >= 0, run, 0.0) + lasts
            found = np.maximum(found, run)
        return found

    def within(self, stretch: Stretch) -> NDArray[np.bool_]:
        """The instants of a stretch."""
        return (self.times >= stretch.begin) & (self.times <= stretch.end)

    def course(self, nets: Terminals, stretch: Stretch) -> tuple[Array, Array]:
        """Seconds since a stretch began, and the voltage between terminals (lane, instant)."""
        instants, volts = self.within(stretch), self.rows[nets.plus, ""] - self.rows[nets.minus, ""]
        return self.times[instants] - stretch.begin, volts[:, instants]

    def end(
        self, nets: Terminals, stretch: Stretch, setting: Array
    ) -> tuple[Array, NDArray[np.bool_]]:
        """The voltage between terminals at the end of a stretch, and where it still rises.

        Not while what happens goes on: an output may follow a slow input, and be at rest after it.
        """
        since, volts = self.course(nets, stretch)
        after = max(LATE * stretch.lasts, (stretch.edge + stretch.lasts) / 2.0)
        # Instants are far apart by then: the last one before counts.
        late = volts[:, int(np.searchsorted(since, after, side="right")) - 1]
        return volts[:, -1], volts[:, -1] - late > RISING * setting


@dataclass(frozen=True, kw_only=True)
class CourseView(View):
    """Lanes as set, and what became of them in time."""

    records: Sequence[Record]
    """Of each course that the situation follows."""

    @property
    def solved(self) -> NDArray[np.bool_]:
        found = super().solved
        for record in self.records:
            found = found & record.solved
        return found

    def take(self, which: Which) -> Self:
        records = [record.take(which) for record in self.records]
        return replace(super().take(which), records=records)

    @property
    def as_fed(self) -> NDArray[np.bool_]:
        """Lanes in which the source is followed as the need has it, its limit included."""
        lasts = lasts_in_limit(self.survey)
        return np.asarray(np.all([record.in_limit <= lasts for record in self.records], axis=0))

    def course(self, rail: str, stretch: Stretch, record: int = 0) -> tuple[Array, Array]:
        """Seconds since a stretch began, and the voltage at the terminals (lane, instant)."""
        return self.records[record].course(terminals(self.survey.fixture.rails[rail]), stretch)

    def at_rest(self, rail: str, stretch: Stretch, record: int) -> Array:
        """The voltage at the end of a stretch; not-a-number where it still rises."""
        nets, setting = terminals(self.survey.fixture.rails[rail]), self.points.settings[rail]
        end, rises = self.records[record].end(nets, stretch, setting)
        return np.where(rises, np.nan, end)

    def current(self, rail: str, stretch: Stretch, record: int = 0) -> Array:
        """What the load of a rail takes in a stretch, where that was kept (lane, instant) [A]."""
        kept = self.records[record]
        power = kept.rows[load_ref(rail), "power"][:, kept.within(stretch)]
        _, volts = self.course(rail, stretch, record)
        found: Array = power / np.where(np.abs(volts) > NO_VOLTAGE, volts, np.inf)
        return found

    def state(self, ref: str, stretch: Stretch, record: int = 0) -> Array:
        """How far a two-state part is active in a stretch (lane, instant), 0 to 1."""
        kept = self.records[record]
        return np.clip(kept.rows[ref, "state"][:, kept.within(stretch)], 0.0, 1.0)

    def highest(self, rail: str) -> Array:
        """The highest voltage at the terminals in any course, over lanes."""
        nets = terminals(self.survey.fixture.rails[rail])
        courses = [r.rows[nets.plus, ""] - r.rows[nets.minus, ""] for r in self.records]
        found: Array = np.max([across.max(axis=1) for across in courses], axis=0)
        return found


class InTime(Situation):
    """As set, and then something happens.

    What shapes a part's own loop and has no published limits stays typical: far out in a spread
    that was assumed wide a loop may swing, and what a step looks like there says nothing of the
    part. Whether loops are stable is a question of its own, told by published windows.
    """

    scope: Scope = "in cycles"
    on_mains = False
    since = DEFAULT
    thrift = Thrift(anchors=1, corners=False, estimated=False, turns=0, sampled=1, samples=32)
    deep = replace(thrift, sampled=4, samples=64)

    def unready(self, survey: Survey) -> str:
        return survey.once(_unready)

    def assumes(self, survey: Survey) -> Sequence[str]:
        return unpublished_loops(survey.fixture.circuit)


class PowerUp(InTime):
    """From nothing stored, the source is switched on, and then the output by its button, if any.

    Fast, and once more so slowly that every stage goes through all that it can be at; buttons are
    left alone then. Light loads are with the highest input, where an output may overshoot; full
    ones with the lowest and with the most capacitance, where it may not come up. Parts are as warm
    as in use.
    """

    name = "power-up"
    thrift = replace(InTime.thrift, enough=0.0, samples=4)
    rises = (1e-3, 100e-3)
    """Of the source [s]: a plug that is put in, and a supply that comes up behind a big capacitor
    (common practice, no source)."""
    push = 1e-6
    """s; how long a contact takes to close."""

    def points(self, survey: Survey) -> Points:
        axes, rails = survey.range, survey.fixture.rails
        light = {rail: each.current.min for rail, each in rails.items()}
        full = {rail: each.current.max for rail, each in rails.items()}
        coldest = axes.ambient[:1]
        return together(
            corners(survey, [light], axes.input[-1:], coldest),
            corners(survey, [full], axes.input[:1], coldest, ends(capacitances(survey))[-1:]),
        )

    def stretches(self, survey: Survey, rise: float) -> Sequence[Stretch]:
        """What follows the source and, where it came fast, what follows each button."""
        rest = survey.once(time_to_rest)
        found = [Stretch(0.0, rise, rise + rest)]
        for _ in buttons(survey) if rise == self.rises[0] else []:
            pushed = Stretch(found[-1].end, self.push, found[-1].end + rest)
            found += [pushed, Stretch(pushed.end, self.push, pushed.end + rest)]
        return found

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CourseView:
        before = AS_SET.view(survey, points, actual, near)
        rest = quiescent(before.at)
        records = [self._record(survey, points, rest, rise) for rise in self.rises]
        return CourseView(survey, points, before.at, records=records)

    def _record(self, survey: Survey, points: Points, rest: Quiescent, rise: float) -> Record:
        return self.record(survey, points, rest, rise, self.stretches(survey, rise))

    def record(
        self,
        survey: Survey,
        points: Points,
        rest: Quiescent,
        rise: float,
        stretches: Sequence[Stretch],
        tolerance: Tolerance = EXACT,
    ) -> Record:
        """What happens when the source rises before parts that are empty."""
        stimuli = _source_rises(survey, points, rise)
        for ref, *edges in zip(buttons(survey), stretches[1::2], stretches[2::2], strict=False):
            stimuli[ref, OPERATED] = pulse(edges, 0.0, 1.0)
        empty = replace(rest, x=np.zeros_like(rest.x))
        return followed(survey, empty, stretches, stimuli, pulses(survey), tolerance)


class HotPlug(InTime):
    """From nothing stored, the source's plug is put in: its cable rings with the capacitors.

    What surges is what the source has stored at its output, so its limit does not act.
    """

    name = "hot plug"
    thrift = replace(InTime.thrift, enough=0.0)
    stretch = Stretch(0.0, 1e-8, LEAST_STRETCH)

    def applies(self, survey: Survey) -> bool:
        fed = survey.fixture
        return bool(fed.design.need.input.cable_inductance) and not fed.alternating

    def points(self, survey: Survey) -> Points:
        light = {rail: each.current.min for rail, each in survey.fixture.rails.items()}
        return corners(survey, [light], survey.range.input[-1:])

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CourseView:
        before = AS_SET.view(survey, points, actual, near)
        rest = quiescent(before.at)
        empty = replace(
            rest,
            x=np.zeros_like(rest.x),
            lanes={**rest.lanes, (SOURCE, "current_limit"): UNLIMITED},
        )
        arrives = _source_rises(survey, points, self.stretch.edge)
        record = followed(survey, empty, [self.stretch], arrives, voltages(survey))
        return CourseView(survey, points, before.at, records=[record])


class LoadSteps(InTime):
    """The load of each rail steps up and down again, as the need says; others stay fully loaded."""

    name = "load steps"
    thrift = replace(InTime.thrift, enough=0.75)

    def applies(self, survey: Survey) -> bool:
        return bool(stepped(survey))

    def points(self, survey: Survey) -> Points:
        steps = stepped(survey)
        loads = {
            rail: steps[rail].from_ if rail in steps else output.current.max
            for rail, output in survey.fixture.rails.items()
        }
        return corners(survey, [loads])

    def stretches(self, survey: Survey) -> Mapping[str, Sequence[Stretch]]:
        """Per rail that steps: the stretch after the step up, and the one after that down."""
        found, now = {}, 0.0
        for rail, step in stepped(survey).items():
            lasts = max(SETTLED * step.settle, LEAST_STRETCH) + step.rise
            ends = (now, now + lasts, now + 2.0 * lasts)
            found[rail] = [Stretch(b, step.rise, e) for b, e in itertools.pairwise(ends)]
            now = ends[-1]
        return found

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CourseView:
        before = AS_SET.view(survey, points, actual, near)
        stretches = self.stretches(survey)
        stimuli = {
            (load_ref(rail), "current"): pulse(stretches[rail], step.from_, step.to)
            for rail, step in stepped(survey).items()
        }
        together = [each for several in stretches.values() for each in several]
        record = followed(survey, quiescent(before.at), together, stimuli)
        return CourseView(survey, points, before.at, records=[record])


LOAD_STEPS, POWER_UP, HOT_PLUG = LoadSteps(), PowerUp(), HotPlug()


def time_above(times: Array, course: Array) -> Array:
    """How long of each interval a course is not below nil (lane, interval) [s], by straight lines.

    times: (instant,) [s]; course: (lane, instant).
    """
    lasts, inside = np.diff(times), course >= 0
    begins, ends = inside[:, :-1], inside[:, 1:]
    leaves, enters = _stays(lasts, course), _stays(lasts[::-1], course[:, ::-1])[:, ::-1]
    partly = np.where(begins, leaves, np.where(ends, enters, 0.0))
    return np.nan_to_num(np.where(begins & ends, lasts, partly))


def _stays(lasts: Array, course: Array) -> Array:
    """How long a course that leaves within an interval is inside before (lane, interval) [s].

    By the line on which it came, since it may bend where it leaves; where that does not end in the
    interval, by the line through it.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        found: Array = lasts * course[:, :-1] / (course[:, :-1] - course[:, 1:])
        falls = (course[:, :-2] - course[:, 1:-1]) / lasts[:-1]
        ahead = course[:, 1:-1] / falls
        fits = (course[:, :-2] >= 0) & (falls > 0) & (ahead < lasts[1:])
    found[:, 1:] = np.where(fits, ahead, found[:, 1:])
    return found


def voltages(survey: Survey) -> list[Name]:
    """The voltages that ratings of the parts bound."""
    bounded = {
        (part.ref, part.device.ratings[rating].bounds)
        for part in survey.fixture.circuit.parts
        for rating in part.ratings
        if part.device.ratings[rating].unit == "V"
    }
    return sorted(bounded)


def transistors(survey: Survey) -> list[Part]:
    """The transistors of a supply, which see voltage and current at once."""
    ends = {"collector", "drain"}
    return [
        part
        for part in survey.fixture.circuit.parts
        if ends & {pin.role for pin in part.device.pins.values()}
    ]


def series(survey: Survey) -> list[Part]:
    """Resistors that are small enough to stand in the way of a rail's current."""
    found = [p for p in survey.fixture.circuit.parts if {RATED_POWER, "resistance"} <= _says(p)]
    return [part for part in found if part.values["resistance"].spread.typical < SMALL]


def _says(part: Part) -> set[str]:
    return {*part.device.ratings, *part.values}


def fuses(survey: Survey) -> list[Part]:
    """The fuses of a supply."""
    return [p for p in survey.fixture.circuit.parts if "melting_integral" in p.device.values]


def pulses(survey: Survey) -> list[Name]:
    """What makes pulses of heat in transistors, fuses and resistors."""
    return [
        *((part.ref, name) for part in transistors(survey) for name in ("voltage", "current")),
        *((part.ref, "current") for part in fuses(survey)),
        *((part.ref, "power") for part in series(survey)),
    ]


def source_limit(survey: Survey) -> SourceLimit | None:
    """What the source does when it is overloaded; what stands for mains has no limit."""
    return None if survey.fixture.alternating else survey.fixture.design.need.input.limit


def lasts_in_limit(survey: Survey) -> float:
    """For how long a source in its limit gives just that current, as it is followed [s].

    None that folds back does, nor one behind a fuse; one that gives up in the end does until then.
    """
    limit = source_limit(survey)
    if limit is None:
        return np.inf
    if limit.style in NOT_FOLLOWED:
        return 0.0
    if limit.gives_up_after is not None:
        return limit.gives_up_after
    return np.inf if limit.style == "constant-current" else 0.0


def _source_rises(survey: Survey, points: Points, rise: float) -> dict[Name, PiecewiseLinear]:
    """From nil to the input of each point, of every source of the model."""
    times = np.tile([0.0, rise], (points.count, 1))
    volts = np.stack([np.zeros(points.count), points.input], axis=1)
    return {
        (source, "voltage"): PiecewiseLinear(times, share * volts)
        for source, share in survey.fixture.feeds.items()
    }


def pulse(stretches: Sequence[Stretch], low: float, high: float) -> PiecewiseLinear:
    """From low to high at the beginning of one stretch, and back at that of the other."""
    edges = [(each.begin, each.begin + each.edge) for each in stretches]
    return PiecewiseLinear(np.ravel(edges), np.array([low, high, high, low]))


def time_to_rest(survey: Survey) -> float:
    """How long things may take after the input has changed [s], to be asked for by `once`.

    The source fills every capacitor in that time, and typical supplies have come up by then.
    """
    lasts = max(LEAST_STRETCH, SETTLED * charging_time(survey))
    within, rise = survey.within(POWER_UP.scope), POWER_UP.rises[0]
    points = POWER_UP.points(survey)
    at = AS_SET.view(within, points, within.typical(points.count), None).at
    for _ in range(MOST_LONGER):
        stretch = Stretch(0.0, rise, rise + lasts)
        record = POWER_UP.record(within, points, quiescent(at), rise, [stretch], ROUGH)
        if not any(
            record.end(terminals(output), stretch, CLEARLY * points.settings[rail])[1].any()
            for rail, output in survey.fixture.rails.items()
        ):
            break
        lasts *= LONGER
    return lasts


def charging_time(survey: Survey) -> float:
    """How long the source takes to fill every capacitor, by its limit or by the loads' currents."""
    need, parts = survey.fixture.design.need, survey.fixture.circuit.parts
    held = [p.values["capacitance"].spread.high for p in parts if p.kind == "capacitor"]
    across = [axis[-1] for axis in capacitances(survey).values()]
    volts = need.input.voltage.max * max(survey.fixture.feeds.values())
    charge = (sum(held) + sum(across)) * volts
    current = sum(output.current.max for output in need.output)
    if need.input.limit is not None:
        current = need.input.limit.current
    return float(charge / max(current, LEAST_CHARGING))


def buttons(survey: Survey) -> list[str]:
    """Refs of the contacts that a person operates where an output does not come up by itself."""
    overloads = [output.overload for output in survey.fixture.rails.values()]
    if not any(each is not None and each.at_power_up == "off" for each in overloads):
        return []
    return contacts(survey)


def contacts(survey: Survey) -> list[str]:
    """Refs of the parts that a person can operate."""
    return [p.ref for p in survey.fixture.circuit.parts if OPERATED in p.device.inputs]


def charged(survey: Survey) -> Mapping[str, float]:
    """The rails whose loads may bring a voltage along, with that voltage [V]."""
    rails = survey.fixture.rails.items()
    return {rail: output.brought for rail, output in rails if output.brought is not None}


def stepped(survey: Survey) -> Mapping[str, LoadStep]:
    """The rails of which the need says how their load steps."""
    return {
        rail: output.load_step
        for rail, output in survey.fixture.rails.items()
        if output.load_step is not None
    }


def corners(
    survey: Survey,
    loads: Sequence[Mapping[str, float]] | None = None,
    inputs: Array | None = None,
    ambients: Array | None = None,
    stores: Sequence[Mapping[str, float]] | None = None,
) -> Points:
    """Ends of the range; rails are set high or low together, likewise loaded.

    Likewise what capacitance their loads have. What is given stands for the ends of its axis.
    """
    axes = survey.range
    combined = itertools.product(
        ends(axes.settings),
        ends(axes.loads) if loads is None else loads,
        np.unique(axes.input[[0, -1]]) if inputs is None else inputs,
        np.unique(axes.ambient[[0, -1]]) if ambients is None else ambients,
        ends(capacitances(survey)) if stores is None else stores,
    )
    volts, amperes, source, air, farads = zip(*combined, strict=True)
    return Points(
        _columns(volts), _columns(amperes), np.array(source), np.array(air), _columns(farads)
    )


def together(one: Points, other: Points) -> Points:
    """The points of both."""

    def joined(some: Mapping[str, Array], more: Mapping[str, Array]) -> dict[str, Array]:
        return {rail: np.concatenate([some[rail], more[rail]]) for rail in some}

    return Points(
        joined(one.settings, other.settings),
        joined(one.loads, other.loads),
        np.concatenate([one.input, other.input]),
        np.concatenate([one.ambient, other.ambient]),
        joined(one.capacitances, other.capacitances),
        position=None
        if one.position is None or other.position is None
        else np.concatenate([one.position, other.position]),
    )


def _columns(rows: Sequence[Mapping[str, float]]) -> dict[str, Array]:
    return {rail: np.array([row[rail] for row in rows]) for rail in rows[0]}


def capacitances(survey: Survey) -> Mapping[str, Array]:
    """Per rail whose loads may have some: the least and the greatest capacitance across it [F]."""
    found = {}
    for rail, output in survey.fixture.rails.items():
        ranges = [load.capacitance for load in output.load if load.capacitance is not None]
        if ranges:
            found[rail] = np.array([min(r.min for r in ranges), max(r.max for r in ranges)])
    return found


def ends(axes: Mapping[str, Array]) -> list[dict[str, float]]:
    """All rails at the lower ends of their axes, and all at the upper ones."""
    low = {rail: float(axis[0]) for rail, axis in axes.items()}
    high = {rail: float(axis[-1]) for rail, axis in axes.items()}
    return [low] if low == high else [low, high]


def followed(
    survey: Survey,
    rest: Quiescent,
    stretches: Sequence[Stretch],
    stimuli: Mapping[Name, PiecewiseLinear],
    also: Sequence[Name] = (),
    tolerance: Tolerance = EXACT,
) -> Record:
    """Follow lanes through stretches, with courses of some inputs of the surroundings.

    also: observables of parts to keep besides the voltages of the terminals' nets, and besides
    what a source with a limit gives.
    """
    times = np.unique(np.concatenate([stretch.instants for stretch in stretches]))
    # The same inputs have a course in every situation, so that all share one compilation.
    driven = [
        *((source, "voltage") for source in survey.fixture.feeds),
        *((load_ref(rail), "current") for rail in survey.fixture.rails),
        *((feeding_ref(rail), FED_BACK) for rail in charged(survey)),
        *((ref, OPERATED) for ref in contacts(survey)),
        *survey.controls_of_role("set"),
    ]
    nets = [terminals(output) for output in survey.fixture.rails.values()]
    ground = rest.model.topology.ground
    watch = {(net, "") for pair in nets for net in (pair.plus, pair.minus)} - {(ground, "")}
    if source_limit(survey) is not None:
        also = [*also, (SOURCE, "current"), (SOURCE, "current_limit"), (SOURCE, DRIVE)]
    if not rest.solved.any():
        ends = {(net, "") for pair in nets for net in (pair.plus, pair.minus)}
        nothing = np.full((rest.count, times.size), np.nan)
        return Record(times, dict.fromkeys([*ends, *also], nothing), rest.solved)
    survey.effort.add(rest.count)
    # A few lanes more cost less than code of their own for so few.
    which = np.arange(max(rest.count, WIDE)) % rest.count
    wide = rest.take(which)
    found = transient(
        wide.model,
        wide.lanes,
        wide.count,
        times,
        wide.x,
        {n: _of_lanes(stimuli[n], which) if n in stimuli else _level(wide, n) for n in driven},
        tolerance,
        [*sorted(watch), *also],
        most_steps=MOST_STEPS,
        announce=survey.announce,
    )
    rows = {(net, ""): found.potential(net) for pair in nets for net in (pair.plus, pair.minus)}
    rows |= {name: found.of(*name) for name in also}
    return Record(times, rows, found.solved).take(np.arange(rest.count))


def _of_lanes(course: PiecewiseLinear, which: Which) -> PiecewiseLinear:
    times, values = (a[which] if a.ndim > 1 else a for a in (course.times, course.values))
    return PiecewiseLinear(times, values)


def _level(rest: Quiescent, name: Name) -> PiecewiseLinear:
    """An input that stays where it is."""
    return PiecewiseLinear(np.zeros((rest.count, 1)), rest.parameters([name]).T)


def unfed(survey: Survey) -> str:
    """Why the stand-in of alternating mains tells nothing of a rail; empty where it feeds all."""
    points = survey.range.middle()
    at = AS_SET.view(survey, points, survey.typical(1), None).at
    if survey.fixture.alternating:
        for rail, setting in points.settings.items():
            if at.solved.all() and survey.rail_voltage(at, rail)[0] < UNFED * setting[0]:
                return (
                    "in time the mains are looked at by a direct source of one direction, which "
                    f"does not bring up {rail}: what the other half wave feeds is not followed."
                )
    return ""


def _unready(survey: Survey) -> str:
    points = survey.range.middle()
    at = AS_SET.view(survey, points, survey.typical(1), None).at
    if told := unfed(survey):
        return told
    rest = quiescent(at)
    try:
        followed(survey, rest, [Stretch(0.0, 0.0, LEAST_STRETCH)], {})
    except MissingValue as error:
        return f"{error}, which tells how it behaves in time. State it."
    return ""
