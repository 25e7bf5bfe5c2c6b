"""Source time: how long the supply keeps its source in its limit while it comes up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from railwright.checks.check import Worst, at_most
from railwright.checks.transients import CourseCheck
from railwright.quantity import show
from railwright.surveys.courses import POWER_UP, CourseView, source_limit
from railwright.surveys.curves import Axis, Curves, Level, Line
from railwright.surveys.depth import DEEP
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import SOURCE
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

CLEAR = 0.5
"""Share of the limit that typical parts must leave for the effects of parts to be left unsought.
Few supplies vary by twice (common practice, no source). Depth deep seeks them always."""


class SourceTime(CourseCheck):
    """The longest time without a break that the source gives its limit, loads and buttons included.

    Beyond the time that it takes to give up, it shuts down, and tries again where it hiccups.
    """

    id = "overload.source-time"
    question = "Does the supply come up before its source gives up?"
    source = "need.input.limit: its current, and the time until it gives up"
    analysis = (
        "Margin = time until the source gives up - longest time for which it gives at least 98 % "
        "of its limit without a break while the supply comes up from nothing stored, fast, slowly "
        "and by its button, in the course in time, loads included. Reserve = margin / time until "
        "it gives up."
    )
    example = (
        "A brick that limits at 2 A charges 2.2 mF to 12 V in `2.2 mF × 12 V / 2 A = 13.2 ms`, "
        "and with 0.5 A of load in `2.2 mF × 12 V / (2 A - 0.5 A) = 17.6 ms`. One that gives up "
        "after 15 ms is `15 ms - 17.6 ms = -2.6 ms` short."
    )
    unit = "s"
    situation = POWER_UP

    def subjects(self, survey: Survey) -> Sequence[str]:
        limit = source_limit(survey)
        return [SOURCE] if limit is not None and limit.gives_up_after is not None else []

    def answered(self, view: CourseView, subject: str) -> Answer:
        limit = source_limit(view.survey)
        assert limit is not None
        most = limit.gives_up_after or np.nan
        took = [record.in_limit for record in view.records]
        ample = np.inf if view.survey.depth.covers(DEEP) else CLEAR * most
        return replace(at_most(np.max(took, axis=0), most), ample=ample)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        if worst.value == 0.0:
            return "While the supply comes up its source stays clear of its limit."
        return (
            f"While the supply comes up its source is in its limit for {show(worst.value, 's')}; "
            f"it gives up after {show(worst.limit, 's')} ({worst.place})."
        )

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        limit = source_limit(view.survey)
        assert limit is not None
        levels = [Level("limit", limit.current)]
        time, up = Axis("time", "s"), Axis("what the source gives", "A")
        return [
            Curves(
                f"Coming up while the input rises within {show(rise, 's')}",
                time,
                up,
                [Line("", record.times, record.rows[SOURCE, "current"][0])],
                levels,
            )
            for rise, record in zip(POWER_UP.rises, cast(CourseView, view).records, strict=True)
        ]
