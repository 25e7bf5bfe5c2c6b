"""One supply under survey: how points and samples become lanes, and how lanes are solved."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.schema import Calibration, Control
from railwright.engine.assembly import AMBIENT
from railwright.engine.model import (
    Lanes,
    Model,
    Name,
    given_name,
    slope_name,
    solve_name,
    target_name,
)
from railwright.engine.operating_point import OperatingPoints, Reach, first_order, operating_point
from railwright.surveys.fixture import SOURCE, Fixture, load_ref, terminals
from railwright.surveys.operating_range import OperatingRange, Points
from railwright.surveys.spread import PartSpread
from railwright.surveys.states import States, settle, two_state_parts

Array = NDArray[np.float64]
Found = TypeVar("Found")
SIDES = (0.3, 0.7)
"""Two places of a knob that tell which way it turns the output."""


@dataclass
class Effort:
    """What the engine was asked for."""

    lanes: int = 0
    calls: int = 0

    def count(self, lanes: int) -> None:
        """Note lanes handed to the engine."""
        self.lanes += lanes
        self.calls += 1


@dataclass
class Survey:
    """A fixture, its spread and its range, with everything that every solve needs."""

    fixture: Fixture
    assumptions: Lanes = field(default_factory=dict)
    """Inputs that a provisional mend sets in every lane."""
    announce: Callable[[str], None] | None = None
    effort: Effort = field(default_factory=Effort)
    _known: dict[Callable[[Survey], Any], Any] = field(default_factory=dict, repr=False)
    rough: bool = False
    """True while first-order estimates will do (`roughly`)."""

    @contextmanager
    def roughly(self) -> Iterator[None]:
        """Answer by first-order estimates meanwhile: enough to tell which way things move."""
        self.rough = True
        try:
            yield
        finally:
            self.rough = False

    @property
    def model(self) -> Model:
        """The engine's model of the supply."""
        return self.fixture.model

    @cached_property
    def range(self) -> OperatingRange:
        """The operating range of the need."""
        return OperatingRange.of(self.fixture.design.need)

    @cached_property
    def spread(self) -> PartSpread:
        """The spread of the parts."""
        return PartSpread.of(self.fixture.circuit)

    def typical(self, count: int) -> Array:
        """Typical quantities in every lane (quantity, lane)."""
        return np.repeat(self.spread.typical[:, None], count, axis=1)

    def lanes(self, points: Points, actual: Array, trim: bool = True) -> dict[Name, Array | float]:
        """Part values, source, loads, air and trims of lanes (point and sample side by side).

        trim: False leaves trims at rest, where what they do is not known yet.
        """
        lanes: dict[Name, Array | float] = dict(self.spread.lanes(actual, points.ambient))
        lanes[AMBIENT] = points.ambient
        lanes[SOURCE, "voltage"] = points.input
        for rail, load in points.loads.items():
            lanes[given_name(load_ref(rail), "current")] = load
            lanes[load_ref(rail), "voltage"] = points.settings[rail]
        lanes |= dict(self.assumptions)
        return lanes | (self._trimmed(points, actual) if trim else {})

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
        middle = self.range.middle().take(np.zeros(points.count, np.intp))
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
        lanes = self.lanes(middle, actual, trim=False) | lanes
        at = self.solve(lanes, points.count, self.states.start, self.states.working)
        return {given_name(*name): np.clip(at.solution_of(*name), 0.0, 1.0) for name in trims}

    def upper_stop(self, name: Name) -> float:
        """The end of a control's travel that gives the higher output."""
        return float(self.directions[name] < 0)

    @cached_property
    def directions(self) -> Mapping[Name, float]:
        """Minus the sense in which each control moves its rail [V per travel], as `Aim` wants."""
        found = {}
        middle = self.range.middle()
        for name, control in self.controls.items():
            points = middle.take(np.zeros(2, np.intp))
            lanes = self.lanes(points, self.typical(2), trim=False)
            lanes[given_name(*name)] = np.array(SIDES)
            at = self.solve(lanes, 2, self.states.start, self.states.working)
            low, high = self.rail_voltage(at, control.rail)
            found[name] = 1.0 if high < low else -1.0
        return found

    def solve(
        self,
        lanes: Lanes,
        count: int,
        start: OperatingPoints | None = None,
        state: Mapping[str, float] | None = None,
        reach: Reach = "all",
    ) -> OperatingPoints:
        """Operating points of lanes; with a state, lanes begin in it and may leave it."""
        self.effort.count(count)
        if self.rough and start is not None:
            return first_order(self.model, lanes, count, start)
        if state is None:
            return operating_point(self.model, lanes, count, start, self.announce, reach)
        return settle(self.model, lanes, count, state, start, self.announce)

    @cached_property
    def states(self) -> States:
        """Which states the two-state parts can be in, and the one in which the supply works."""
        lanes = self.lanes(self.range.middle(), self.typical(1), trim=False)
        self.effort.count(2 ** len(two_state_parts(self.model)) * 2)
        return States.of(self.model, lanes, self._alive, self.announce)

    def _alive(self, at: OperatingPoints) -> Array:
        """The least share of its greatest setting that a rail gives, over lanes."""
        shares = [
            np.abs(self.rail_voltage(at, rail)) / axis[-1]
            for rail, axis in self.range.settings.items()
        ]
        least: Array = np.min(shares, axis=0)
        return least

    def once(self, compute: Callable[[Survey], Found]) -> Found:
        """What `compute` finds out about this survey, found out once."""
        if compute not in self._known:
            self._known[compute] = compute(self)
        found: Found = self._known[compute]
        return found

    @cached_property
    def lasting(self) -> list[OperatingPoints]:
        """Solutions in lasting states: as set over the range, and each stable state."""
        grid = self.range.grid()
        lanes = self.lanes(grid, self.typical(grid.count)) | self.aimed(grid)
        over_range = self.solve(lanes, grid.count, self.states.start, self.states.working)
        return [over_range, *self.states.solutions]

    def rail_voltage(self, at: OperatingPoints, rail: str) -> Array:
        """Voltage at the terminals of a rail over lanes."""
        nets = terminals(self.fixture.rails[rail])
        return at.potential(nets.plus) - at.potential(nets.minus)


def _calibrated(points: Points, rail: str, said: Calibration) -> Points:
    """Points moved to where a trim is set."""
    same = np.ones(points.count)
    loads = dict(points.loads)
    if said.load is not None:
        loads[rail] = said.load * same
    return points.replaced(
        loads=loads,
        input=points.input if said.input is None else said.input * same,
        ambient=points.ambient if said.ambient is None else said.ambient * same,
    )
