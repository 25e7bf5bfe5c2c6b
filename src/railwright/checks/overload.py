"""Overload: carries what it must, acts when it must, and comes up in the state that is wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from railwright.checks.check import Check, Worst, at_least, at_most
from railwright.quantity import show
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import load_ref
from railwright.surveys.situations import THRESHOLD, View, trip_points
from railwright.surveys.survey import Survey
from railwright.surveys.trips import deciding_comparators


def band_of(survey: Survey, rail: str) -> tuple[float, float]:
    """Current to carry and current to act by [A]; not-a-number where the need has none."""
    overload = survey.fixture.rails[rail].overload
    if overload is None or overload.carry is None or overload.act_by is None:
        return np.nan, np.nan
    return overload.carry, overload.act_by


class _TripCheck(Check):
    """A question about the current at which the trip acts."""

    unit = "A"
    situation = THRESHOLD

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [
            name
            for name, rail in survey.fixture.rails.items()
            if rail.overload is not None
            and rail.overload.style == "trip"
            and np.isfinite(band_of(survey, name)).all()
        ]

    def missing(self, survey: Survey, subject: str) -> str:
        if subject not in survey.once(deciding_comparators):
            return "no comparator turns over between a light load and a heavy overload."
        return ""

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        carry, act_by = band_of(survey, subject)
        return act_by - carry


def trip_currents(view: View, rail: str) -> np.ndarray:
    """Load currents (comparator, lane) at which each deciding comparator turns over."""
    return np.array([at.of(load_ref(rail), "current") for at in trip_points(view)[rail]])


class Carries(_TripCheck):
    """The lowest threshold of any comparator that trips, against the current to carry."""

    id = "overload.carries"
    question = "Is the trip clear of every current that must be carried?"
    source = "need.output.overload.carry"
    analysis = (
        "Margin = lowest load current at which any comparator that trips turns over - need's "
        "current to carry. The load is solved for the current at which the comparator's inputs "
        "are equal, offsets and tolerances in. Reserve = margin / (act_by - carry)."
    )
    example = (
        "A comparator at 2.5 V behind 0.1 Ω and a gain of 20 turns over at `2.5 V / (0.1 Ω × 20) "
        "= 1.25 A`; with 3 % of spread at `1.25 A × 0.97 = 1.2125 A`. 1.1 A must be carried: "
        "`1.2125 A - 1.1 A = 112.5 mA`."
    )

    def answer(self, view: View, subject: str) -> Answer:
        carry, _ = band_of(view.survey, subject)
        currents = trip_currents(view, subject)
        return replace(at_least(currents.min(axis=0), carry), margins=tuple(currents - carry))

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"The trip can act at {show(worst.value, 'A')} already; "
            f"{show(worst.limit, 'A')} must be carried ({worst.place})."
        )


class Acts(_TripCheck):
    """The lowest threshold of any comparator that trips, against where one must have acted."""

    id = "overload.acts"
    question = "Does the trip act by the current at which it must?"
    source = "need.output.overload.act_by"
    analysis = (
        "Margin = need's current by which the trip must have acted - lowest load current at which "
        "any comparator that trips turns over. Reserve = margin / (act_by - carry)."
    )
    example = (
        "The trip of overload.carries acts by `1.25 A × 1.03 = 1.2875 A`; where 1.4 A is the "
        "latest, `1.4 A - 1.2875 A = 112.5 mA` are left, a reserve of `112.5 mA / (1.4 A - 1.1 A) "
        "= 37.5 %`."
    )

    def answer(self, view: View, subject: str) -> Answer:
        _, act_by = band_of(view.survey, subject)
        return at_most(trip_currents(view, subject).min(axis=0), act_by)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"The trip may act only at {show(worst.value, 'A')}; by "
            f"{show(worst.limit, 'A')} it must have acted ({worst.place})."
        )
