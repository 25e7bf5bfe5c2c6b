"""Every part in every way in which it can fail by itself: where the supply comes to rest then.

Knobs stay where they were set before the fault. Parts with two states follow from those of the
sound supply (`surveys.to_rest`). On alternating mains the direct sources that stand for the
windings are at their crest.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Lanes, Model, Name, chosen
from railwright.engine.operating_point import Reach, first_order, operating_point
from railwright.engine.solutions import OperatingPoints
from railwright.surveys.depth import DEEP
from railwright.surveys.fault_modes import FaultMode, FaultModes, changed
from railwright.surveys.fixture import CREST, transforms
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, knobs
from railwright.surveys.states import level, settle
from railwright.surveys.survey import Survey
from railwright.surveys.to_rest import ToRest

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Which = NDArray[np.intp]


@dataclass(frozen=True)
class FaultStudy:
    """The supply with each fault at each point: lanes side by side, points running fastest."""

    survey: Survey
    modes: Sequence[FaultMode]
    points: Points
    sound: OperatingPoints
    """Without a fault (point)."""
    mode: Which
    """Number of the mode of each lane."""
    point: Which
    """Number of the point of each lane."""
    model: Model
    lanes: Lanes
    """What each lane was asked for, faults included."""
    rest: OperatingPoints
    """Where each lane comes to rest."""
    restless: Mask
    """Lanes in which parts keep turning over."""
    highest: Mapping[str, Array]
    """Per rail the highest voltage on the way, without regard to time: what acts has not acted."""
    reached: Mapping[str, Array]
    """Per two-state part how far it was active at most on the way, 0 or 1."""

    @property
    def solved(self) -> Mask:
        """Lanes of which it is known where they come to rest."""
        return self.rest.solved & self.sound.solved[self.point]

    def turned_over(self, ref: str) -> Array:
        """By how much a two-state part is more active than without the fault, over lanes."""
        return level(self.rest, ref) - self.sound_level(ref)

    def sound_level(self, ref: str) -> Array:
        """How far a two-state part is active without the fault, over lanes."""
        found: Array = level(self.sound, ref)[self.point]
        return found


def points_of_faults(survey: Survey) -> Points:
    """Where faults are looked at: the ends of settings and loads, at the highest input, hot.

    Deep, at the lowest input and cold as well.
    """
    axes = survey.range
    deep = survey.depth.covers(DEEP)
    ends = list(
        itertools.product(
            _ends(axes.settings.values()),
            _ends(axes.loads.values()),
            _ends([axes.input]) if deep else (-1,),
            _ends([axes.ambient]) if deep else (-1,),
        )
    )
    setting, load, source, air = (list(places) for places in zip(*ends, strict=True))
    return Points(
        {rail: axis[setting] for rail, axis in axes.settings.items()},
        {rail: axis[load] for rail, axis in axes.loads.items()},
        axes.input[source],
        axes.ambient[air],
    )


def _ends(axes: Iterable[Array]) -> tuple[int, ...]:
    """Places of both ends of axes that go together; one where none has more."""
    return (0, -1) if any(axis.size > 1 for axis in axes) else (-1,)


def single_faults(survey: Survey) -> FaultStudy:
    """Look at every single fault, with typical parts; ask for it by `survey.once`."""
    points = points_of_faults(survey)
    return look_at(survey, points, survey.typical(points.count))


def look_at(
    survey: Survey, points: Points, actual: Array, wanted: Sequence[int] | None = None
) -> FaultStudy:
    """Look at faults at points with actual quantities (quantity, point); some of the modes alone.

    wanted: numbers of modes, as `FaultStudy.mode` has them; None for all.
    """
    before = AS_SET.view(survey, points, actual, None)
    crest = points
    if survey.fixture.alternating:  # what fails may leave a reservoir without a load
        crest = replace(points, input=CREST * points.input)
    lanes = survey.lanes(crest, actual) | knobs(survey, before.at)
    own = {part.ref for part in survey.fixture.design.circuit.parts} - set(left_out(survey))
    parts = [part for part in survey.fixture.circuit.parts if part.ref in own]
    found = FaultModes.of(parts, survey.model.topology)
    model = Model(found.topology(survey.model.topology), survey.model.nominal)
    engine = partial(_solve, survey, model)
    sound = settle(engine, lanes, points.count, survey.states.working)

    numbers = range(len(found.modes)) if wanted is None else wanted
    variants = [(n, v) for n in numbers for v in found.modes[n].variants]
    point = np.tile(np.arange(points.count), len(variants))
    mode = np.repeat(np.array([n for n, _ in variants], np.intp), points.count)
    faulty = chosen(_spread_out(lanes, points.count), point)
    faulty |= changed(partial(value_before, model, lanes), [v for _, v in variants], points.count)
    highest = {rail: np.full(point.size, np.nan) for rail in survey.fixture.rails}

    def seen(which: Which, at: OperatingPoints) -> None:
        for rail, so_far in highest.items():
            so_far[which] = np.fmax(so_far[which], survey.rail_voltage(at, rail))

    course = ToRest(engine, partial(_step, survey, model), faulty, sound.take(point), seen)
    return FaultStudy(
        survey,
        found.modes,
        points,
        sound,
        mode,
        point,
        model,
        faulty,
        course.follow(),
        course.restless,
        highest,
        course.reached,
    )


def left_out(survey: Survey) -> Sequence[str]:
    """Refs of the parts whose faults are not looked at: those which a stand-in replaces."""
    if not survey.fixture.alternating:
        return []
    return [part.ref for part in survey.fixture.circuit.parts if transforms(part)]


def _solve(
    survey: Survey,
    model: Model,
    lanes: Lanes,
    count: int,
    start: OperatingPoints | None = None,
    reach: Reach = "all",
) -> OperatingPoints:
    survey.effort.add(count)
    return operating_point(model, lanes, count, start, survey.announce, reach)


def _step(
    survey: Survey, model: Model, lanes: Lanes, count: int, start: OperatingPoints
) -> OperatingPoints:
    survey.effort.add(count)
    return first_order(model, lanes, count, start)


def _spread_out(lanes: Lanes, count: int) -> dict[Name, Array]:
    return {name: np.broadcast_to(np.asarray(v, float), (count,)) for name, v in lanes.items()}


def value_before(model: Model, lanes: Lanes, name: Name) -> Array | float:
    """What a value or an input is without a fault."""
    if name in lanes:
        return lanes[name]
    ref, own = name
    if not ref:
        return 0.0
    device = model.topology.element[ref].device
    if own in device.inputs:
        return device.inputs[own]
    default = device.values[own].default if own in device.values else None
    return model.nominal.get(name, 0.0 if default is None else default)
