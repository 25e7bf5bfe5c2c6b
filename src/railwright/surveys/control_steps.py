"""A hand turns the controls of a supply up, from their lowest settings to their highest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import given_name
from railwright.engine.quiescent import quiescent
from railwright.engine.stimulus import PiecewiseLinear
from railwright.surveys.courses import (
    LEAST_STRETCH,
    SETTLED,
    CourseView,
    InTime,
    Stretch,
    charging_time,
    corners,
    followed,
)
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, View, knobs
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
TURN = 0.1
"""s; a hand turns a knob through its travel in no less (common practice, no source)."""


class ControlSteps(InTime):
    """All controls are turned up together, from the lowest settings to the highest.

    Light loads, with any capacitance, and the highest input: that is where an output overshoots.
    """

    name = "control steps"
    thrift = replace(InTime.thrift, enough=0.0, samples=4)

    def applies(self, survey: Survey) -> bool:
        return bool(survey.controls_of_role("set"))

    def points(self, survey: Survey) -> Points:
        axes = survey.range
        light = {rail: each.current.min for rail, each in survey.fixture.rails.items()}
        found = corners(survey, [light], axes.input[-1:], axes.ambient[:1])
        lowest = [found.settings[rail] == axis[0] for rail, axis in axes.settings.items()]
        return found.take(np.flatnonzero(np.all(lowest, axis=0)))

    def stretch(self, survey: Survey) -> Stretch:
        """The turn, and what follows it."""
        return Stretch(0.0, TURN, TURN + max(LEAST_STRETCH, SETTLED * charging_time(survey)))

    def highest(self, survey: Survey, points: Points) -> Points:
        """The same points with every rail set as high as it can be."""
        top = {n: np.full(points.count, a[-1]) for n, a in survey.range.settings.items()}
        return replace(points, settings=top)

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CourseView:
        before = AS_SET.view(survey, points, actual, near)
        known = None if near is None else replace(near, at=near.beside["highest"])
        after = AS_SET.view(survey, self.highest(survey, points), actual, known)
        lower, upper = knobs(survey, before.at), knobs(survey, after.at)
        rest, stretch = quiescent(before.at), self.stretch(survey)
        times = np.tile([stretch.begin, stretch.begin + stretch.edge], (points.count, 1))
        stimuli = {
            name: PiecewiseLinear(
                times, np.stack([turned[given_name(*name)] for turned in (lower, upper)], axis=1)
            )
            for name in survey.controls_of_role("set")
        }
        record = followed(survey, rest, [stretch], stimuli)
        return CourseView(survey, points, before.at, {"highest": after.at}, records=[record])


CONTROL_STEPS = ControlSteps()
