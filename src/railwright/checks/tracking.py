"""Tracking: the loop of a regulator that is set by more than a divider."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from railwright.checks.check import Check, Worst, at_least
from railwright.checks.stability import WHOLE
from railwright.quantity import show
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey
from railwright.surveys.tracking import TRACKING, TrackingView, tracking_regulators


class TrackingLoop(Check):
    """Phase margin of a switching regulator whose feedback passes on more than a divider's.

    The datasheet advised its coil and capacitors for a divider. What a divider for the same
    voltage would lack of the wanted margin is therefore not counted against the level shift.
    """

    id = "stability.tracking"
    question = "Does a regulator that tracks another rail stand the gain that its feedback adds?"
    source = "return ratio (Bode); Erickson and Maksimovic, chapter 9; 45° is common practice"
    analysis = (
        "Return ratio T of the regulator's loop, and T over what its feedback passes on more than "
        "a divider for the same voltage, which is feedback over output voltage. Margin = phase "
        "margin of T + what that of the divided loop lacks of need.parts.phase_reserve (45° unless "
        "said). At the corners of the range; a loop that is not published stays typical. "
        "Reserve = margin / 180°; the phase reserve is wanted."
    )
    example = (
        "A level shift that passes on 0.65 of 14.5 V held by a feedback of 1.23 V, where a divider "
        "has `1.23 V / 14.5 V = 0.0848`: `0.65 / 0.0848 = 7.67` times the gain; a loop that falls "
        "in proportion passes 1 at that many times the frequency."
    )
    situation = TRACKING
    unit = "°"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return survey.once(tracking_regulators)

    def answer(self, view: View, subject: str) -> Answer:
        found = cast(TrackingView, view).loops[subject]
        wanted = _wanted(view.survey)
        # Infinite where the divided loop never has a gain of 1: nothing is lacking then.
        lacking = np.maximum(wanted - found.divided_phase, 0.0)
        answer = at_least(found.phase, -lacking, asked=np.isfinite(found.phase))
        return replace(answer, ample=wanted)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return WHOLE

    def wanted(self, survey: Survey) -> float:
        return _wanted(survey) / WHOLE

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        if worst.view is None:
            return ""
        found = cast(TrackingView, worst.view).loops[subject]
        phase, crossing, divided_phase, divided_crossing, more = (float(row[0]) for row in found)
        divided = (
            f"would at {show(divided_crossing, 'Hz')} with {divided_phase:.0f}°"
            if np.isfinite(divided_phase)
            else "never would"
        )
        return (
            f"The loop of {subject} passes a gain of 1 at {show(crossing, 'Hz')} with a phase "
            f"margin of {phase:.0f}°; set by a divider for the same voltage it {divided}: its "
            f"feedback passes on {more:.1f} times as much there ({worst.place})."
        )


def _wanted(survey: Survey) -> float:
    return survey.fixture.design.need.parts.phase_reserve
