"""What happens to a supply when its input steps, sags and comes back, or goes away."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance
from railwright.surveys.courses import (
    LEAST_STRETCH,
    CourseView,
    InTime,
    Record,
    Stretch,
    capacitances,
    corners,
    ends,
    followed,
    time_to_rest,
    together,
    voltages,
)
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
CLOSE = Tolerance(1e-3, 1e-4)
"""Of each step: comparators that hover as their rails go away are followed no more closely."""
STEP = 100e-6
"""s; an edge of the input, behind the cable and the capacitors of a source (common practice)."""
FALL = 1e-3
"""s; how fast the input goes away when it is switched off or unplugged (common practice)."""
SAG = 100e-3
"""s; how long the input takes to sag to nothing, and to come back (common practice): slow enough
for every stage to go through all that it can be at."""


class InputChanges(InTime):
    """The input changes: it steps, it sags and returns, it goes away.

    One course for each. Light loads are with the highest input and with any capacitance, which
    may feed back once the input is gone; full ones with the lowest input and the most.
    """

    name = "input changes"
    thrift = replace(InTime.thrift, enough=0.0, samples=2)
    step, sag, away = range(3)
    """The numbers of the courses."""

    def points(self, survey: Survey) -> Points:
        rails, axes = survey.fixture.rails, survey.range
        coldest = axes.ambient[:1]
        light = {rail: each.current.min for rail, each in rails.items()}
        full = {rail: each.current.max for rail, each in rails.items()}
        return together(
            corners(survey, [light], axes.input[-1:], coldest),
            corners(survey, [full], axes.input[:1], coldest, ends(capacitances(survey))[-1:]),
        )

    def stretches(self, survey: Survey, course: int) -> Sequence[Stretch]:
        """There and back; where the input goes away, there alone."""
        rest = survey.once(time_to_rest)
        edge = (STEP, SAG, FALL)[course]
        there = edge + (LEAST_STRETCH if course == self.sag else rest)
        back = [] if course == self.away else [there + edge + rest]
        return [Stretch(b, edge, e) for b, e in itertools.pairwise([0.0, there, *back])]

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CourseView:
        before = AS_SET.view(survey, points, actual, near)
        rest = quiescent(before.at)
        courses = (self.step, self.sag, self.away)
        records = [self._record(survey, points, rest, course) for course in courses]
        return CourseView(survey, points, before.at, records=records)

    def _record(self, survey: Survey, points: Points, rest: Quiescent, course: int) -> Record:
        stretches = self.stretches(survey, course)
        low, high = survey.range.input[0], survey.range.input[-1]
        other = np.where(points.input > low, low, high)
        there = other if course == self.step else np.zeros(points.count)
        edges = np.ravel([(each.begin, each.begin + each.edge) for each in stretches])
        volts = np.stack([points.input, there, there, points.input][: edges.size], axis=1)
        times = np.tile(edges, (points.count, 1))
        stimuli = {
            (source, "voltage"): PiecewiseLinear(times, share * volts)
            for source, share in survey.fixture.feeds.items()
        }
        return followed(survey, rest, stretches, stimuli, voltages(survey), CLOSE)


INPUT_CHANGES = InputChanges()
