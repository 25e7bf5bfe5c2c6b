"""In time: what every question about courses does where its source is not followed to the end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from railwright.checks.check import Check, unknown
from railwright.quantity import show
from railwright.surveys.courses import NOT_FOLLOWED, CourseView, lasts_in_limit, source_limit
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey


class InTimeCheck(Check):
    """A question about courses.

    Not answered in lanes that lean on a source in a limit that is not followed; a shortfall that
    shows even so stays one.
    """

    def answer(self, view: View, subject: str) -> Answer:
        course = cast(CourseView, view)
        answer = self.answered(course, subject)
        told = course.as_fed | (answer.margin < 0)
        return replace(answer, margin=np.where(told, answer.margin, np.nan))

    def answered(self, view: CourseView, subject: str) -> Answer:
        """Margin, value and limit over lanes, as if the source were followed in all of them."""
        raise NotImplementedError(type(self).__name__)

    def missing(self, survey: Survey, subject: str) -> str:
        lacking = unknown(subject, self.lacking(survey, subject))
        return lacking or super().missing(survey, subject) or self._not_followed(survey, subject)

    def lacking(self, survey: Survey, subject: str) -> Sequence[str]:
        """Values of a part without which the question cannot be answered."""
        return ()

    def tells(self, view: CourseView) -> bool:
        """Whether typical parts tell which subjects the question matters to."""
        return bool((view.solved & view.as_fed).all())

    def doubt(self, survey: Survey) -> str:
        lasts = lasts_in_limit(survey)
        if np.isinf(lasts):
            return super().doubt(survey)
        return f"take the source into its limit for more than {show(lasts, 's')}"

    def _not_followed(self, survey: Survey, subject: str) -> str:
        """Why it leans on a source in a limit that is not followed; empty where it does not."""
        limit, situation = source_limit(survey), self.situation
        if limit is None or np.isinf(lasts_in_limit(survey)):
            return ""
        if not situation.applies(survey) or situation.unready(survey):
            return ""
        view = cast(CourseView, survey.once(situation.typical))
        beyond, answer = view.solved & ~view.as_fed, self.answer(view, subject)
        if not beyond.any() or (answer.margin < 0).any():
            return ""
        lasts = max(float(record.in_limit.max()) for record in view.records)
        told = f"with typical parts the source is in its limit for {show(lasts, 's')}"
        if limit.style in NOT_FOLLOWED:
            return f"{told}, and what one of style {limit.style} gives there is not followed."
        if limit.gives_up_after is None:
            return f"{told}; when it gives up is not known. State need.input.limit.gives_up_after."
        gives_up = show(limit.gives_up_after, "s")
        return f"{told}; it gives up after {gives_up}, which is not followed."
