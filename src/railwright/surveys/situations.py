"""The situations in which questions are put: how the knobs stand and what is turned up.

A situation turns operating points and samples into solved lanes. A check names the one that it is
put in; a new situation is one more subclass.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, Self

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import (
    Lanes,
    Name,
    chosen,
    given_name,
    solve_name,
    target_name,
    weight_name,
)
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import held
from railwright.surveys.depth import DEEP, QUICK, Depth
from railwright.surveys.fixture import load_ref
from railwright.surveys.operating_range import Points
from railwright.surveys.positions import beginning, holding, placed
from railwright.surveys.samples import distinct_rows
from railwright.surveys.spread import Scope
from railwright.surveys.survey import Survey
from railwright.surveys.trips import deciding_comparators

Array = NDArray[np.float64]
Which = NDArray[np.intp]
OfCourse = Literal["peak", "mean", "rms"]
"""What counts of a quantity that changes in the course of a cycle."""


@dataclass(frozen=True)
class View:
    """Solved lanes of a situation: `at` is the answer, `beside` what it is compared with."""

    survey: Survey
    points: Points
    at: OperatingPoints
    beside: Mapping[str, OperatingPoints] = field(default_factory=dict)

    @property
    def solved(self) -> NDArray[np.bool_]:
        """Lanes in which everything needed was solved."""
        found = self.at.solved.copy()
        for other in self.beside.values():
            found &= other.solved
        return found

    def take(self, which: Which) -> Self:
        """Chosen lanes, repeated where asked for."""
        beside = {name: other.take(which) for name, other in self.beside.items()}
        return replace(self, points=self.points.take(which), at=self.at.take(which), beside=beside)

    def value(self, ref: str, name: str) -> Array | float:
        """A part's value over lanes; its typical one where it does not vary in this situation."""
        asked = self.at.asked((ref, name))
        typical = self.survey.fixture.circuit.part(ref).values[name].spread.typical
        return typical if asked is None else asked

    def output(self, rail: str, beside: str = "") -> Array:
        """Voltage at the terminals of a rail [V]."""
        return self.survey.rail_voltage(self.beside[beside] if beside else self.at, rail)

    def of_course(self, what: OfCourse, ref: str, observable: str) -> Array:
        """What counts of an observable; at rest it is what it is."""
        return self.at.of(ref, observable)


@dataclass(frozen=True)
class Thrift:
    """How much of the search for extreme values a situation's lanes are cheap enough for."""

    anchors: int = 8
    """Worst points of a question at which effects are found; elsewhere those of the nearest."""
    corners: bool = True
    """Whether effects are found at the corners of the range, too."""
    enough: float = np.inf
    """Share of its limit from which on a margin with typical parts is so great, at every point,
    that no effects are sought: samples alone look at the spread."""
    estimated: bool = True
    """Whether a first-order estimate tells effects."""
    turns: int = 100
    """Rounds of turning single quantities over at the worst vertex, at most."""
    sampled: int = 8
    """Worst points at which samples are drawn."""
    samples: int | None = None
    """The most samples at each of them."""
    vertices: int | None = None
    """Worst points of a question at which vertices are solved; elsewhere typical parts count.
    None: at every point."""


class Situation:
    """How lanes of a kind are set up and solved."""

    name = ""
    scope: Scope = "at rest"
    since: Depth = QUICK
    """The least depth at which it is looked at."""
    thrift = Thrift()
    on_mains = True
    """Whether its questions are put in the cycles of mains; else their direct stand-in will do."""
    deep: Thrift | None = None
    """What is saved at depth `deep`, where that differs."""

    def thrift_at(self, depth: Depth) -> Thrift:
        """What is saved at a depth."""
        chosen = self.deep if self.deep is not None and depth.covers(DEEP) else self.thrift
        return replace(chosen, turns=min(chosen.turns, depth.turns))

    def unready(self, survey: Survey) -> str:
        """Why no lane can be looked at, for lack of a value; empty where they can."""
        return ""

    def assumes(self, survey: Survey) -> Sequence[str]:
        """Assumed values that stay typical although the answers depend on them."""
        return ()

    def points(self, survey: Survey) -> Points:
        """The operating points that this situation looks at."""
        return placed(survey, survey.range.grid())

    def applies(self, survey: Survey) -> bool:
        """Whether a supply has this situation at all."""
        return True

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        """Solve lanes of points and quantities; `near` has a neighbour of every lane."""
        raise NotImplementedError(type(self).__name__)

    def typical(self, survey: Survey) -> View:
        """Typical parts at all of its points; ask for it by `survey.once`."""
        points, within = self.points(survey), survey.within(self.scope)
        return self.view(within, points, within.typical(points.count), None)


