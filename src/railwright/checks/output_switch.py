"""Output switch: what the terminals show when a contact gives them the supply again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np

from railwright.checks.check import Worst, at_least, at_most
from railwright.checks.output import allowed_off
from railwright.checks.transients import (
    CourseCheck,
    allowance_scale,
    bounded_above,
    passing_allowance,
)
from railwright.surveys.courses import CourseView
from railwright.surveys.curves import Axis, Curves, Line
from railwright.surveys.extremes import Answer
from railwright.surveys.output_switch import OUTPUT_SWITCH, switching_contacts
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey


class _SwitchedOn(CourseCheck):
    """A question about each rail that some contact takes off."""

    situation = OUTPUT_SWITCH

    def subjects(self, survey: Survey) -> Sequence[str]:
        taken = survey.once(switching_contacts).values()
        return [rail for rail in survey.fixture.rails if any(rail in rails for rails in taken)]

    def records(self, survey: Survey, rail: str) -> Sequence[int]:
        """The courses of the contacts that take a rail off."""
        taken = survey.once(switching_contacts).values()
        return [number for number, rails in enumerate(taken) if rail in rails]

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        _, on = OUTPUT_SWITCH.stretches(view.survey)
        lines = []
        for record in self.records(view.survey, subject):
            since, volts = cast(CourseView, view).course(subject, on, record)
            lines.append(Line("", since[since > 0], volts[0, since > 0]))
        time, up = Axis("time since then", "s", logarithmic=True), Axis("terminals", "V")
        return [Curves("Switched on at the output", time, up, lines)]


class SwitchedOver(_SwitchedOn):
    """The highest voltage after the contact has closed onto an empty load."""

    id = "transient.output-switch"
    question = "Does the output stay low enough when it is switched on behind the regulator?"
    source = (
        "need.output: accuracy or load_step.deviation above the setting, never_above; at the "
        "output terminals"
    )
    analysis = (
        "Asked of rails that a contact takes off, at the output or by its relay. It is operated "
        "and, once the loads are empty, let go. Margin = setting + what is allowed for a moment, "
        "as in transient.start-up - highest voltage at the terminals from then on. Reserve = "
        "margin / what is allowed at the highest setting."
    )
    example = (
        "A regulator that dropped to its limit while 470 µF were charged overshoots by 0.5 V; with "
        "load steps of 300 mV `5 V + 0.3 V = 5.3 V` is allowed: `5.3 V - 5.5 V = -0.2 V`."
    )
    says = "When it is switched on {subject} reaches {value}; {limit} is allowed ({place})."

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [rail for rail in super().subjects(survey) if bounded_above(survey, rail)]

    def answered(self, view: CourseView, subject: str) -> Answer:
        setting = view.points.settings[subject]
        _, on = OUTPUT_SWITCH.stretches(view.survey)
        highest = [
            view.course(subject, on, record)[1].max(axis=1)
            for record in self.records(view.survey, subject)
        ]
        allowed = passing_allowance(view.survey, subject, setting)
        return at_most(np.max(highest, axis=0), setting + allowed)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return allowance_scale(survey, subject)


class SwitchedUp(_SwitchedOn):
    """The voltage in the end: what charges the load must neither trip the supply nor lock it up."""

    id = "transient.switched-on"
    question = "Does the output come up when it is switched on behind the regulator?"
    source = "need.output.voltage and accuracy; need.output.load.capacitance"
    analysis = (
        "As in transient.output-switch. Margin = voltage at the terminals in the end - (1 - "
        "accuracy) × the voltage before it was switched off, or × the setting where that is less. "
        "Reserve = margin / (accuracy × that voltage)."
    )
    example = (
        "The surge into 470 µF trips a latch that was to act at 1.4 A: the output stays at 0 V, "
        "`0 V - (1 - 3 %) × 12 V = -11.64 V`."
    )
    says = "Switched on, {subject} comes up to {value}; at least {limit} is wanted ({place})."

    def answered(self, view: CourseView, subject: str) -> Answer:
        _, on = OUTPUT_SWITCH.stretches(view.survey)
        lowest = [
            view.course(subject, on, record)[1][:, -1]
            for record in self.records(view.survey, subject)
        ]
        standing = np.minimum(view.points.settings[subject], view.output(subject))
        wanted = standing - allowed_off(view.survey, subject, standing)
        return at_least(np.min(lowest, axis=0), wanted)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return float(allowed_off(survey, subject, worst.limit))
