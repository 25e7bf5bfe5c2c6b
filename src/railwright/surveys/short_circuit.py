"""A screwdriver across the terminals: a rail is shorted at full load, and the short taken away."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.stimulus import PiecewiseLinear
from railwright.surveys.courses import (
    LEAST_STRETCH,
    SETTLED,
    CourseView,
    InTime,
    Record,
    Stretch,
    charging_time,
    corners,
    followed,
    pulses,
    voltages,
)
from railwright.surveys.fixture import load_ref
from railwright.surveys.operating_range import Points
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
SHORT = 10e-3
"""Ω; a screwdriver across the terminals (common practice, no source)."""


class ShortCircuit(InTime):
    """Each rail with an overload of its own is shorted at full load, and the short taken away.

    One course for each of them, in the order of the need, since a trip may end it.
    """

    name = "short circuit"
    thrift = replace(InTime.thrift, enough=0.0, sampled=4, samples=12)
    edge = 1e-6
    """s; how fast a screwdriver makes contact (common practice, no source)."""

    def applies(self, survey: Survey) -> bool:
        return bool(limited(survey))

    def points(self, survey: Survey) -> Points:
        full = {rail: each.current.max for rail, each in survey.fixture.rails.items()}
        return corners(survey, [full], ambients=survey.range.ambient[:1])

    def stretches(self, survey: Survey) -> Sequence[Stretch]:
        """The short, and what follows it."""
        lasts = max(LEAST_STRETCH, SETTLED * charging_time(survey))
        ends = (0.0, lasts, 2.0 * lasts)
        return [Stretch(b, self.edge, e) for b, e in itertools.pairwise(ends)]

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> CourseView:
        before = AS_SET.view(survey, points, actual, near)
        rest = quiescent(before.at)
        records = [self._record(survey, points, rest, rail) for rail in limited(survey)]
        return CourseView(survey, points, before.at, records=records)

    def _record(self, survey: Survey, points: Points, rest: Quiescent, rail: str) -> Record:
        stretches, load = self.stretches(survey), points.loads[rail]
        # At its setting the load would take this: the conductance of a short circuit.
        high = points.settings[rail] / SHORT
        edges = np.ravel([(each.begin, each.begin + each.edge) for each in stretches])
        course = PiecewiseLinear(
            np.tile(edges, (points.count, 1)), np.stack([load, high, high, load], axis=1)
        )
        powers = [(load_ref(each), "power") for each in survey.fixture.rails]
        states = [(ref, "state") for ref in survey.states.working]
        stimuli = {(load_ref(rail), "current"): course}
        also = [*powers, *states, *voltages(survey), *pulses(survey)]
        return followed(survey, rest, stretches, stimuli, also)


SHORT_CIRCUIT = ShortCircuit()


def limited(survey: Survey) -> list[str]:
    """The rails of which the need says what they do when they are overloaded."""
    rails = survey.fixture.rails.items()
    return [n for n, o in rails if o.overload is not None and o.overload.style != "none"]
