"""A charged load, a battery or what feeds back is connected to a supply, on or without input."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Name
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.stimulus import PiecewiseLinear
from railwright.surveys.courses import (
    FED_BACK,
    LEAST_STRETCH,
    CourseView,
    InTime,
    Record,
    Stretch,
    charged,
    corners,
    followed,
    voltages,
)
from railwright.surveys.fixture import feeding_ref
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
LEADS = 0.1
"""Ω; of leads, contacts and what is charged itself (common practice, no source)."""


class ChargedLoad(InTime):
    """Each rail meets a load that is charged: in use, lightly loaded, and with no input at all.

    One course for each of both, rail by rail. What is charged is taken for large: it gives its
    voltage through its leads and keeps it; what only feeds back gives no more than the load takes.
    Without an input nothing is stored, and the source takes nothing either.
    """

    name = "charged load"
    thrift = replace(InTime.thrift, enough=0.0, samples=4)
    stretch = Stretch(0.0, 1e-6, LEAST_STRETCH)

    def applies(self, survey: Survey) -> bool:
        return bool(charged(survey))

    def points(self, survey: Survey) -> Points:
        light = {rail: each.current.min for rail, each in survey.fixture.rails.items()}
        return corners(survey, [light], ambients=survey.range.ambient[:1], stores=[{}])

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CourseView:
        before = AS_SET.view(survey, points, actual, near)
        rest = quiescent(before.at)
        down = {(source, "voltage"): 0.0 for source in survey.fixture.feeds}
        empty = replace(rest, x=np.zeros_like(rest.x), lanes={**rest.lanes, **down})
        records = [
            self._record(survey, points, begin, rail)
            for rail in charged(survey)
            for begin in (rest, empty)
        ]
        return CourseView(survey, points, before.at, records=records)

    def _record(self, survey: Survey, points: Points, rest: Quiescent, rail: str) -> Record:
        times = np.tile([0.0, self.stretch.edge], (points.count, 1))
        amperes = np.tile([0.0, given(survey, rail)], (points.count, 1))
        stimuli = {(feeding_ref(rail), FED_BACK): PiecewiseLinear(times, amperes)}
        return followed(survey, rest, [self.stretch], stimuli, [*voltages(survey), *fed(survey)])


CHARGED_LOAD = ChargedLoad()


def given(survey: Survey, rail: str) -> float:
    """The greatest current that a charged load of a rail gives [A]."""
    output = survey.fixture.rails[rail]
    stores = [each for each in output.load if each.kind != "reverse-feeding"]
    large = charged(survey)[rail] / LEADS
    return large if stores else min(large, output.current.max)


def fed(survey: Survey) -> Sequence[Name]:
    """The currents of the diodes, which may lead what is fed back."""
    parts = survey.fixture.circuit.parts
    return [(p.ref, "current") for p in parts if "forward_current" in p.device.ratings]
