"""Life: how long what wears out lasts."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Check, Worst, at_least, unknown
from railwright.circuit.circuit import Part
from railwright.standards.electrolytic import (
    COOLEST,
    DOUBLING,
    RATED_RISE,
    SEALS,
    mains_share,
)
from railwright.surveys.extremes import Answer
from railwright.surveys.mains import IN_USE, Moments, to_and_fro
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

HOUR = 3600.0  # s
PROMISES = "rated_life", "rated_ripple", "rated_temperature"


class ElectrolyticLife(Check):
    """The electrolyte dries out, twice as fast for each ten kelvins that the core is warmer.

    The air is that of the box where there is one; heat of neighbours on the board is not known
    before a layout.
    """

    id = "life.electrolytic"
    question = "Do the electrolytic capacitors last as long as they are to?"
    source = (
        "10-degree rule at the core, from rated life, ripple and temperature of the part's type; "
        "need.parts.life"
    )
    analysis = (
        "Margin = rated life × 2^((rated core - core) / 10 K) - need.parts.life. Core = air + 5 K "
        "× (ripple current / rated ripple current)^2, rated core = rated temperature + 5 K. "
        "Ripple of the mains counts against the share of the rated current that is allowed at "
        "100 Hz. Below 40 °C no gain counts, and no more than 15 years. Reserve = margin / "
        "need.parts.life."
    )
    example = (
        "5000 h at 105 °C, in air of 60 °C with half its ripple current: core `60 + 5 × 0.5^2 = "
        "61.25` °C, life `5000 × 2^((110 - 61.25) / 10) = 146721` h; 20000 h are wanted."
    )
    unit = "s"
    situation = IN_USE

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [p.ref for p in survey.fixture.circuit.parts if wet(p)]

    def missing(self, survey: Survey, subject: str) -> str:
        return unpromised(survey.fixture.circuit.part(subject), *PROMISES)

    def answer(self, view: View, subject: str) -> Answer:
        part = view.survey.fixture.circuit.part(subject)
        core = (
            hottest_air(view)
            + RATED_RISE * (to_and_fro(view, subject) / ripple_limit(view, part)) ** 2
        )
        rated = promised(part, "rated_temperature") + RATED_RISE
        life = promised(part, "rated_life") * 2.0 ** (
            (rated - np.maximum(core, COOLEST)) / DOUBLING
        )
        return at_least(np.minimum(life, SEALS), view.survey.fixture.design.need.parts.life)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"{subject} lasts {worst.value / HOUR:.0f} h; {worst.limit / HOUR:.0f} h are wanted "
            f"({worst.place})."
        )


def wet(part: Part) -> bool:
    """Whether a part is an aluminium electrolytic capacitor."""
    return part.options.get("dielectric") == "electrolytic"


def unpromised(part: Part, *names: str) -> str:
    """Why a part cannot be judged whose type does not promise all of this; empty where it does."""
    return unknown(part.ref, [name for name in names if not promised(part, name) > 0])


def promised(part: Part, name: str) -> float:
    """What is promised of a value at least; nil where nothing is.

    A promise that states no limits is one itself: no spread is assumed about it.
    """
    if name not in part.values:
        return 0.0
    value = part.values[name]
    return value.spread.typical if value.assumed else value.spread.low


def ripple_limit(view: View, part: Part) -> float:
    """The ripple current [A] that a capacitor is promised for, at the frequency of its ripple."""
    share = 1.0
    if isinstance(view, Moments):
        share = mains_share(part.values["capacitance"].spread.typical)
    return share * promised(part, "rated_ripple")


def hottest_air(view: View) -> np.ndarray:
    """The air around the parts, over lanes [K]: inside the box where there is one."""
    boxes = [p.ref for p in view.survey.fixture.circuit.parts if p.kind == "enclosure"]
    air = [view.points.ambient, *(view.at.of(box, "inside") for box in boxes)]
    hottest: np.ndarray = np.max(air, axis=0)
    return hottest
