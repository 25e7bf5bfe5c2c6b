"""Fuse at the start: what a direct source gives it while the capacitors behind it charge."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import Worst
from railwright.checks.let_through import FuseInShort
from railwright.checks.pulses import cooled
from railwright.checks.surge import MELTING
from railwright.surveys.courses import POWER_UP, CourseView, fuses
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]


class FuseStart(FuseInShort):
    """As `FuseSurge`, of a fuse that no mains are behind: each start tires its wire."""

    id = "stress.fuse-start"
    question = "Does the fuse survive the charging of the capacitors behind it, at every start?"
    analysis = (
        "Margin = 0.29 - share of the heat at which the fuse melts, as in stress.fuse-surge, while "
        "a direct source comes up within 1 ms, and within 100 ms, before empty capacitors; above "
        "what the current in use makes of it. Without a limit of the source it is at most half "
        "the capacitance times the square of the voltage, over the resistance in the way. Reserve "
        "= margin / 0.29."
    )
    example = (
        "4.7 mF on 14 V behind 0.2 Ω: at most `0.5 × 4.7 mF × (14 V)^2 / 0.2 Ω = 2.3` A²s. A fuse "
        "that melts at 1 A²s does so; one that melts at 20 A²s is heated to `2.3 / 20 = 0.115` of "
        "it: margin `0.29 - 0.115 = 0.175`."
    )
    situation = POWER_UP

    def parts(self, survey: Survey) -> Sequence[str]:
        return [] if survey.fixture.alternating else [part.ref for part in fuses(survey)]

    def share(self, view: CourseView, ref: str) -> Array:
        current, integral = (view.value(ref, name) for name in MELTING)
        greatest = []
        for record in view.records:
            square = record.rows[ref, "current"] ** 2
            more = square - square[:, -1:]
            greatest.append(cooled(record.times, more, integral / current**2))
        found: Array = np.max(greatest, axis=0) / current**2
        return found

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"Each start heats {subject} to {100.0 * worst.value:.0f} % of what melts it; "
            f"{100.0 * worst.limit:.0f} % can be repeated ten thousand times ({worst.place})."
        )
