"""Short circuit: what a rail does while it is shorted, and once the short is taken away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import ClassVar, Literal, cast

import numpy as np

from railwright.checks.check import Worst, at_least, at_most
from railwright.checks.output import allowed_off
from railwright.checks.transients import (
    CourseCheck,
    allowance_scale,
    bounded_above,
    passing_allowance,
)
from railwright.circuit.need import Overload
from railwright.quantity import show
from railwright.surveys.courses import CourseView, Stretch
from railwright.surveys.curves import Axis, Curves, Line
from railwright.surveys.extremes import Answer
from railwright.surveys.short_circuit import SHORT_CIRCUIT, limited
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey
from railwright.surveys.trips import deciding_comparators, latch_gates

TENTH = 0.1
"""Of the greatest load's current: what counts as none after an overload."""


class _ShortCheck(CourseCheck):
    """A question about each rail of which the need says what it does when it is overloaded."""

    situation = SHORT_CIRCUIT
    judged: ClassVar[Literal[0, 1]] = 0
    """The stretch that it is about: the short, or what follows it."""

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [rail for rail in limited(survey) if self.asked_of(overload_of(survey, rail))]

    def asked_of(self, overload: Overload) -> bool:
        return True

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        """What the terminals show, and what the load takes, in the stretch that is judged."""
        course, record = cast(CourseView, view), _record(view.survey, subject)
        stretch = SHORT_CIRCUIT.stretches(view.survey)[self.judged]
        since, volts = course.course(subject, stretch, record)
        amperes = course.current(subject, stretch, record)
        after = since > 0
        title = ("While it is shorted", "Once the short is gone")[self.judged]
        time = Axis("time since then", "s", logarithmic=True)
        return [
            Curves(title, time, Axis("terminals", "V"), [Line("", since[after], volts[0, after])]),
            Curves(
                title,
                time,
                Axis("current", "A"),
                [Line("", since[after], amperes[0, after])],
                below=True,
            ),
        ]


def overload_of(survey: Survey, rail: str) -> Overload:
    """What the need says of the overload of a rail that has one."""
    found = survey.fixture.rails[rail].overload
    assert found is not None
    return found


def _record(survey: Survey, rail: str) -> int:
    return limited(survey).index(rail)


class Released(_ShortCheck):
    """The highest voltage once the short is gone, against what the setting allows for a moment."""

    id = "transient.release"
    question = "Does the output stay low enough when a short circuit is taken away?"
    source = (
        "need.output: accuracy or load_step.deviation above the setting, never_above; at the "
        "output terminals"
    )
    analysis = (
        "Margin = setting + what is allowed for a moment, as in transient.start-up - highest "
        "voltage at the terminals after a short of 10 mΩ at full load has been taken away, in the "
        "course in time. Reserve = margin / what is allowed at the highest setting."
    )
    example = (
        "A loop that has wound up against a short lets 5 V overshoot to 6.1 V when it is gone; "
        "with 3 % and load steps of 300 mV `5 V + 0.3 V = 5.3 V` is allowed, so it is `5.3 V - "
        "6.1 V = -0.8 V` off."
    )
    judged = 1
    says = "When a short is taken away the output reaches {value}; {limit} is allowed ({place})."

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [rail for rail in super().subjects(survey) if bounded_above(survey, rail)]

    def answered(self, view: CourseView, subject: str) -> Answer:
        setting = view.points.settings[subject]
        _, freed = SHORT_CIRCUIT.stretches(view.survey)
        _, volts = view.course(subject, freed, _record(view.survey, subject))
        allowed = passing_allowance(view.survey, subject, setting)
        return at_most(volts.max(axis=1), setting + allowed)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return allowance_scale(survey, subject)


class Recovers(_ShortCheck):
    """The voltage in the end, with the load at its fullest; a trip is to stay, so it is not asked.

    What a limit that folds back leaves may be less than the load takes: then it is locked up.
    """

    id = "transient.recovers"
    question = "Does the output come back after a short circuit?"
    source = "need.output.overload.style; need.output.voltage and accuracy"
    analysis = (
        "Margin = voltage at the terminals in the end, after a short of 10 mΩ at full load has "
        "been taken away - (1 - accuracy) × the voltage before it, or × the setting where that is "
        "less. A supply that is to trip is not asked. Reserve = margin / (accuracy × that voltage)."
    )
    example = (
        "A limit that folds back to 0.3 A leaves a load that takes 0.5 A at any voltage where it "
        "is: at 0.2 V instead of `(1 - 3 %) × 12 V = 11.64 V`."
    )
    judged = 1
    says = (
        "After a short circuit the output comes back to {value}; at least {limit} is wanted "
        "({place})."
    )

    def asked_of(self, overload: Overload) -> bool:
        return overload.style != "trip"

    def answered(self, view: CourseView, subject: str) -> Answer:
        _, freed = SHORT_CIRCUIT.stretches(view.survey)
        _, volts = view.course(subject, freed, _record(view.survey, subject))
        standing = np.minimum(view.points.settings[subject], view.output(subject))
        return at_least(volts[:, -1], standing - allowed_off(view.survey, subject, standing))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return float(allowed_off(survey, subject, worst.limit))


