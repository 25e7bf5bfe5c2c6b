"""A supply whose controls are turned from the highest to the lowest setting at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.quiescent import quiescent
from railwright.surveys.courses import LOAD_STEPS, CourseView, Stretch, corners, followed
from railwright.surveys.depth import DEFAULT
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, Situation, Thrift, View
from railwright.surveys.spread import Scope
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
PATIENCE = 10.0
"""s; for so long an output is followed: nobody waits longer (common practice, no source)."""


class TurnDown(Situation):
    """With the least load and no capacitor of it; whatever the supply has stored must go by itself.

    `at` is the lowest setting, at which the output has to end; beside it is the highest.
    """

    name = "turned down"
    scope: Scope = "in cycles"
    on_mains = False
    since = DEFAULT
    thrift = Thrift(
        anchors=1, corners=False, enough=0.5, estimated=False, turns=0, sampled=1, samples=4
    )
    stretch = Stretch(0.0, 1e-3, PATIENCE)

    def unready(self, survey: Survey) -> str:
        return LOAD_STEPS.unready(survey)

    def assumes(self, survey: Survey) -> Sequence[str]:
        return LOAD_STEPS.assumes(survey)

    def applies(self, survey: Survey) -> bool:
        return bool(survey.controls_of_role("set"))

    def points(self, survey: Survey) -> Points:
        rails = survey.fixture.rails
        light = {rail: output.current.min for rail, output in rails.items()}
        found = corners(survey, [light], survey.range.input[-1:], stores=[{}])
        lowest = [found.settings[rail] == axis[0] for rail, axis in survey.range.settings.items()]
        return found.take(np.flatnonzero(np.all(lowest, axis=0)))

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CourseView:
        highest = {rail: np.full(points.count, a[-1]) for rail, a in survey.range.settings.items()}
        before = replace(points, settings=highest)
        ends = AS_SET.view(survey, points, actual, near)
        begins = AS_SET.view(survey, before, actual, None)
        rest = replace(quiescent(ends.at), x=quiescent(begins.at).x)
        record = followed(survey, rest, [self.stretch], {})
        return CourseView(survey, points, ends.at, {"highest": begins.at}, records=[record])


TURN_DOWN = TurnDown()
