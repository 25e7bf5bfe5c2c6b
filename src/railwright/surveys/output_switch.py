"""A rail that is switched off at its output, by a contact or its relay, and on again."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Name
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.stimulus import PiecewiseLinear
from railwright.surveys.courses import (
    LEAST_STRETCH,
    OPERATED,
    SETTLED,
    CourseView,
    InTime,
    Record,
    Stretch,
    capacitances,
    charging_time,
    contacts,
    corners,
    ends,
    followed,
    pulse,
    together,
)
from railwright.surveys.fixture import load_ref
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, View, knobs
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
DOWN = 0.1
"""Of its setting; a contact that leaves no more of a rail switches it off."""


class OutputSwitch(InTime):
    """Each contact that takes rails off is operated, and let go again when their loads are empty.

    Meanwhile every load takes its most, which empties it. One course for each contact. Light loads
    are with the highest input, where an output may overshoot; full ones with the lowest and with
    any capacitance.
    """

    name = "output switch"
    thrift = replace(InTime.thrift, enough=0.0, samples=8)
    edge = 1e-6
    """s; how long a contact takes to close."""

    def applies(self, survey: Survey) -> bool:
        return bool(survey.once(switching_contacts))

    def points(self, survey: Survey) -> Points:
        rails, axes = survey.fixture.rails, survey.range
        light = {rail: each.current.min for rail, each in rails.items()}
        full = {rail: each.current.max for rail, each in rails.items()}
        return together(
            corners(survey, [light], axes.input[-1:], axes.ambient[:1]),
            corners(survey, [full], axes.input[:1], axes.ambient[:1], ends(capacitances(survey))),
        )

    def stretches(self, survey: Survey) -> Sequence[Stretch]:
        """Off, and on again."""
        lasts = max(LEAST_STRETCH, SETTLED * charging_time(survey))
        return [Stretch(b, self.edge, e) for b, e in itertools.pairwise((0.0, lasts, 2.0 * lasts))]

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CourseView:
        before = AS_SET.view(survey, points, actual, near)
        rest = quiescent(before.at)
        refs = survey.once(switching_contacts)
        records = [self._record(survey, points, rest, ref) for ref in refs]
        return CourseView(survey, points, before.at, records=records)

    def _record(self, survey: Survey, points: Points, rest: Quiescent, ref: str) -> Record:
        off, on = self.stretches(survey)
        stimuli = {(ref, OPERATED): pulse([off, on], 0.0, 1.0)}
        empties = Stretch(on.begin - 2.0 * self.edge, self.edge, on.begin)
        edges = np.ravel([(each.begin, each.begin + each.edge) for each in (off, empties)])
        times = np.tile(edges, (points.count, 1))
        for rail, output in survey.fixture.rails.items():
            load, most = points.loads[rail], np.full(points.count, output.current.max)
            amperes = np.stack([load, most, most, load], axis=1)
            stimuli[load_ref(rail), "current"] = PiecewiseLinear(times, amperes)
        return followed(survey, rest, [off, on], stimuli)


OUTPUT_SWITCH = OutputSwitch()


def switching_contacts(survey: Survey) -> Mapping[str, Sequence[str]]:
    """Contacts that take an output off as long as they are operated -> the rails that they do."""
    found = {}
    middle, actual = survey.range.middle(), survey.typical(1)
    operable = contacts(survey)
    if not operable:
        return {}
    before = AS_SET.view(survey, middle, actual, None)
    for ref in operable:
        operated: dict[Name, Array | float] = {(ref, OPERATED): 1.0}
        lanes = survey.lanes(middle, actual) | knobs(survey, before.at) | operated
        at = survey.solve(lanes, middle.count, before.at, survey.states.working)
        off = [
            rail
            for rail, setting in middle.settings.items()
            if at.solved.all()
            and abs(before.output(rail)[0]) > DOWN * setting[0]
            and abs(survey.rail_voltage(at, rail)[0]) <= DOWN * setting[0]
        ]
        if off:
            found[ref] = off
    return found
