"""One supply under survey: how points and samples become lanes, and how lanes are solved."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from threading import Lock
from typing import TypeVar, get_args

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.schema import Calibration, Control
from railwright.engine.assembly import AMBIENT, SYSTEM
from railwright.engine.model import (
    Lanes,
    Model,
    Name,
    given_name,
    slope_name,
    solve_name,
    target_name,
)
from railwright.engine.operating_point import Reach, first_order, operating_point
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import two_state_parts
from railwright.surveys.depth import DEFAULT, Depth
from railwright.surveys.fixture import Fixture, load_ref, terminals
from railwright.surveys.known import Known
from railwright.surveys.operating_range import OperatingRange, Points
from railwright.surveys.samples import distinct_rows
from railwright.surveys.spread import PartSpread, Scope
from railwright.surveys.states import Stable, States, settle, stable_states

Array = NDArray[np.float64]
Found = TypeVar("Found")
CIRCUIT = (SYSTEM, "circuit")
"""System parameter: which of several circuits a lane is of (`Points.circuit`)."""
HEAVY = 3.0
"""Times the greatest load: a limit holds less of it."""
STOPS = (0.0, 1.0)
SIDES = (0.3, 0.7)
"""Two places of a knob that tell which way it turns the output."""


@dataclass
class Effort:
    """What the engine was asked for."""

    lanes: int = 0
    _turn: Lock = field(default_factory=Lock, repr=False)

    def add(self, lanes: int) -> None:
        """So many lanes more."""
        with self._turn:
            self.lanes += lanes


@dataclass
class Survey:
    """A fixture, its spread and its range, with everything that every solve needs."""

    fixture: Fixture
    assumptions: Lanes = field(default_factory=dict)
    """Inputs that a provisional mend sets in every lane."""
    announce: Callable[[str], None] | None = None
    effort: Effort = field(default_factory=Effort)
    _known: Known = field(default_factory=Known, repr=False)
    depth: Depth = DEFAULT
    rough: bool = False
    """True where first-order estimates will do (`roughly`)."""
    scope: Scope = "at rest"

    def roughly(self) -> Survey:
        """The same, answering by first-order estimates: enough to tell which way things move."""
        return replace(self, rough=True)

    def within(self, scope: Scope) -> Survey:
        """The same survey, with the spread of what matters in another scope."""
        return self.once(_SCOPES[scope])

    @property
    def model(self) -> Model:
        """The engine's model of the supply."""
        return self.fixture.model

    @cached_property
    def range(self) -> OperatingRange:
        """The operating range of the need."""
        return OperatingRange.of(self.fixture.design.need, self.depth)

    @cached_property
    def coarsest(self) -> OperatingRange:
        """The range with no more places than every axis must have, for what is dear."""
        return OperatingRange.of(self.fixture.design.need, replace(self.depth, points=1))

    def range_at_full(self, what: str) -> OperatingRange:
        """The range with `setting` or `load` at its greatest, where that is moved otherwise."""
        return OperatingRange.of(self.fixture.design.need, self.depth, what)

    @cached_property
    def spread(self) -> PartSpread:
        """The spread of the parts."""
        return PartSpread.of(self.fixture.circuit, self.scope)

    def typical(self, count: int) -> Array:
        """Typical quantities in every lane (quantity, lane)."""
        return np.repeat(self.spread.typical[:, None], count, axis=1)

    def lanes(self, points: Points, actual: Array, trim: bool = True) -> dict[Name, Array | float]:
        """Part values, source, loads, air and trims of lanes (point and sample side by side).

        trim: False leaves trims at rest, where what they do is not known yet. Controls of a
        current stand where they let most through.
        """
        lanes = self.bare(points, actual) | dict(self.once(_opened))
        return lanes | (self._trimmed(points, actual) if trim else {})

    def bare(self, points: Points, actual: Array) -> dict[Name, Array | float]:
        """The same with all controls at rest."""
        lanes: dict[Name, Array | float] = dict(self.spread.lanes(actual, points.ambient))
        lanes[AMBIENT] = points.ambient
        for source, share in self.fixture.feeds.items():
            lanes[source, "voltage"] = points.input * share
        for rail, load in points.loads.items():
            lanes[given_name(load_ref(rail), "current")] = load
            lanes[load_ref(rail), "voltage"] = points.settings[rail]
        for rail, capacitance in points.capacitances.items():
            lanes[load_ref(rail), "capacitance"] = capacitance
        if points.circuit is not None:
            lanes[CIRCUIT] = points.circuit
        return lanes | dict(self.assumptions)

    @cached_property
    def controls(self) -> Mapping[Name, Control]:
        """(part, input) of every control of an output voltage -> what the design says of it."""
        said = {(c.part, c.value): c for c in self.fixture.design.controls}
        return {(aim.ref, aim.input): said[aim.ref, aim.input] for aim in self.model.topology.aims}

    def controls_of_role(self, role: str) -> Mapping[Name, str]:
        """(part, input) of the controls of an output voltage in a role -> their rails."""
        return {name: c.rail for name, c in self.controls.items() if c.role == role}

    def aimed(self, points: Points) -> dict[Name, Array | float]:
        """System parameters that let every set control bring its rail to its setting."""
        lanes: dict[Name, Array | float] = {}
        for name, rail in self.controls_of_role("set").items():
            lanes |= self._aim(name, points.settings[rail])
        return lanes

    def _aim(self, name: Name, target: Array | float) -> dict[Name, Array | float]:
        return {
            solve_name(*name): 1.0,
            target_name(*name): target,
            slope_name(*name): self.directions[name],
        }

    def _trimmed(self, points: Points, actual: Array) -> dict[Name, Array | float]:
        """Where each sample's trims stand, once set at their calibration points.

        Set controls stand at their upper stop meanwhile: a trim of theirs sets full scale.
        """
        trims = self.controls_of_role("trim")
        if not trims:
            return {}
        # What a trim is set to depends on the sample alone, and on where it is calibrated.
        circuit = np.zeros(points.count) if points.circuit is None else points.circuit
        first, of_lane = distinct_rows(np.vstack([actual, circuit]).T)
        middle = self.range.middle().take(np.zeros(first.size, np.intp))
        if points.circuit is not None:
            middle = replace(middle, circuit=circuit[first])
        lanes: dict[Name, Array | float] = {}
        for name, rail in trims.items():
            said = self.controls[name].calibration
            target = self.range.settings[rail][-1]
            if said is not None:
                middle = _calibrated(middle, rail, said)
                target = target if said.voltage is None else said.voltage
            lanes |= self._aim(name, target)
        for name in self.controls_of_role("set"):
            lanes[given_name(*name)] = self.upper_stop(name)
        lanes = self.lanes(middle, actual[:, first], trim=False) | lanes
        at = settle(self.engine, lanes, first.size, self.states.working, self.states.start)
        return {
            given_name(*name): np.clip(at.solution_of(*name), 0.0, 1.0)[of_lane] for name in trims
        }

    def upper_stop(self, name: Name) -> float:
        """The end of a control's travel that gives the higher output."""
        return float(self.directions[name] < 0)

    @property
    def directions(self) -> Mapping[Name, float]:
        """Minus the sense in which each control moves its rail [V per travel], as `Aim` wants."""
        return self.once(_directions)

    def solve(
        self,
        lanes: Lanes,
        count: int,
        start: OperatingPoints | None = None,
        state: Mapping[str, Array | float] | None = None,
        reach: Reach = "all",
    ) -> OperatingPoints:
        """Operating points of lanes; with a state, lanes begin in it and may leave it."""
        if self.rough and start is not None:
            self.effort.add(count)
            return first_order(self.model, lanes, count, start)
        if state is None:
            return self.engine(lanes, count, start, reach)
        return settle(self.engine, lanes, count, state, start)

    def engine(
        self,
        lanes: Lanes,
        count: int,
        start: OperatingPoints | None = None,
        reach: Reach = "all",
    ) -> OperatingPoints:
        """Operating points of lanes in full, counted; whoever needs no state asks this."""
        self.effort.add(count)
        return operating_point(self.model, lanes, count, start, self.announce, reach)

    def stable(self, lanes: Lanes) -> Stable:
        """Every stable state at one operating point: lanes have one value of each input."""
        return stable_states(self.engine, two_state_parts(self.model), lanes)

    @property
    def states(self) -> States:
        """Which states the two-state parts can be in, and the one in which the supply works."""
        return self.once(_states)

    def alive(self, at: OperatingPoints) -> Array:
        """The least share of its greatest setting that a rail gives, over lanes."""
        shares = [
            np.abs(self.rail_voltage(at, rail)) / axis[-1]
            for rail, axis in self.range.settings.items()
        ]
        least: Array = np.min(shares, axis=0)
        return least

    def once(self, compute: Callable[[Survey], Found]) -> Found:
        """What `compute` finds out about this survey, found out once."""
        found: Found = self._known.once(compute, partial(compute, self))
        return found

    def rail_voltage(self, at: OperatingPoints, rail: str) -> Array:
        """Voltage at the terminals of a rail over lanes."""
        nets = terminals(self.fixture.rails[rail])
        return at.potential(nets.plus) - at.potential(nets.minus)


