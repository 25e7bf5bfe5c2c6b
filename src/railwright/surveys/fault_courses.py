"""How high the outputs go in time after a fault, where its state at rest does not tell.

A guard, a trip or a fuse takes time to act, and what rushes into capacitors may make it act where
nothing would at rest. Faults are followed that lift an output.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import MissingValue
from railwright.engine.quiescent import quiescent
from railwright.engine.transient import Tolerance, transient
from railwright.engine.two_state import two_state_parts
from railwright.surveys.fixture import terminals
from railwright.surveys.single_faults import FaultStudy, single_faults
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Which = NDArray[np.intp]
EXACT = Tolerance(relative=1e-3, absolute=1e-5)
LASTS = (50e-3, 1.0)
"""s; filters and what they feed have come to rest after the first, and heat has not begun to
matter; what is not calm by then is followed for longer."""
MOST_STEPS = 4000.0
"""Of a course: what takes more swings on and on, and is not followed to its end."""
FINER = 4e-4
"""Of a course is the longest step where those of the usual length found no state to begin from."""
INSTANTS = 400
WIDE = 3
"""Lanes that are followed by the same code as many."""
SOON = 1e-7
"""s; the first look at what a fault does."""
SLOW = ("drift", "leaky")
"""Modes that come slowly, so that nothing rushes anywhere: these are followed only where an output
comes near its limit before something acts."""
LIFTED = 0.05
"""Share by which an output has to rise for a fault to be followed."""
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
    reached: Mapping[str, Array]
    """How far they were active at most."""
    elsewhere: Mask
    """Lanes that ended where they do not come to rest by the statics alone: something has acted."""
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
    at_rest = {rail: survey.rail_voltage(study.rest, rail) for rail in survey.fixture.rails}
    highest = {
        rail: np.where(study.solved, np.fmax(volts, study.highest[rail]), np.nan)
        for rail, volts in at_rest.items()
    }
    lifted = rising = _lifted(study, highest)
    found, missing = [], ""
    try:
        for lasts in LASTS:
            if rising.size:
                passes = _followed(study, rising, lasts)
                found += passes
                rising = np.concatenate([each.rising for each in passes])
    except MissingValue as error:
        missing = str(error)
    for ended in found:
        for rail, volts in ended.highest.items():
            highest[rail][ended.lanes] = volts
    ends = _Ended.together(found, survey.fixture.rails, two_state_parts(study.model))
    _unless_at_rest(survey, highest, at_rest, np.setdiff1d(lifted, ends.lanes))
    elsewhere = np.zeros(study.solved.size, bool)
    for rail, volts in ends.last.items():
        sound = survey.rail_voltage(study.sound, rail)[study.point[ends.lanes]]
        elsewhere[ends.lanes] |= np.abs(volts - at_rest[rail][ends.lanes]) > LIFTED * sound
    return Outputs(highest, ends.lanes, ends.last, ends.states, ends.reached, elsewhere, missing)


def _lifted(study: FaultStudy, highest: Mapping[str, Array]) -> Which:
    """Lanes that are to be followed."""
    survey = study.survey
    found = np.zeros(study.solved.size, bool)
    near = 1.0 - survey.fixture.design.need.parts.reserve
    slow = np.array([study.modes[n].fault.name in SLOW for n in study.mode], bool)
    for rail, limit in never_above(survey).items():
        sound = survey.rail_voltage(study.sound, rail)[study.point]
        found |= highest[rail] > np.where(slow, near * limit, (1.0 + LIFTED) * sound)
    return np.flatnonzero(found)


@dataclass(frozen=True)
class _Ended:
    """Courses that were followed until they were calm."""

    lanes: Which
    highest: Mapping[str, Array]
    last: Mapping[str, Array]
    states: Mapping[str, Array]
    reached: Mapping[str, Array]
    rising: Which
    """Lanes that were followed to their end, but were not calm by then."""

    @classmethod
    def together(
        cls, several: Sequence[_Ended], rails: Iterable[str], parts: Iterable[str]
    ) -> _Ended:
        """All of them side by side."""

        def joined(arrays: Iterable[Array]) -> Array:
            return np.concatenate([np.empty(0), *arrays])

        rails, parts = list(rails), list(parts)
        return cls(
            np.concatenate([np.empty(0, np.intp), *(each.lanes for each in several)]),
            {rail: joined(each.highest[rail] for each in several) for rail in rails},
            {rail: joined(each.last[rail] for each in several) for rail in rails},
            {ref: joined(each.states[ref] for each in several) for ref in parts},
            {ref: joined(each.reached[ref] for each in several) for ref in parts},
            several[-1].rising if several else np.empty(0, np.intp),
        )


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


def _followed(study: FaultStudy, which: Which, lasts: float) -> list[_Ended]:
    """Lanes in time; those that found no state to begin from are tried again in finer steps."""
    first, unbegun = _course(study, which, lasts)
    if not unbegun.size:
        return [first]
    return [first, _course(study, unbegun, lasts, FINER * lasts)[0]]


def _course(
    study: FaultStudy, which: Which, lasts: float, longest: float | None = None
) -> tuple[_Ended, Which]:
    """Lanes in time, from the sound supply at rest in which the fault comes at once.

    Only those are told of that were followed to their end [s], and were calm by then. longest: step
    [s], as `engine.transient` has it. And those that found no state to begin from.
    """
    survey = study.survey
    # A few lanes more cost less than code of their own for so few.
    wide = np.resize(which, max(which.size, WIDE))
    sound = quiescent(study.sound.take(study.point[wide]))
    names = {c.name for mode in study.modes for variant in mode.variants for c in variant}
    faulty = {name: np.asarray(study.lanes[name])[wide] for name in names & study.lanes.keys()}
    nets = {rail: terminals(output) for rail, output in survey.fixture.rails.items()}
    parts = two_state_parts(study.model)
    watch = {(net, "") for pair in nets.values() for net in (pair.plus, pair.minus)}
    watch |= {(ref, "state") for ref in parts}
    survey.effort.add(which.size)
    course = transient(
        sound.model,
        {**sound.lanes, **faulty},
        wide.size,
        np.concatenate([[0.0], np.geomspace(SOON, lasts, INSTANTS)]),
        sound.x,
        tolerance=EXACT,
        most_steps=MOST_STEPS,
        watch=sorted(watch - {(study.model.topology.ground, "")}),
        longest=longest,
        announce=survey.announce,
    )
    voltages = {
        rail: course.potential(pair.plus) - course.potential(pair.minus)
        for rail, pair in nets.items()
    }
    whole, early = course.solved.copy(), course.times <= CALM * lasts
    whole[which.size :] = False
    known = whole.copy()
    for rail, limit in never_above(survey).items():
        before, after = voltages[rail][:, early], voltages[rail][:, ~early]
        known &= after.max(axis=1) <= before.max(axis=1) + RISEN * limit
    ended = _Ended(
        wide[known],
        {rail: volts[known].max(axis=1) for rail, volts in voltages.items()},
        {rail: volts[known, -1] for rail, volts in voltages.items()},
        {ref: course.unknown(ref, "state")[known, -1] for ref in parts},
        {ref: course.unknown(ref, "state")[known].max(axis=1) for ref in parts},
        wide[whole & ~known],
    )
    begun = course.solved | (course.steps > 0)
    return ended, which[~begun[: which.size]]
