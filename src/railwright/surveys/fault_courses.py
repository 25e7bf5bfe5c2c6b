"""How high the outputs go in time after a fault, where its state at rest does not tell.

A guard, a trip or a fuse takes time to act. Only faults are followed that could bring an output
near what the need allows if nothing acted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import MissingValue
from railwright.engine.quiescent import quiescent
from railwright.engine.transient import Course, Tolerance, transient
from railwright.engine.two_state import two_state_parts
from railwright.surveys.fixture import terminals
from railwright.surveys.single_faults import FaultStudy, single_faults
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Which = NDArray[np.intp]
EXACT = Tolerance(relative=1e-3, absolute=1e-5)
LASTS = 50e-3
"""s; filters and what they feed have come to rest by then, and heat has not begun to matter."""
INSTANTS = 400
SOON = 1e-7
"""s; the first look at what a fault does."""
CALM = 0.8
"""Share of a course after which no output may go higher than before."""
RISEN = 1e-3
"""Share of its limit by which an output may, nevertheless."""


@dataclass(frozen=True)
class Outputs:
    """How high the outputs go with each fault, over the lanes of a study."""

    highest: Mapping[str, Array]
    """Per rail [V], also on the way; not-a-number where nobody knows."""
    followed: Which
    """Lanes that were followed in time, to their end."""
    last: Mapping[str, Array]
    """Per rail the voltage when they ended [V], over `followed`."""
    states: Mapping[str, Array]
    """How far two-state parts were active when they ended, over `followed`."""
    missing: str
    """Why none could be followed; empty where they could."""


def never_above(survey: Survey) -> Mapping[str, float]:
    """The rails of which the need says what they must never exceed [V]."""
    outputs = survey.fixture.rails.items()
    return {rail: o.never_above for rail, o in outputs if o.never_above is not None}


def outputs_with_faults(survey: Survey) -> Outputs:
    """How high the outputs go with each single fault; ask for it by `survey.once`."""
    return outputs_of(survey.once(single_faults))


def outputs_of(study: FaultStudy) -> Outputs:
    """How high the outputs go in the lanes of a study."""
    survey = study.survey
    at_rest = {rail: _output(study, rail) for rail in survey.fixture.rails}
    highest = {
        rail: np.where(study.solved, np.fmax(at_rest[rail], study.highest[rail]), np.nan)
        for rail in survey.fixture.rails
    }
    could = np.zeros(study.solved.size, bool)
    near = 1.0 - survey.fixture.design.need.parts.reserve
    for rail, limit in never_above(survey).items():
        could |= highest[rail] > near * limit
    which = np.flatnonzero(could)
    if not which.size:
        return Outputs(highest, which, {}, {}, "")
    try:
        course = _followed(study, which)
    except MissingValue as error:
        _unless_at_rest(survey, highest, at_rest, which)
        return Outputs(highest, which[:0], {}, {}, str(error))
    known = course.solved.copy()
    voltages = {rail: _voltage(survey, course, rail) for rail in survey.fixture.rails}
    for rail, limit in never_above(survey).items():
        early = course.times <= CALM * LASTS
        before = voltages[rail][:, early].max(axis=1)
        known &= voltages[rail][:, ~early].max(axis=1) <= before + RISEN * limit
    for rail, voltage in voltages.items():
        highest[rail][which[known]] = voltage[known].max(axis=1)
    _unless_at_rest(survey, highest, at_rest, which[~known])
    states = {ref: course.unknown(ref, "state")[known, -1] for ref in _parts(study)}
    last = {rail: voltage[known, -1] for rail, voltage in voltages.items()}
    return Outputs(highest, which[known], last, states, "")


def _unless_at_rest(
    survey: Survey,
    highest: Mapping[str, Array],
    at_rest: Mapping[str, Array],
    which: Which,
) -> None:
    """What is not followed is known only where it cannot go too high, or is so at rest, too."""
    for rail, limit in never_above(survey).items():
        most, rests = highest[rail][which], at_rest[rail][which]
        highest[rail][which] = np.where(most <= limit, most, np.where(rests > limit, rests, np.nan))


def _output(study: FaultStudy, rail: str) -> Array:
    return study.survey.rail_voltage(study.rest, rail)


def _parts(study: FaultStudy) -> tuple[str, ...]:
    return two_state_parts(study.model)


def _followed(study: FaultStudy, which: Which) -> Course:
    """Lanes in time, from the sound supply at rest in which the fault comes at once."""
    sound = quiescent(study.sound.take(study.point[which]))
    names = {c.name for mode in study.modes for variant in mode.variants for c in variant}
    known = names & study.lanes.keys()
    faulty = {name: np.asarray(study.lanes[name])[which] for name in known}
    nets = [terminals(output) for output in study.survey.fixture.rails.values()]
    ground = study.model.topology.ground
    watch = {(net, "") for pair in nets for net in (pair.plus, pair.minus) if net != ground}
    watch |= {(ref, "state") for ref in _parts(study)}
    times = np.concatenate([[0.0], np.geomspace(SOON, LASTS, INSTANTS)])
    study.survey.effort.lanes += which.size
    return transient(
        sound.model,
        {**sound.lanes, **faulty},
        which.size,
        times,
        sound.x,
        tolerance=EXACT,
        watch=sorted(watch),
        announce=study.survey.announce,
    )


def _voltage(survey: Survey, course: Course, rail: str) -> Array:
    nets = terminals(survey.fixture.rails[rail])
    across: Array = course.potential(nets.plus) - course.potential(nets.minus)
    return across
