"""Input changes: what the terminals show when the input steps, sags and comes back, or goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, cast

import numpy as np

from railwright.checks.check import Worst, at_least, at_most
from railwright.checks.output import allowed_off
from railwright.checks.transients import (
    CourseCheck,
    allowance_scale,
    bounded_above,
    passing_allowance,
)
from railwright.quantity import show
from railwright.surveys.courses import CourseView, stepped
from railwright.surveys.curves import Axis, Curves, Line
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import terminals
from railwright.surveys.input_changes import INPUT_CHANGES
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

ALLOWED = (
    "Allowed is what transient.start-up allows. Reserve = margin / what is allowed at the highest "
    "setting."
)


class _InputCheck(CourseCheck):
    """A question about each rail of which the need says how far it may move for a moment."""

    situation = INPUT_CHANGES
    source = (
        "need.output: accuracy or load_step.deviation above the setting, never_above; at the "
        "output terminals"
    )
    course: ClassVar[int]

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [rail for rail in super().subjects(survey) if bounded_above(survey, rail)]

    def answered(self, view: CourseView, subject: str) -> Answer:
        setting = view.points.settings[subject]
        volts = np.concatenate(
            [
                view.course(subject, stretch, self.course)[1]
                for stretch in INPUT_CHANGES.stretches(view.survey, self.course)
            ],
            axis=1,
        )
        allowed = passing_allowance(view.survey, subject, setting)
        return at_most(volts.max(axis=1), setting + allowed)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return allowance_scale(survey, subject)

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        return shown(view, subject, self.course)


class LineStep(_InputCheck):
    """The greatest distance from the voltage before a step of the input, to either side.

    A rail of which the need tells of no step of the load is asked for the highest voltage alone.
    """

    id = "transient.line-step"
    question = "Does the output stay close enough when the input steps across its range?"
    analysis = (
        "The input steps from one end of its range to the other within 100 µs, and back. Margin = "
        "what is allowed for a moment - greatest distance from the voltage before the step, up or "
        "down; without a load step in the need, never_above - highest voltage. " + ALLOWED
    )
    example = (
        "A regulator that rejects 40 dB of a step of 2 V moves its output by `2 V / 100 = 20 mV`; "
        "where load steps may move it by 300 mV, `300 mV - 20 mV = 280 mV` are left."
    )
    course = INPUT_CHANGES.step

    def subjects(self, survey: Survey) -> Sequence[str]:
        return super().subjects(survey) if np.ptp(survey.range.input) > 0 else []

    def answered(self, view: CourseView, subject: str) -> Answer:
        if subject not in stepped(view.survey):
            return super().answered(view, subject)
        stretches = INPUT_CHANGES.stretches(view.survey, self.course)
        courses = [view.course(subject, stretch, self.course)[1] for stretch in stretches]
        moved = [np.abs(volts - volts[:, :1]).max(axis=1) for volts in courses]
        allowed = passing_allowance(view.survey, subject, view.points.settings[subject])
        return at_most(np.max(moved, axis=0), allowed)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        does = "moves by" if subject in stepped(survey) else "reaches"
        return (
            f"When the input steps, the output {does} {show(worst.value, 'V')}; "
            f"{show(worst.limit, 'V')} is allowed ({worst.place})."
        )


class BrownOut(_InputCheck):
    """The highest voltage while the input sags slowly to nothing and comes back."""

    id = "transient.brown-out"
    question = "Does the output stay low enough while the input sags and comes back?"
    analysis = (
        "The input sags to nothing within 100 ms and comes back within 100 ms. Margin = setting + "
        "what is allowed for a moment - highest voltage at the terminals meanwhile. " + ALLOWED
    )
    example = (
        "A loop without a clamp winds up while its input is too low; when that is back, 5 V "
        "overshoot to 5.6 V. With load steps of 300 mV, `5 V + 0.3 V = 5.3 V` is allowed: `5.3 V "
        "- 5.6 V = -0.3 V`."
    )
    says = (
        "While the input sags and comes back the output reaches {value}; {limit} is allowed "
        "({place})."
    )
    course = INPUT_CHANGES.sag


class PowerDown(_InputCheck):
    """The highest voltage once the input has gone away, until everything is empty."""

    id = "transient.power-down"
    question = "Does the output stay low enough while the supply goes down?"
    analysis = (
        "The input goes away within 1 ms. Margin = setting + what is allowed for a moment - "
        "highest voltage at the terminals from then on. " + ALLOWED
    )
    example = (
        "An amplifier whose own rail goes first lets go of its pass transistor while 18 V are "
        "still stored ahead of it: 5 V become 17 V, and with 7 V survived `7 V - 17 V = -10 V`."
    )
    says = "While the supply goes down the output reaches {value}; {limit} is allowed ({place})."
    course = INPUT_CHANGES.away


class Returns(CourseCheck):
    """The voltage in the end, once the input has sagged to nothing and is back, under load.

    A supply that is to come up off is not asked.
    """

    id = "transient.returns"
    question = "Does the output come back when the input has sagged and is back?"
    situation = INPUT_CHANGES
    source = "need.output.voltage and accuracy, at the output terminals"
    analysis = (
        "The input sags to nothing within 100 ms and comes back within 100 ms. Margin = voltage "
        "at the terminals in the end - (1 - accuracy) × the voltage before, or × the setting "
        "where that is less. What a source does in its limit counts as in transient.comes-up. "
        "Reserve = margin / (accuracy × that voltage)."
    )
    example = (
        "A converter that draws more from a sagging source than that can give holds it down when "
        "it is back: the output hangs at 2 V, `2 V - (1 - 3 %) × 5 V = -2.85 V`."
    )
    says = (
        "When the input has sagged and is back the output comes to {value}; at least {limit} is "
        "wanted ({place})."
    )

    def subjects(self, survey: Survey) -> Sequence[str]:
        overloads = {rail: each.overload for rail, each in survey.fixture.rails.items()}
        return [
            rail
            for rail, overload in overloads.items()
            if overload is None or overload.at_power_up != "off"
        ]

    def answered(self, view: CourseView, subject: str) -> Answer:
        _, back = INPUT_CHANGES.stretches(view.survey, INPUT_CHANGES.sag)
        standing = np.minimum(view.points.settings[subject], view.output(subject))
        wanted = standing - allowed_off(view.survey, subject, standing)
        return at_least(view.at_rest(subject, back, INPUT_CHANGES.sag), wanted)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return float(allowed_off(survey, subject, worst.limit))

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        return shown(view, subject, INPUT_CHANGES.sag)


TITLES = ("The input steps, and back", "The input sags, and comes back", "The input goes away")


def shown(view: View, rail: str, course: int) -> list[Curves]:
    """The voltage at the terminals of a rail in a whole course, of one lane."""
    nets = terminals(view.survey.fixture.rails[rail])
    record = cast(CourseView, view).records[course]
    (volts,) = record.rows[nets.plus, ""] - record.rows[nets.minus, ""]
    line = Line("", record.times, volts)
    return [Curves(TITLES[course], Axis("time", "s"), Axis("terminals", "V"), [line])]