def _start(survey: Survey, near: OperatingPoints | None) -> OperatingPoints | None:
    return survey.states.start if near is None else near


class AsSet(Situation):
    """Every control is turned until its rail has the voltage that the user wants."""

    name = "as set"

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        lanes = survey.lanes(points, actual) | survey.aimed(points) | holding(survey, points)
        start = _start(survey, near.at if near else None)
        at = survey.solve(lanes, points.count, start, beginning(survey, points))
        return View(survey, points, at)


NUDGE = 1e-3
"""Share of a knob's travel by which it is turned to see what that does."""


class Nudged(Situation):
    """As set, and once more with every control turned on by a thousandth of its travel."""

    name = "nudged"
    on_mains = False

    def applies(self, survey: Survey) -> bool:
        return bool(survey.controls_of_role("set"))

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        before = AsSet().view(survey, points, actual, near)
        turned = {
            name: np.where(place > 0.5, place - NUDGE, place + NUDGE)
            for name, place in knobs(survey, before.at).items()
        }
        lanes = survey.lanes(points, actual) | turned | holding(survey, points)
        after = survey.solve(lanes, points.count, before.at, beginning(survey, points))
        return View(survey, points, before.at, {"nudged": after})


def reference_points(survey: Survey, points: Points) -> Points:
    """Where a knob is set: nominal input, half load, 25 °C; the settings stay."""
    middle = survey.range.middle()
    same = np.ones(points.count)
    return replace(
        points,
        loads={rail: load * same for rail, load in middle.loads.items()},
        input=middle.input * same,
        ambient=middle.ambient * same,
    )


def knobs(survey: Survey, at: OperatingPoints) -> dict[Name, Array]:
    """Where the controls stand after they were solved for, as inputs of further lanes."""
    return {
        given_name(part, name): np.clip(at.solution_of(part, name), 0.0, 1.0)
        for part, name in survey.controls_of_role("set")
    }


def _solve_distinct(
    survey: Survey,
    points: Points,
    actual: Array,
    turned: Callable[[Points, Which], Lanes],
    near: OperatingPoints | None,
) -> OperatingPoints:
    """Solve lanes in which controls stand as `turned` says; of equal lanes only one."""
    first, of_lane = distinct_rows(np.concatenate([points.coordinates, actual]).T)
    own = points.take(first)
    lanes = {**survey.lanes(own, actual[:, first]), **turned(own, first), **holding(survey, own)}
    start = _start(survey, None if near is None else near.take(first))
    return survey.solve(lanes, own.count, start, beginning(survey, own)).take(of_lane)


class Held(Situation):
    """Controls stay where they were set at nominal input, half load and 25 °C."""

    name = "held"

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        before = {} if near is None else near.beside
        reference = reference_points(survey, points)
        setting = _solve_distinct(
            survey, reference, actual, lambda own, _: survey.aimed(own), before.get("set")
        )
        stay = knobs(survey, setting)

        def solve(where: Points, name: str) -> OperatingPoints:
            known = near.at if near is not None and not name else before.get(name)
            return _solve_distinct(
                survey, where, actual, lambda _, which: chosen(stay, which), known or setting
            )

        nominal = np.full(points.count, survey.range.nominal_input)
        light = {rail: np.full(points.count, a[0]) for rail, a in survey.range.loads.items()}
        beside = {
            "nominal input": solve(replace(points, input=nominal), "nominal input"),
            "light load": solve(replace(points, loads=light), "light load"),
        }
        if survey.controls_of_role("set"):
            warmer = replace(reference, ambient=points.ambient)
            beside |= {"set": setting, "when set": solve(warmer, "when set")}
        return View(survey, points, solve(points, ""), beside)


