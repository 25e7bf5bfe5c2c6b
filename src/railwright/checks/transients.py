"""Transients: what the terminals show while something happens to the supply."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np

from railwright.checks.check import Check, Worst, at_most
from railwright.checks.output import tolerance_of
from railwright.quantity import show
from railwright.surveys.courses import LOAD_STEPS, CourseView, stepped
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey


class _LoadStepCheck(Check):
    """A question about each rail of which the need says how its load steps."""

    situation = LOAD_STEPS

    def subjects(self, survey: Survey) -> Sequence[str]:
        return list(stepped(survey))

    def answer(self, view: View, subject: str) -> Answer:
        return self.answered(cast(CourseView, view), subject)

    def answered(self, view: CourseView, subject: str) -> Answer:
        """Margin, value and limit over lanes."""
        raise NotImplementedError(type(self).__name__)


class LoadStepDeviation(_LoadStepCheck):
    """The greatest distance from the voltage before the step, up or down, leads included."""

    id = "transient.load-step"
    question = "Does the output stay close enough when the load steps?"
    source = "need.output.load_step.deviation, measured at the output terminals"
    says = "When the load steps, the output moves by {value}; {limit} is allowed ({place})."
    unit = "V"

    def answered(self, view: CourseView, subject: str) -> Answer:
        moved = []
        for stretch in LOAD_STEPS.stretches(view.survey)[subject]:
            _, volts = view.course(subject, stretch)
            moved.append(np.abs(volts - volts[:, :1]).max(axis=1))
        return at_most(np.max(moved, axis=0), stepped(view.survey)[subject].deviation)


class Settling(_LoadStepCheck):
    """From the beginning of a step to the last instant further off than the accuracy allows.

    Off the voltage at which the output comes to rest: where that lies is a question of its own.
    """

    id = "transient.settle"
    question = "Is the output back within its accuracy soon enough after a load step?"
    source = "need.output.load_step.settle and need.output.accuracy, at the output terminals"
    unit = "s"

    def answered(self, view: CourseView, subject: str) -> Answer:
        band = tolerance_of(view.survey, subject) * view.points.settings[subject]
        took = []
        for stretch in LOAD_STEPS.stretches(view.survey)[subject]:
            since, volts = view.course(subject, stretch)
            off = np.abs(volts - volts[:, -1:]) > band[:, None]
            # It is back by the first instant after the last one outside.
            back = np.append(since[1:], since[-1])
            took.append(np.where(off, back, 0.0).max(axis=1))
        return at_most(np.max(took, axis=0), stepped(view.survey)[subject].settle)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        band = show(tolerance_of(survey, subject), "1")
        lasts = LOAD_STEPS.stretches(survey)[subject][0].lasts
        if worst.value == 0.0:
            return f"No load step takes the output further than {band} from where it ends."
        if worst.value > 0.5 * lasts:
            return (
                f"{show(lasts, 's')} after a load step the output still moves by more than "
                f"{band} ({worst.place})."
            )
        return (
            f"After a load step the output comes within {band} of where it ends after "
            f"{show(worst.value, 's')}; {show(worst.limit, 's')} is allowed ({worst.place})."
        )
