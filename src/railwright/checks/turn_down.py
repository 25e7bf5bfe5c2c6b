"""Turned down: how long an output stays up that nothing loads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import Worst, at_most
from railwright.checks.output import allowed_off, controls_of
from railwright.checks.transients import CourseCheck
from railwright.quantity import show
from railwright.surveys.courses import CourseView
from railwright.surveys.curves import Axis, Curves, Line
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey
from railwright.surveys.turn_down import PATIENCE, TURN_DOWN

Array = NDArray[np.float64]


class TurnedDown(CourseCheck):
    """From the highest to the lowest setting, to within the accuracy of where it comes to rest.

    What is connected next would meet the voltage of before.
    """

    id = "output.turn-down"
    question = "Does an output that nothing loads come down soon when it is turned down?"
    source = f"{PATIENCE:g} s; nobody waits longer before a load is connected: common practice"
    analysis = (
        f"Margin = {PATIENCE:g} s - time from the highest to the lowest setting, to within "
        "accuracy × setting of where the output comes to rest, with the least load and the "
        "highest input. Reserve = margin / limit."
    )
    example = (
        "470 µF at 12 V with nothing but 5 mA of a divider to empty them need `470 µF × (12 V - "
        "3.3 V) / 5 mA = 0.8178 s` to 3.3 V; with 0.1 mA of a comparator's input it were 41 s."
    )
    unit = "s"
    situation = TURN_DOWN

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [rail for rail in survey.fixture.rails if controls_of(survey, rail, "set")]

    def answered(self, view: CourseView, subject: str) -> Answer:
        since, volts = view.course(subject, TURN_DOWN.stretch)
        band = allowed_off(view.survey, subject, view.points.settings[subject])
        beyond = np.abs(volts - view.output(subject)[:, None]) - band[:, None]
        return at_most(_last_beyond(since, beyond), PATIENCE)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        if worst.value >= PATIENCE * (1.0 - 1e-9):
            return f"{show(PATIENCE, 's')} after it was turned down {subject} is still up."
        return f"Turned down, {subject} is at its lowest setting after {show(worst.value, 's')}."

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        since, (volts,) = cast(CourseView, view).course(subject, TURN_DOWN.stretch)
        line = Line("", since[since > 0], volts[since > 0])
        time, up = Axis("time", "s", logarithmic=True), Axis("terminals", "V")
        return [Curves("Turned down, without a load", time, up, [line])]


def _last_beyond(times: Array, beyond: Array) -> Array:
    """When each row of (lane, instant) falls below nil for good; the end where it never does."""
    lanes = np.arange(beyond.shape[0])
    last = beyond.shape[1] - 1 - np.argmax(beyond[:, ::-1] > 0.0, axis=1)
    after = np.minimum(last + 1, beyond.shape[1] - 1)
    above, below = beyond[lanes, last], beyond[lanes, after]
    share = above / np.where(above > below, above - below, np.inf)
    found = times[last] + share * (times[after] - times[last])
    return np.where((beyond > 0.0).any(axis=1), found, 0.0)
