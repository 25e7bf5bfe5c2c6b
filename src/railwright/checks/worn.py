"""Worn: what is left when the electrolytic capacitors have come to the end of their life."""

from __future__ import annotations

from collections.abc import Sequence

from railwright.checks.headroom import SeriesHeadroom
from railwright.surveys.survey import Survey
from railwright.surveys.worn import WORN


class WornHeadroom(SeriesHeadroom):
    """In the valley of a reservoir that has lost a fifth of what it had, whatever that was."""

    id = "headroom.worn"
    question = "Is there voltage enough in the valley when the reservoir has come to its end?"
    source = (
        "dropout voltage, datasheet of the part's type; 20 % less capacitance and twice the "
        "series resistance at the end of life: IEC 60384-4, endurance, from memory"
    )
    analysis = (
        "As headroom.series, at the lowest mains and full load, with 0.8 of the capacitance and "
        "twice the series resistance of every electrolytic capacitor, on top of their tolerance. "
        "Reserve as there; none is wanted, since that is the end."
    )
    example = (
        "1 A from 4700 µF - 20 % falls by `1 A × 7 ms / (0.8 × 4700 µF) = 1.86 V` between two "
        "peaks; worn out by `1 A × 7 ms / (0.8 × 0.8 × 4700 µF) = 2.33 V`: 0.47 V less headroom."
    )
    says = "With worn out capacitors {subject} has {value} and needs {limit} ({place})."
    situation = WORN

    def subjects(self, survey: Survey) -> Sequence[str]:
        return super().subjects(survey) if survey.fixture.alternating else []

    def wanted(self, survey: Survey) -> float:
        return 0.0
