"""A supply in time: what happens to it at the extreme operating points, followed by the engine.

Switching regulators are looked at by their averages over a cycle: what a cycle leaves is a matter
of `surveys.cycles`. One course follows what happens to each rail in turn.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.need import LoadStep
from railwright.engine.model import MissingValue, Name
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance, transient
from railwright.surveys.depth import DEFAULT
from railwright.surveys.fixture import SOURCE, load_ref, terminals
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, Situation, Thrift, View, Which
from railwright.surveys.spread import Scope, unpublished_loops
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
EXACT = Tolerance(relative=1e-3, absolute=1e-5)
"""Of each step: limits of needs are not stated to more than some parts of a hundred."""
INSTANTS = 160
"""At which a stretch is looked at, closer together just after its beginning."""
EDGE = 4
"""Of them on the edge at its beginning."""
SETTLED = 10.0
"""A stretch lasts so many times as long as what has to be over in it may take."""
LEAST_STRETCH = 10e-3
"""s; and no less than this, so that a coil and a capacitor of some stage further back have rung."""
SOON = 1e-7
"""s; the first look at what happens after an edge."""


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
        on_edge = np.linspace(0.0, self.edge, EDGE)
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

    def within(self, stretch: Stretch) -> NDArray[np.bool_]:
        """The instants of a stretch."""
        return (self.times >= stretch.begin) & (self.times <= stretch.end)


@dataclass(frozen=True, kw_only=True)
class CourseView(View):
    """Lanes as set, and what became of them in time."""

    record: Record

    @property
    def solved(self) -> NDArray[np.bool_]:
        return super().solved & self.record.solved

    def take(self, which: Which) -> Self:
        return replace(super().take(which), record=self.record.take(which))

    def course(self, rail: str, stretch: Stretch) -> tuple[Array, Array]:
        """Seconds since a stretch began, and the voltage at the terminals (lane, instant)."""
        nets, inside = terminals(self.survey.fixture.rails[rail]), self.record.within(stretch)
        rows = self.record.rows
        across = rows[nets.plus, ""] - rows[nets.minus, ""]
        return self.record.times[inside] - stretch.begin, across[:, inside]


class _InTime(Situation):
    """As set, and then something happens.

    What shapes a part's own loop and has no published limits stays typical: far out in a spread
    that was assumed wide a loop may swing, and what a step looks like there says nothing of the
    part. Whether loops are stable is a question of its own, told by published windows.
    """

    scope: Scope = "in cycles"
    since = DEFAULT
    thrift = Thrift(anchors=1, corners=False, estimated=False, turns=0, sampled=1, samples=32)

    def unready(self, survey: Survey) -> str:
        return survey.once(_unready)

    def assumes(self, survey: Survey) -> Sequence[str]:
        return unpublished_loops(survey.fixture.circuit)


class LoadSteps(_InTime):
    """The load of each rail steps up and down again, as the need says; others stay fully loaded."""

    name = "load steps"

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
        currents = {}
        for rail, step in stepped(survey).items():
            up, down = stretches[rail]
            times = (up.begin, up.begin + up.edge, down.begin, down.begin + down.edge)
            levels = (step.from_, step.to, step.to, step.from_)
            currents[rail] = PiecewiseLinear(np.array(times), np.array(levels))
        record = followed(
            survey,
            quiescent(before.at),
            [s for several in stretches.values() for s in several],
            currents,
        )
        return CourseView(survey, points, before.at, record=record)


LOAD_STEPS = LoadSteps()


def stepped(survey: Survey) -> Mapping[str, LoadStep]:
    """The rails of which the need says how their load steps."""
    return {
        rail: output.load_step
        for rail, output in survey.fixture.rails.items()
        if output.load_step is not None
    }


def corners(survey: Survey, loads: Sequence[Mapping[str, float]]) -> Points:
    """Ends of the range at each of some loads; rails are set high or low together.

    Likewise what capacitance their loads have.
    """
    axes = survey.range
    settings, stores = _together(axes.settings), _together(capacitances(survey))
    ends = _ends(axes.input), _ends(axes.ambient)
    combined = itertools.product(settings, loads, *ends, stores)
    volts, amperes, inputs, ambients, farads = zip(*combined, strict=True)
    return Points(
        _columns(volts), _columns(amperes), np.array(inputs), np.array(ambients), _columns(farads)
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


def _ends(axis: Array) -> list[float]:
    return sorted({float(axis[0]), float(axis[-1])})


def _together(axes: Mapping[str, Array]) -> list[dict[str, float]]:
    """All rails at the lower ends of their axes, and all at the upper ones."""
    low = {rail: float(axis[0]) for rail, axis in axes.items()}
    high = {rail: float(axis[-1]) for rail, axis in axes.items()}
    return [low] if low == high else [low, high]


def followed(
    survey: Survey,
    rest: Quiescent,
    stretches: Sequence[Stretch],
    currents: Mapping[str, PiecewiseLinear],
) -> Record:
    """Follow lanes through stretches; currents: of the loads that change, by rail."""
    times = np.unique(np.concatenate([stretch.instants for stretch in stretches]))
    # The same inputs have a course in every situation, so that all share one compilation.
    stimuli = {(SOURCE, "voltage"): _level(rest, (SOURCE, "voltage"))}
    for rail in survey.fixture.rails:
        name = (load_ref(rail), "current")
        stimuli[name] = currents.get(rail) or _level(rest, name)
    nets = [terminals(output) for output in survey.fixture.rails.values()]
    ground = rest.model.topology.ground
    watch = {(net, "") for pair in nets for net in (pair.plus, pair.minus)} - {(ground, "")}
    survey.effort.lanes += rest.count
    found = transient(
        rest.model,
        rest.lanes,
        rest.count,
        times,
        rest.x,
        stimuli,
        EXACT,
        sorted(watch),
        announce=survey.announce,
    )
    rows = {(net, ""): found.potential(net) for pair in nets for net in (pair.plus, pair.minus)}
    return Record(times, rows, found.solved)


def _level(rest: Quiescent, name: Name) -> PiecewiseLinear:
    """An input that stays where it is."""
    return PiecewiseLinear(np.zeros((rest.count, 1)), rest.parameters([name]).T)


def _unready(survey: Survey) -> str:
    points = survey.range.middle().take(np.zeros(WIDE, np.intp))
    rest = quiescent(AS_SET.view(survey, points, survey.typical(WIDE), None).at)
    try:
        followed(survey, rest, [Stretch(0.0, 0.0, LEAST_STRETCH)], {})
    except MissingValue as error:
        return f"{error}, which tells how it behaves in time. State it."
    return ""


WIDE = 3
"""Lanes that are followed by the code that follows many."""
