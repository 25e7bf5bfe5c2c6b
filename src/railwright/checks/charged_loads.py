"""Charged loads: what flows back when one is connected, and what parts see then."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import at_most
from railwright.checks.in_time import InTimeCheck
from railwright.checks.life import promised
from railwright.checks.surge import HALF_WAVE, MODEST
from railwright.checks.transients import CourseStress
from railwright.surveys.charged_loads import CHARGED_LOAD, LEADS, fed
from railwright.surveys.courses import CourseView
from railwright.surveys.extremes import Answer
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
SOURCE = "need.output.load.charged, or what the output is to stay below; ratings of the part's type"


class ChargedLoadStress(CourseStress):
    """Voltages from the terminals backwards; what regulators stand has a question of its own."""

    id = "stress.charged-load"
    question = "Does every part survive the voltages of a charged load, with and without the input?"
    source = SOURCE
    analysis = (
        f"A load that is charged to what the need says is connected through {LEADS:g} Ω, to the "
        "supply in use at its ends, lightly loaded, and to one that has no input and nothing "
        "stored. Margin = whole rating - highest voltage at the part within 10 ms. Asked of parts "
        "that see more then than in use. Reserve = margin / rating."
    )
    example = (
        "A battery of 12 V at the emitter of a transistor whose base rests at 0 V reverses base "
        "and emitter by 12 V; 5 V are allowed: `5 V - 12 V = -7 V`. A diode from output to input "
        "lifts the base along, or one in the lead to the terminals keeps the battery out."
    )
    situation = CHARGED_LOAD


class FedBack(InTimeCheck):
    """The heat of the surge that fills a supply from its output, as that of one half wave."""

    id = "stress.fed-back"
    question = "Do the diodes survive the current that a charged load feeds back?"
    source = SOURCE
    analysis = (
        "As in stress.charged-load. Value = peak of the half wave of 8.3 ms that heats as much as "
        "the current of the diode in 10 ms: sqrt(2 × ∫ i² dt / 8.3 ms). Margin = surge current of "
        "the type - value. Asked of diodes that carry more then than half of their steady rating. "
        "Reserve = margin / surge current."
    )
    example = (
        "Through 0.2 Ω a battery of 12 V fills 1000 µF by way of a diode: `(12 V)^2 × 1000 µF / (2 "
        "× 0.2 Ω) = 0.36` A²s, as much as a half wave of `sqrt(2 × 0.36 / 0.0083) = 9.31` A; 30 A "
        "are survived."
    )
    unit = "A"
    situation = CHARGED_LOAD
    says = (
        "A charged load sends through {subject} as much as a half wave of {value}; it survives "
        "{limit} ({place})."
    )

    def subjects(self, survey: Survey) -> Sequence[str]:
        if not self.situation.applies(survey) or self.situation.unready(survey):
            return []
        view = cast(CourseView, survey.once(self.situation.typical))
        told = self.tells(view)
        steady = {
            ref: survey.fixture.circuit.part(ref).ratings.get("forward_current", 0.0)
            for ref, _ in fed(survey)
        }
        return [r for r, a in steady.items() if not told or _most(view, r) > MODEST * a]

    def lacking(self, survey: Survey, subject: str) -> Sequence[str]:
        known = promised(survey.fixture.circuit.part(subject), "surge_current") > 0
        return [] if known else ["surge_current"]

    def answered(self, view: CourseView, subject: str) -> Answer:
        heats = []
        for record in view.records:
            square = record.rows[subject, "current"] ** 2
            heats.append(np.trapezoid(square, record.times, axis=1))
        like = np.sqrt(2.0 * np.max(heats, axis=0) / HALF_WAVE)
        survives = promised(view.survey.fixture.circuit.part(subject), "surge_current")
        return at_most(like, survives)


def _most(view: CourseView, ref: str) -> float:
    return float(np.max([np.abs(r.rows[ref, "current"]).max() for r in view.records]))