class CommandTime(_ShortCheck):
    """From the short to the instant at which the latch, or else a comparator, has turned over."""

    id = "overload.command-time"
    question = "Is the command to switch off given soon enough after a short circuit?"
    source = "need.output.overload.within.command"
    analysis = (
        "Margin = need's time to the command - time from a short of 10 mΩ at full load to the "
        "instant at which every gate of the latch or, without one, every comparator that trips "
        "has turned over, in the course in time. Reserve = margin / need's time."
    )
    example = (
        "A filter of 1 kΩ and 47 nF ahead of a comparator that turns over at half of the step "
        "delays it by `1 kΩ × 47 nF × log(2) = 32.6 µs`; of 100 µs `100 µs - 32.6 µs = 67.4 µs` "
        "are left."
    )
    unit = "s"

    def asked_of(self, overload: Overload) -> bool:
        return overload.within.command is not None

    def missing(self, survey: Survey, subject: str) -> str:
        if not _deciding(survey, subject):
            return "nothing in it turns over at an overload."
        return super().missing(survey, subject)

    def answered(self, view: CourseView, subject: str) -> Answer:
        short, _ = SHORT_CIRCUIT.stretches(view.survey)
        record = _record(view.survey, subject)
        since, _ = view.course(subject, short, record)
        turned = [
            np.abs(view.state(ref, short, record) - state) > 0.5
            for ref, state in _deciding(view.survey, subject).items()
        ]
        # All of them: each gate of a latch.
        took = [np.where(t.any(axis=1), since[t.argmax(axis=1)], short.lasts) for t in turned]
        limit = overload_of(view.survey, subject).within.command or np.nan
        return at_most(np.max(took, axis=0), limit)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        if worst.value >= _short(survey).lasts:
            return f"A short circuit of {subject} gives no command to switch off ({worst.place})."
        return (
            f"The command to switch off comes {show(worst.value, 's')} after a short circuit; "
            f"{show(worst.limit, 's')} are allowed ({worst.place})."
        )


def _deciding(survey: Survey, rail: str) -> Mapping[str, float]:
    """What tells that a command was given, and the state in which each is before it."""
    turning = survey.once(deciding_comparators).get(rail, {})
    refs = latch_gates(survey) if turning and latch_gates(survey) else tuple(turning)
    return {ref: survey.states.working[ref] for ref in refs}


def _short(survey: Survey) -> Stretch:
    return SHORT_CIRCUIT.stretches(survey)[0]


class CurrentTime(_ShortCheck):
    """From the short to the last instant with more than a tenth of the greatest load's current."""

    id = "overload.current-time"
    question = "Is the current down to a tenth soon enough after a short circuit?"
    source = "need.output.overload.within.current"
    analysis = (
        "Margin = need's time to a low current - time from a short of 10 mΩ at full load to the "
        "last instant at which more than a tenth of the greatest load's current flows in it, in "
        "the course in time. Reserve = margin / need's time."
    )
    example = (
        "Behind a trip that only takes the pre-regulator away, 470 µF at 14 V empty through a "
        "regulator that limits at 2 A in `470 µF × 14 V / 2 A = 3.29 ms`; of 5 ms `5 ms - 3.29 ms "
        "= 1.71 ms` are left."
    )
    unit = "s"

    def asked_of(self, overload: Overload) -> bool:
        return overload.within.current is not None

    def answered(self, view: CourseView, subject: str) -> Answer:
        short, record = _short(view.survey), _record(view.survey, subject)
        since, _ = view.course(subject, short, record)
        tenth = TENTH * view.survey.fixture.rails[subject].current.max
        back = np.append(since[1:], since[-1])
        high = view.current(subject, short, record) > tenth
        limit = overload_of(view.survey, subject).within.current or np.nan
        return at_most(np.where(high, back, 0.0).max(axis=1), limit)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        lasts = _short(survey).lasts
        if worst.value >= lasts:
            return (
                f"{show(lasts, 's')} into a short circuit the current is still more than a "
                f"tenth of the greatest load's ({worst.place})."
            )
        return (
            f"The current is down to a tenth {show(worst.value, 's')} after a short circuit; "
            f"{show(worst.limit, 's')} are allowed ({worst.place})."
        )
