"""Controls whose wiper lifts off its track: with wear, dust and a knob that is being turned."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from railwright.engine.faults import OPEN
from railwright.surveys.operating_range import Points
from railwright.surveys.positions import beginning
from railwright.surveys.situations import AS_SET, Situation, Thrift, View, knobs
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]


def wipers(survey: Survey) -> Mapping[str, str]:
    """Refs of the controls that have a wiper -> the rails that they set or trim."""
    circuit = survey.fixture.circuit
    return {
        ref: control.rail
        for (ref, _), control in survey.controls.items()
        if "contact_resistance" in circuit.part(ref).device.values
    }


class LiftedWiper(Situation):
    """As set, and then with the wiper of one control after the other off its track.

    At the extreme points. `at` is as set; beside it, by the control's ref, is what happens then.
    """

    name = "lifted wiper"
    thrift = Thrift(anchors=1, corners=False, turns=1, sampled=1, samples=64)

    def applies(self, survey: Survey) -> bool:
        return bool(wipers(survey))

    def points(self, survey: Survey) -> Points:
        return survey.coarsest.extremes()

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        before = AS_SET.view(survey, points, actual, near)
        lanes = survey.lanes(points, actual) | knobs(survey, before.at)
        beside = {}
        for ref in wipers(survey):
            known = near.beside[ref] if near is not None else before.at
            lifted = {**lanes, (ref, "contact_resistance"): OPEN}
            beside[ref] = survey.solve(lifted, points.count, known, beginning(survey, points))
        return View(survey, points, before.at, beside)


LIFTED_WIPER = LiftedWiper()