class Stops(Situation):
    """Controls at their two end stops."""

    name = "end stops"
    on_mains = False

    def applies(self, survey: Survey) -> bool:
        return bool(survey.controls_of_role("set"))

    def points(self, survey: Survey) -> Points:
        return survey.range_at_full("setting").grid()

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        lanes = survey.lanes(points, actual)

        def solve(upper: bool, known: OperatingPoints | None) -> OperatingPoints:
            ends: dict[Name, Array | float] = {
                given_name(*name): abs(survey.upper_stop(name) - (0.0 if upper else 1.0))
                for name in survey.controls_of_role("set")
            }
            start = _start(survey, known)
            volts = {
                rail: np.full(points.count, axis[-1 if upper else 0])
                for rail, axis in survey.range.settings.items()
            }
            state = beginning(survey, replace(points, settings=volts))
            return survey.solve(lanes | ends, points.count, start, state)

        low = solve(False, near.beside["low"] if near else None)
        return View(survey, points, solve(True, near.at if near else None), {"low": low})


class Threshold(Situation):
    """The load of one rail is turned up until a comparator that trips the supply turns over.

    Two-state parts are held as they are in the working state: what is looked for is the
    current at which that state ends. The control is set for the wanted output all the while.
    """

    name = "threshold"
    on_mains = False

    def applies(self, survey: Survey) -> bool:
        return bool(survey.once(deciding_comparators))

    def points(self, survey: Survey) -> Points:
        return survey.range_at_full("load").grid()

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        beside = {}
        for rail, comparators in survey.once(deciding_comparators).items():
            load = load_ref(rail)
            for ref in comparators:
                lanes = survey.lanes(points, actual) | survey.aimed(points)
                lanes |= held(tuple(survey.states.working), survey.states.working)
                lanes[solve_name(load, "current")] = 1.0
                lanes[target_name(load, "current")] = 0.0
                lanes[weight_name(load, "current", (ref, "difference"))] = 1.0
                known = near.beside[f"{rail} {ref}"] if near else None
                found = survey.solve(lanes, points.count, _start(survey, known))
                beside[f"{rail} {ref}"] = _begun_again(survey, lanes, found)
        return View(survey, points, next(iter(beside.values())), beside)


def _begun_again(survey: Survey, lanes: Lanes, found: OperatingPoints) -> OperatingPoints:
    """Solutions, those that were lost on the way from their neighbours sought from where the
    supply works at the middle of its range, and then from the nearest lane that was solved."""
    lost = np.flatnonzero(~found.solved)
    if survey.rough or survey.states.start is None or not lost.size:
        return found
    again = survey.solve(chosen(lanes, lost), lost.size, survey.states.start, reach="near")
    found = found.replaced(lost, again)
    lost, known = np.flatnonzero(~found.solved), np.flatnonzero(found.solved)
    if not (lost.size and known.size):
        return found
    nearest = known[np.argmin(np.abs(known[None, :] - lost[:, None]), axis=1)]
    again = survey.solve(chosen(lanes, lost), lost.size, found.take(nearest), reach="near")
    return found.replaced(lost, again)


def trip_points(view: View) -> Mapping[str, Sequence[OperatingPoints]]:
    """Rails with a trip -> where each of their deciding comparators turns over, of `Threshold`."""
    survey = view.survey
    return {
        rail: [view.beside[f"{rail} {ref}"] for ref in comparators]
        for rail, comparators in survey.once(deciding_comparators).items()
    }


class PulledDown(Situation):
    """As set, but every comparator drives its output low, while gates stay as they are."""

    name = "pulled down"
    on_mains = False

    def applies(self, survey: Survey) -> bool:
        return bool(self._comparators(survey))

    def _comparators(self, survey: Survey) -> list[str]:
        parts = survey.fixture.circuit.parts
        return [p.ref for p in parts if "sink_current" in p.device.observes]

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        state = dict(survey.states.working) | dict.fromkeys(self._comparators(survey), 0.0)
        lanes = survey.lanes(points, actual) | survey.aimed(points) | held(tuple(state), state)
        known = near or AsSet().view(survey, points, actual, None)
        return View(survey, points, survey.solve(lanes, points.count, known.at))


AS_SET, NUDGED, HELD = AsSet(), Nudged(), Held()
END_STOPS, THRESHOLD, PULLED_DOWN = Stops(), Threshold(), PulledDown()
