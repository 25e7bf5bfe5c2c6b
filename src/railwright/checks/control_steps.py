"""Control steps: what the terminals show when a control is turned up."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Worst, at_most
from railwright.checks.output import controls_of
from railwright.checks.transients import (
    CourseCheck,
    allowance_scale,
    bounded_above,
    passing_allowance,
)
from railwright.surveys.control_steps import CONTROL_STEPS
from railwright.surveys.courses import CourseView
from railwright.surveys.extremes import Answer
from railwright.surveys.survey import Survey


class ControlStep(CourseCheck):
    """The highest voltage while a control is turned up, against the highest setting."""

    id = "transient.control-step"
    question = "Does the output stay low enough when its control is turned up?"
    situation = CONTROL_STEPS
    source = (
        "need.output: accuracy or load_step.deviation above the setting, never_above; at the "
        "output terminals"
    )
    analysis = (
        "Controls are turned from the lowest settings to the highest within 0.1 s, with light "
        "loads and any capacitance that they may have. Margin = highest setting + what is allowed "
        "for a moment, as in transient.start-up - highest voltage at the terminals. Reserve = "
        "margin / what is allowed."
    )
    example = (
        "A loop that goes on charging 470 µF for 1 ms after 12 V are reached, with 1 A left over, "
        "lets them overshoot by `1 A × 1 ms / 470 µF = 2.13 V`; of 300 mV that load steps may "
        "move it, `300 mV - 2.13 V = -1.83 V`."
    )
    says = "When its control is turned up the output reaches {value}; {limit} is allowed ({place})."

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [
            rail
            for rail in super().subjects(survey)
            if bounded_above(survey, rail) and controls_of(survey, rail, "set")
        ]

    def answered(self, view: CourseView, subject: str) -> Answer:
        highest = np.full(view.points.count, view.survey.range.settings[subject][-1])
        allowed = passing_allowance(view.survey, subject, highest)
        return at_most(view.highest(subject), highest + allowed)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return allowance_scale(survey, subject)
