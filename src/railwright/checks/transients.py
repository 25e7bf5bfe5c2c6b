"""Transients: what the terminals show while something happens to the supply."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np

from railwright.checks.check import Worst, at_least, at_most
from railwright.checks.in_time import InTimeCheck
from railwright.checks.output import allowed_off, tolerance_of
from railwright.checks.stress import Stress, rated
from railwright.circuit.circuit import Part
from railwright.quantity import show
from railwright.surveys.courses import (
    HOT_PLUG,
    LOAD_STEPS,
    POWER_UP,
    CourseView,
    Record,
    buttons,
    stepped,
)
from railwright.surveys.curves import Axis, Curves, Level, Line
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import terminals
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

ADDS = 0.02
"""What adds less than this share of a rating to what a part sees in use needs no question."""


class CourseCheck(InTimeCheck):
    """A question about the terminals of each rail in time."""

    unit = "V"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return list(survey.fixture.rails)


SHOWN = 3.0
"""A report shows a step for so many times as long as settling may take."""


class _LoadStepCheck(CourseCheck):
    """A question about each rail of which the need says how its load steps."""

    situation = LOAD_STEPS

    def subjects(self, survey: Survey) -> Sequence[str]:
        return list(stepped(survey))

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        step, course = stepped(view.survey)[subject], cast(CourseView, view)
        lines = []
        for name, stretch in zip(
            (f"load {show(step.from_, 'A')} to {show(step.to, 'A')}", "and back"),
            LOAD_STEPS.stretches(view.survey)[subject],
            strict=True,
        ):
            since, volts = course.course(subject, stretch)
            shown = (since > 0) & (since <= SHOWN * step.settle)
            lines.append(Line(name, since[shown], volts[0, shown]))
        time, up = Axis("time since the step", "s", logarithmic=True), Axis("terminals", "V")
        return [Curves("Steps of the load", time, up, lines)]


class LoadStepDeviation(_LoadStepCheck):
    """The greatest distance from the voltage before the step, up or down, leads included."""

    id = "transient.load-step"
    question = "Does the output stay close enough when the load steps?"
    source = "need.output.load_step.deviation, measured at the output terminals"
    analysis = (
        "Margin = need's deviation - greatest distance from the voltage before the step, up or "
        "down, in the course in time after each of both steps, at the terminals. Reserve = margin "
        "/ deviation."
    )
    example = (
        "A step of 0.7 A through 0.1 Ω of lead and capacitor takes the output down by `0.7 A × "
        "0.1 Ω = 70 mV` at once; where 300 mV are allowed, `300 mV - 70 mV = 230 mV` are left."
    )
    says = "When the load steps, the output moves by {value}; {limit} is allowed ({place})."

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
    analysis = (
        "Margin = need's settling time - time from the beginning of a step to the last instant at "
        "which the output is further than accuracy × setting from where it comes to rest. Reserve "
        "= margin / settling time."
    )
    example = (
        "An output that is 150 mV off after a step and comes back with a time constant of 40 µs "
        "is within `3 % × 3.3 V = 99 mV` after `40 µs × log(150 mV / 99 mV) = 16.6 µs`; 300 µs "
        "are allowed."
    )
    unit = "s"

    def answered(self, view: CourseView, subject: str) -> Answer:
        band = allowed_off(view.survey, subject, view.points.settings[subject])
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


def passing_allowance(survey: Survey, rail: str, setting: np.ndarray) -> np.ndarray:
    """Volts by which an output may be above its setting for a moment.

    What its accuracy allows or, where that is more, what a load step may do; but never above
    what the load survives. Where the need tells of no load step, what the load survives alone:
    an accuracy speaks of the supply at rest.
    """
    output, step = survey.fixture.rails[rail], stepped(survey).get(rail)
    survived = np.inf if output.never_above is None else output.never_above - setting
    if step is None:
        return np.broadcast_to(survived, setting.shape)
    return np.minimum(np.maximum(allowed_off(survey, rail, setting), step.deviation), survived)


def bounded_above(survey: Survey, rail: str) -> bool:
    """Whether the need says how far above its setting a rail may be for a moment."""
    return rail in stepped(survey) or survey.fixture.rails[rail].never_above is not None


def allowance_scale(survey: Survey, rail: str) -> float:
    """What an overshoot may take at the highest setting [V]."""
    return float(passing_allowance(survey, rail, np.array(survey.fixture.rails[rail].voltage.max)))


class _Overshoot(CourseCheck):
    """The highest voltage of a course, against what the setting allows for a moment."""

    source = (
        "need.output: accuracy or load_step.deviation above the setting, never_above; at the "
        "output terminals"
    )

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [rail for rail in super().subjects(survey) if bounded_above(survey, rail)]

    def answered(self, view: CourseView, subject: str) -> Answer:
        setting = view.points.settings[subject]
        allowed = passing_allowance(view.survey, subject, setting)
        return at_most(view.highest(subject), setting + allowed)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return allowance_scale(survey, subject)


class StartUp(_Overshoot):
    """From nothing stored, fast and slowly; where a button switches the output on, by that too."""

    id = "transient.start-up"
    question = "Does the output stay low enough while the supply comes up?"
    analysis = (
        "Margin = setting + what is allowed for a moment - highest voltage at the terminals while "
        "the supply comes up from nothing stored, fast, slowly and by its button. Allowed is "
        "the deviation of a load step or, where that is more, accuracy × setting, but nothing "
        "above never_above; never_above alone where the need tells of no step. Reserve = margin / "
        "what is allowed at the highest setting."
    )
    example = (
        "Set to 5 V with 3 % and load steps of 300 mV the output may reach `5 V + 0.3 V = 5.3 V`; "
        "a loop that winds up while its input is too low and overshoots to 5.8 V is `5.3 V - 5.8 "
        "V = -0.5 V` off."
    )
    situation = POWER_UP
    says = "While the supply comes up the output reaches {value}; {limit} is allowed ({place})."

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        setting = view.points.settings[subject]
        (most,) = setting + passing_allowance(view.survey, subject, setting)
        return coming_up(cast(CourseView, view), subject, Level("allowed", float(most)))


def coming_up(view: CourseView, rail: str, level: Level) -> list[Curves]:
    """The voltage at the terminals of a rail for each rise of the input, of one lane."""
    nets, found = terminals(view.survey.fixture.rails[rail]), []
    for rise, record in zip(POWER_UP.rises, view.records, strict=True):
        (volts,) = record.rows[nets.plus, ""] - record.rows[nets.minus, ""]
        title = f"Coming up while the input rises within {show(rise, 's')}"
        line = Line("", record.times, volts)
        found.append(Curves(title, Axis("time", "s"), Axis("terminals", "V"), [line], [level]))
    return found


class ComesUp(CourseCheck):
    """The voltage in the end, with the source in its limit on the way if need be."""

    id = "transient.comes-up"
    question = "Does the output come up when the supply is switched on under load?"
    source = "need.output.voltage and accuracy; limit and resistance of need.input"
    analysis = (
        "Margin = voltage at the terminals at the end of the start, under load, the source in its "
        "limit on the way if need be - (1 - accuracy) × setting. A source that folds back, sits "
        "behind a fuse or gives up earlier than the supply lets go of its limit is not followed: "
        "not proven. Reserve = margin / (accuracy × setting)."
    )
    example = (
        "With 3 %, 12 V count as reached from `(1 - 3 %) × 12 V = 11.64 V` on; a supply that "
        "hangs at 4 V since its source limits is `4 V - 11.64 V = -7.64 V` short."
    )
    situation = POWER_UP

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [rail for rail in survey.fixture.rails if self._asked(survey, rail)]

    def _asked(self, survey: Survey, rail: str) -> bool:
        overload = survey.fixture.rails[rail].overload
        stays_off = overload is not None and overload.at_power_up == "off"
        return bool(buttons(survey)) or not stays_off

    def answered(self, view: CourseView, subject: str) -> Answer:
        setting = view.points.settings[subject]
        # A button is pushed once only, after the source came fast.
        courses = range(1 if buttons(view.survey) else len(view.records))
        reached = np.min([_reached(view, subject, each) for each in courses], axis=0)
        return at_least(reached, setting - allowed_off(view.survey, subject, setting))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return float(allowed_off(survey, subject, worst.limit))

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        pushed = f"after {', '.join(buttons(survey))}" if buttons(survey) else "by itself"
        if worst.margin < 0:
            return (
                f"Switched on, the output comes up to {show(worst.value, 'V')} only, {pushed}; "
                f"{show(worst.limit, 'V')} is wanted ({worst.place})."
            )
        return f"Switched on, the output comes up {pushed} at every point."

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        (setting,) = view.points.settings[subject]
        least = setting - allowed_off(view.survey, subject, setting)
        return coming_up(cast(CourseView, view), subject, Level("wanted", float(least)))


def _reached(view: CourseView, rail: str, record: int) -> np.ndarray:
    """The voltage at the end of whatever brought a rail up; not-a-number where it still rises."""
    stretches = POWER_UP.stretches(view.survey, POWER_UP.rises[record])
    ends = np.array([view.at_rest(rail, stretch, record) for stretch in stretches])
    reached: np.ndarray = np.fmax.reduce(ends)
    setting = view.points.settings[rail]
    short = reached < setting - allowed_off(view.survey, rail, setting)
    return np.where(short & np.isnan(ends).any(axis=0), np.nan, reached)


class CourseStress(InTimeCheck, Stress):
    """What parts see while something happens, against whole ratings.

    No policy takes from what lasts for a moment. Asked of the parts that see more then than they
    do in use, but not of what a part is made to bear for a moment, like a suppressor beyond its
    stand-off.
    """

    id = ""
    source = "ratings of the part's type"

    def subjects(self, survey: Survey) -> Sequence[str]:
        if not self.situation.applies(survey) or self.situation.unready(survey):
            return []
        view = cast(CourseView, survey.once(self.situation.typical))
        return [each for each in super().subjects(survey) if self._adds(view, each)]

    def judges(self, part: Part, rating: str) -> bool:
        declared = part.device.ratings[rating]
        return declared.unit == "V" and not declared.lasting and rating in part.ratings

    def answered(self, view: CourseView, subject: str) -> Answer:
        return Stress.answer(self, view, subject)

    def looked_at(self, view: CourseView) -> Sequence[Record]:
        """The courses that are meant."""
        return view.records

    def _adds(self, view: CourseView, subject: str) -> bool:
        if not view.solved.all():
            return True  # and not proven
        part, rating = rated(view.survey, subject)
        more = self.stress(view, subject) - super().stress(view, subject)
        return bool(more.max() > ADDS * part.ratings[rating])

    def stress(self, view: View, subject: str) -> np.ndarray:
        part, rating = rated(view.survey, subject)
        declared = part.device.ratings[rating]
        rows = [r.rows[part.ref, declared.bounds] for r in self.looked_at(cast(CourseView, view))]
        seen = [(row if self.one_way(declared) else np.abs(row)).max(axis=1) for row in rows]
        highest: np.ndarray = np.maximum(np.max(seen, axis=0), 0.0)
        return highest

    def ratio(self, view: View, part: Part, rating: str) -> np.ndarray:
        return np.ones(view.points.count)


class HotPlugStress(CourseStress):
    """Peak voltages when the plug is put in."""

    id = "transient.hot-plug"
    question = "Does every part survive the ringing of the input's cable when it is plugged in?"
    source = "need.input.cable_inductance; ratings of the part's type"
    analysis = (
        "Margin = whole rating, no policy takes from what lasts for microseconds - highest "
        "voltage at the part after the plug is put in, in the course in time of cable inductance "
        "against capacitors. Asked of parts that see more then than in use. Reserve = margin / "
        "rating."
    )
    example = (
        "1 µH into 10 µF without loss rings to twice the input, `2 × 20 V = 40 V`: a part for 35 "
        "V is `35 V - 40 V = -5 V` beyond. An electrolytic capacitor beside it, with a series "
        "resistance near `sqrt(1 µH / 10 µF) = 0.316 Ω`, damps it."
    )
    situation = HOT_PLUG

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        part, rating = rated(view.survey, subject)
        (record,) = cast(CourseView, view).records
        (volts,) = record.rows[part.ref, part.device.ratings[rating].bounds]
        after = record.times > 0
        line = Line("", record.times[after], volts[after])
        time, up = Axis("time since the plug", "s", logarithmic=True), Axis(subject, "V")
        level = Level("rated", part.ratings[rating])
        return [Curves("Plugging the input in", time, up, [line], [level])]
