"""Several rails: what the loads of the others do to one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.solutions import OperatingPoints
from railwright.surveys.operating_range import Points
from railwright.surveys.positions import beginning
from railwright.surveys.situations import Situation, Thrift, View, knobs, reference_points
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]


class OtherLoads(Situation):
    """Controls stay where they were set at nominal input, half load and 25 °C.

    At the extreme points. Beside them, by the rail's name, is what happens with the load of that
    rail as it is and those of all others at their least.
    """

    name = "other loads"
    thrift = Thrift(anchors=1, corners=False, turns=1, sampled=1, samples=64)

    def applies(self, survey: Survey) -> bool:
        return len(survey.fixture.rails) > 1

    def points(self, survey: Survey) -> Points:
        return survey.coarsest.extremes()

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        state, known = beginning(survey, points), {} if near is None else near.beside
        reference = reference_points(survey, points)
        lanes = survey.lanes(reference, actual) | survey.aimed(reference)
        start = known.get("set", survey.states.start)
        setting = survey.solve(lanes, points.count, start, state)
        stay = knobs(survey, setting)

        def solve(where: Points, start: OperatingPoints | None) -> OperatingPoints:
            lanes = {**survey.lanes(where, actual), **stay}
            return survey.solve(lanes, where.count, start or setting, state)

        beside = {"set": setting}
        for rail in survey.fixture.rails:
            least = {r: np.full(points.count, a[0]) for r, a in survey.range.loads.items()}
            alone = replace(points, loads={**least, rail: points.loads[rail]})
            beside[rail] = solve(alone, known.get(rail))
        return View(survey, points, solve(points, None if near is None else near.at), beside)


OTHER_LOADS = OtherLoads()
