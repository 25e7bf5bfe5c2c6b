"""Ripple: what the switching leaves at the terminals, and what it does to the parts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np

from railwright.checks.check import Check, Worst, at_most
from railwright.checks.stress import Stress, rated
from railwright.circuit.circuit import Part
from railwright.quantity import show
from railwright.surveys.cycles import IN_CYCLES, CycleView, Kept, clocks
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

KEPT: dict[str, Kept] = {"peak": "highest", "mean": "mean", "rms": "rms"}
ALTERNATES = 1.5
"""What counts as left of a disturbance where the cycles alternate already: more than all of it."""
ADDS = 0.02
"""A cycle that adds less than this share of a rating to what its means are needs no question."""


class _CycleCheck(Check):
    """A question about the steady state of a supply that switches."""

    situation = IN_CYCLES

    def answer(self, view: View, subject: str) -> Answer:
        return self.answered(cast(CycleView, view), subject)

    def answered(self, view: CycleView, subject: str) -> Answer:
        """Margin, value and limit over lanes."""
        raise NotImplementedError(type(self).__name__)


class OutputRipple(_CycleCheck):
    """Peak to peak at the terminals: the switching frequency and its harmonics up to 2 MHz."""

    id = "ripple.output"
    question = "Does the output stay quiet enough while the regulator switches?"
    source = "need.output.ripple, from the periodic steady state of the cycle"
    says = "The terminals show {value} of ripple; {limit} is allowed ({place})."
    unit = "V"

    def subjects(self, survey: Survey) -> Sequence[str]:
        if not clocks(survey.fixture.circuit):
            return []
        return [name for name, rail in survey.fixture.rails.items() if rail.ripple is not None]

    def answered(self, view: CycleView, subject: str) -> Answer:
        allowed = view.survey.fixture.rails[subject].ripple or np.nan
        return at_most(view.ripple(subject), allowed)


class Subharmonic(_CycleCheck):
    """Each cycle must be like the one before, and no disturbance of the coil's current may grow.

    One that changes its sign from tick to tick doubles the period where it grows, one that does not
    goes on to something else; its multiplier tells how much of it a cycle leaves.
    """

    id = "ripple.subharmonic"
    question = "Is every switching cycle like the one before?"
    source = "multipliers of the periodic steady state (Aprille and Trick 1972); common practice"
    unit = "1"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return clocks(survey.fixture.circuit)

    def answered(self, view: CycleView, subject: str) -> Answer:
        return at_most(np.where(view.waves.repeats, view.waves.left, ALTERNATES), 1.0)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        if worst.margin < 0:
            return (
                f"The cycles of {subject} do not stay alike: they alternate, or a disturbance of "
                f"the coil's current grows from one to the next ({worst.place})."
            )
        return (
            f"A cycle of {subject} leaves {show(worst.value, '1')} of a disturbance that swings "
            f"to and fro ({worst.place})."
        )


class CycleStress(Stress):
    """Currents and powers by what a rating bounds of their waveform: peak, mean or effective value.

    Asked of the parts to which the cycle does more than its means do, as far as is known. Voltages
    are judged by the means (`stress.rating`): beyond these a switching net has spikes, which the
    layout makes.
    """

    id = "stress.cycle"
    question = "Are currents and powers within derated ratings in the course of a cycle?"
    situation = IN_CYCLES

    def judges(self, part: Part, rating: str) -> bool:
        return part.device.ratings[rating].unit in ("A", "W")

    def subjects(self, survey: Survey) -> Sequence[str]:
        if not clocks(survey.fixture.circuit) or IN_CYCLES.unready(survey):
            return []
        view = cast(CycleView, survey.once(IN_CYCLES.typical))
        return [each for each in super().subjects(survey) if self._adds(view, each)]

    def _adds(self, view: CycleView, subject: str) -> bool:
        part, rating = rated(view.survey, subject)
        bounds = part.device.ratings[rating].bounds
        if rating not in part.ratings or not view.keeps(part.ref, bounds):
            return False
        more = np.max(self.stress(view, subject) - super().stress(view, subject))
        # Where some cycle is not known the question stays, and is not proven.
        return not more <= ADDS * part.ratings[rating]

    def stress(self, view: View, subject: str) -> np.ndarray:
        part, rating = rated(view.survey, subject)
        declared = part.device.ratings[rating]
        waves = cast(CycleView, view)
        kept = waves.kept(KEPT[declared.bounds_of_course], part.ref, declared.bounds)
        if declared.bounds_of_course != "peak":
            return kept
        return np.maximum(kept, -waves.kept("lowest", part.ref, declared.bounds))
