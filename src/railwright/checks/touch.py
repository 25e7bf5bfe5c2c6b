"""Touch: how hot what a person can reach gets."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

import numpy as np

from railwright.checks.check import Check, Worst, at_most
from railwright.circuit.names import AIR
from railwright.quantity import show
from railwright.standards.touch import MANNERS, STATED_AT, Material, in_words
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

NOTHING = "need.surroundings"
"""What the question is about where there is nothing to touch among the parts."""
TOUCH_SCALE = 100.0
"""K; what a margin is divided by, as with junctions."""


class TouchTemperature(Check):
    """The box and the heat sinks outside it or, without a box, every heat sink: what a hand meets.

    The wall of a box is half way between the air inside and the air around it: still air takes
    as much heat up on either side (common practice, no source).
    """

    id = "heat.touch"
    question = "Is everything that a hand can reach cool enough?"
    source = "need.surroundings.touch_limit; IEC 62368-1, table 38, class TS1, in air of 25 °C"
    analysis = (
        "Margin = limit for the material and the manner of touch - temperature of the surface in "
        "air of 25 °C: what warmer air adds does not count, as the limit is stated. A surface is "
        "a heat sink in the open, or the wall of a box, half way between the air on either side. "
        "Where a design has neither, nothing tells it: not proven. Reserve = margin / 100 K; no "
        "reserve is wanted: the limit has its own."
    )
    example = (
        "A heat sink of 9 K/W that carries 3 W is at `25 + 9 × 3 = 52` °C in air of 25 °C. Metal "
        "that is held briefly may have 51 °C: `51 - 52 = -1` K, falls short; touched by chance it "
        "may have 70 °C."
    )
    unit = "°C"

    def subjects(self, survey: Survey) -> Sequence[str]:
        design = survey.fixture.design
        if design.need.surroundings.touch_limit is None:
            return []
        parts = survey.fixture.circuit.parts
        boxes = [part.ref for part in parts if part.kind == "enclosure"]
        sinks = [part for part in parts if part.kind == "heat-sink"]
        if boxes:
            return boxes + [sink.ref for sink in sinks if sink.pins.get("air") == AIR]
        if design.enclosure is not None:
            return []  # told as not asked
        return [sink.ref for sink in sinks] or [NOTHING]

    def missing(self, survey: Survey, subject: str) -> str:
        if subject == NOTHING:
            return (
                "a touch_limit is stated, but no heat sink and no enclosure is among the parts: "
                "nothing tells how warm what a hand can reach gets. Add what it can reach."
            )
        if _limit(survey) is None:
            return (
                f'touch_limit = "{survey.fixture.design.need.surroundings.touch_limit}" is not '
                f"understood. Wanted is a material ({', '.join(get_args(Material))}) and how it "
                f'is touched ({", ".join(MANNERS)}), as in "metal, held briefly".'
            )
        return ""

    def answer(self, view: View, subject: str) -> Answer:
        limit = _limit(view.survey)
        assert limit is not None  # or else it is missing
        if view.survey.fixture.circuit.part(subject).kind == "enclosure":
            surface = view.at.of(subject, "inside") - 0.5 * view.at.of(subject, "rise")
        else:
            surface = view.at.of(subject, "face")
        return at_most(surface - np.maximum(view.points.ambient - STATED_AT, 0.0), limit)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return TOUCH_SCALE

    def wanted(self, survey: Survey) -> float:
        return 0.0

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"{subject} is at {show(worst.value, '°C')} in air of 25 °C; "
            f"{show(worst.limit, '°C')} is allowed for "
            f"{survey.fixture.design.need.surroundings.touch_limit} ({worst.place})."
        )


def _limit(survey: Survey) -> float | None:
    """Hottest surface that the need allows [K]; None where its words are not understood."""
    return in_words(survey.fixture.design.need.surroundings.touch_limit or "")