def _within(scope: Scope) -> Callable[[Survey], Survey]:
    return lambda survey: replace(survey, scope=scope)


_SCOPES: Mapping[Scope, Callable[[Survey], Survey]] = {s: _within(s) for s in get_args(Scope)}


def _states(survey: Survey) -> States:
    lanes = survey.lanes(survey.range.middle(), survey.typical(1), trim=False)
    return States.of(survey.stable(lanes), two_state_parts(survey.model), survey.alive)


def _directions(survey: Survey) -> Mapping[Name, float]:
    found = {}
    middle, states = survey.range.middle(), survey.states
    for name, control in survey.controls.items():
        points = middle.take(np.zeros(2, np.intp))
        lanes = survey.lanes(points, survey.typical(2), trim=False)
        lanes[given_name(*name)] = np.array(SIDES)
        at = settle(survey.engine, lanes, 2, states.working, states.start)
        low, high = survey.rail_voltage(at, control.rail)
        found[name] = 1.0 if high < low else -1.0
    return found


def _opened(survey: Survey) -> Mapping[Name, float]:
    """Controls of a current -> the stop at which more flows, out of the way of the voltage.

    The need's band of overload is that of the knob's end. One of which a stop is not solved is left
    at rest.
    """
    found = {}
    for control in survey.fixture.design.controls:
        if control.quantity != "current":
            continue
        points = survey.range.middle().take(np.zeros(len(STOPS), np.intp))
        most = survey.fixture.rails[control.rail].current.max
        loads = {**points.loads, control.rail: np.full(len(STOPS), HEAVY * most)}
        lanes = survey.bare(replace(points, loads=loads), survey.typical(len(STOPS)))
        lanes[control.part, control.value] = np.array(STOPS)
        at = survey.engine(lanes, len(STOPS))
        if at.solved.all():
            amperes = at.of(load_ref(control.rail), "current")
            found[control.part, control.value] = STOPS[int(np.argmax(amperes))]
    return found


def _calibrated(points: Points, rail: str, said: Calibration) -> Points:
    """Points moved to where a trim is set."""
    same = np.ones(points.count)
    loads = dict(points.loads)
    if said.load is not None:
        loads[rail] = said.load * same
    return replace(
        points,
        loads=loads,
        input=points.input if said.input is None else said.input * same,
        ambient=points.ambient if said.ambient is None else said.ambient * same,
    )
