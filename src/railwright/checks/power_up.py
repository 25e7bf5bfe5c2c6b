"""Power-up: whether an output stays off until somebody switches it on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from railwright.checks.check import at_most
from railwright.checks.transients import CourseCheck, coming_up
from railwright.surveys.courses import POWER_UP, CourseView, buttons
from railwright.surveys.curves import Curves, Level
from railwright.surveys.depth import DEEP
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

DOWN = 0.5
"""Share of its setting from which on a load takes a rail for up (common practice, no source)."""
CLEAR = 0.75
"""Share of the limit that typical parts must leave for the effects of parts to be left unsought.
What holds an output off races with what lets it up: it wins clearly, or by luck. Depth deep seeks
them always."""


class StaysOff(CourseCheck):
    """The highest voltage before the button, with the levels that enable pins have meanwhile.

    Rails come up one after the other: what holds an output off by a rail that is not there yet
    holds nothing.
    """

    id = "transient.stays-off"
    question = "Does the output stay off while the rails come up, until it is switched on?"
    source = "need.output.overload.at_power_up; half of the setting: common practice, no source"
    analysis = (
        "Margin = 50 % of the setting - highest voltage at the terminals while the input comes up "
        "from nothing stored, fast and slowly, before anybody pushes the button. Asked where "
        "at_power_up is off. Reserve = margin / limit."
    )
    example = (
        "A latch on 5 V lets a converter work until its own rail is there; in 2 ms the converter "
        "has brought 3.3 V to 2.4 V: `50 % × 3.3 V - 2.4 V = -0.75 V`, falls short."
    )
    situation = POWER_UP
    says = (
        "Before it is switched on {subject} reaches {value} while the rails come up; {limit} is "
        "the most for off ({place})."
    )

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [
            rail
            for rail, output in survey.fixture.rails.items()
            if output.overload is not None and output.overload.at_power_up == "off"
        ]

    def answered(self, view: CourseView, subject: str) -> Answer:
        highest = []
        for record, rise in enumerate(POWER_UP.rises):
            stretches = POWER_UP.stretches(view.survey, rise)
            for stretch in stretches[:1] if buttons(view.survey) else stretches:
                _, volts = view.course(subject, stretch, record)
                # At the last instant of a stretch the next thing begins to happen.
                highest.append(volts[:, :-1].max(axis=1))
        off = DOWN * view.points.settings[subject]
        ample = np.inf if view.survey.depth.covers(DEEP) else CLEAR * off
        return replace(at_most(np.max(highest, axis=0), off), ample=ample)

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        (setting,) = view.points.settings[subject]
        return coming_up(cast(CourseView, view), subject, Level("off", float(DOWN * setting)))
