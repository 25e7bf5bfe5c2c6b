"""A supply at the end of its electrolytic capacitors' life."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Lanes, Name
from railwright.surveys.courses import corners, ends
from railwright.surveys.depth import DEFAULT
from railwright.surveys.operating_range import Points
from railwright.surveys.positions import beginning, holding, placed
from railwright.surveys.situations import Situation, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
LEFT = 0.8
"""Of the capacitance after the rated life: endurance test of IEC 60384-4, from memory."""
GROWN = 2.0
"""Series resistance after it, over what it was: likewise."""


class Worn(Situation):
    """As set, with the electrolytic capacitors as they are when their life ends.

    At full load and the lowest input: 80 % of the capacitance that each had, twice its series
    resistance.
    """

    name = "worn out"
    since = DEFAULT

    def points(self, survey: Survey) -> Points:
        full = ends(survey.range.loads)[-1]
        return placed(survey, corners(survey, [full], survey.range.input[:1]))

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        lanes = survey.lanes(points, actual) | survey.aimed(points) | holding(survey, points)
        start = survey.states.start if near is None else near.at
        aged = {**lanes, **_aged(survey, lanes)}
        at = survey.solve(aged, points.count, start, beginning(survey, points))
        return View(survey, points, at)


WORN = Worn()


def _aged(survey: Survey, lanes: Lanes) -> dict[Name, Array | float]:
    found: dict[Name, Array | float] = {}
    for part in survey.fixture.circuit.parts:
        if part.options.get("dielectric") == "electrolytic":
            for name, factor in (("capacitance", LEFT), ("esr", GROWN)):
                own = part.ref, name
                found[own] = factor * lanes.get(own, part.values[name].spread.typical)
    return found
