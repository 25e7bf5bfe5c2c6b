"""Stress: every part against its ratings, as the derating policy of the need allows them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Check, Worst, at_most
from railwright.circuit.circuit import Part
from railwright.devices.derated import hottest, usable
from railwright.devices.device import Rating
from railwright.quantity import show
from railwright.standards.policy import Policy
from railwright.surveys.extremes import Answer
from railwright.surveys.held_hot import balance
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

SEPARATOR = " "
JUNCTION_SCALE = 100.0
"""K of margin that count as a reserve of 100 %: the usual 10 K make the usual 10 %."""


def policy_of(survey: Survey) -> Policy:
    """The derating policy that the need names."""
    return survey.fixture.design.derating


class _Rated(Check):
    """A question about each rating that a part's kind declares; the subject is part and rating."""

    def judges(self, part: Part, rating: str) -> bool:
        raise NotImplementedError

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [
            f"{part.ref}{SEPARATOR}{rating}"
            for part in survey.fixture.design.circuit.parts
            for rating in part.device.ratings
            if self.judges(part, rating)
        ]

    def missing(self, survey: Survey, subject: str) -> str:
        part, rating = rated(survey, subject)
        if rating in part.ratings:
            return ""
        known = f"no {rating.replace('_', ' ')} is known for {part.ref}"
        return f"{known}. State {rating}, or name a catalogue part with use."


def rated(survey: Survey, subject: str) -> tuple[Part, str]:
    """The part and the name of the rating that a subject is about."""
    ref, _, rating = subject.partition(SEPARATOR)
    return survey.fixture.circuit.part(ref), rating


class Stress(_Rated):
    """|value| against rating times the policy's ratio, or against the rating where it has none.

    A resistor is allowed no more than IEC 60115-1 does in warm air.
    """

    id = "stress.rating"
    question = "Is every part within its derated ratings?"
    source = "ratings of the part's type; derating policy of need.parts.derating"
    analysis = (
        "Margin = rating × ratio of the derating policy - |value| at the steady state; a fuse by "
        "its current table, a resistor's power by no more than IEC 60115-1 leaves in warm air. "
        "Reverse voltages count in their own direction alone. Reserve = margin / (rating × "
        "ratio)."
    )
    example = (
        "A resistor of 0.25 W with 5 V across 220 Ω takes `5 V × 5 V / 220 Ω = 114 mW`; half its "
        "rating, `0.5 × 0.25 W = 125 mW`, may be used: reserve `(125 mW - 114 mW) / 125 mW = 8.8 "
        "%`, marginal."
    )
    unit = ""

    def judges(self, part: Part, rating: str) -> bool:
        return part.device.ratings[rating].unit != "°C"

    def answer(self, view: View, subject: str) -> Answer:
        part, rating = rated(view.survey, subject)
        ratio = self.ratio(view, part, rating)
        return at_most(self.stress(view, subject), ratio * part.ratings[rating])

    def stress(self, view: View, subject: str) -> np.ndarray:
        """What the rating bounds, over lanes."""
        part, rating = rated(view.survey, subject)
        declared = part.device.ratings[rating]
        seen = view.of_course(declared.bounds_of_course, part.ref, declared.bounds)
        return np.maximum(seen, 0.0) if self.one_way(declared) else np.abs(seen)

    @staticmethod
    def one_way(declared: Rating) -> bool:
        """Whether a rating bounds its observable in one direction alone."""
        return declared.bounds.endswith(("reverse_voltage", "emitter_base_voltage"))

    def ratio(self, view: View, part: Part, rating: str) -> np.ndarray:
        """The share of a rating that may be used, over lanes."""
        found = usable(
            policy_of(view.survey),
            part.device,
            part.options,
            rating,
            part.ratings[rating],
            view.points.ambient,
        )
        return np.ones(view.points.count) if found is None else found

    def unit_of(self, survey: Survey, subject: str) -> str:
        part, rating = rated(survey, subject)
        return part.device.ratings[rating].unit

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        part, rating = rated(survey, subject)
        return max(worst.limit, 1e-3 * part.ratings[rating])

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        part, rating = rated(survey, subject)
        declared = part.device.ratings[rating]
        whole = part.ratings[rating]
        return (
            f"{part.ref} sees {show(worst.value, declared.unit)}; its "
            f"{rating.replace('_', ' ')} is {show(whole, declared.unit)}, of which "
            f"{show(worst.limit / whole, '1')} may be used ({worst.place})."
        )


class Junction(_Rated):
    """Junction temperature against the lower of the part's own limit and the policy's."""

    id = "heat.junction"
    question = "Does every junction stay cool enough, on its heat sink, at full load?"
    source = "thermal chain of JESD51-1 solved with the circuit; limit of the type or the policy"
    analysis = (
        "Margin = the lower of the type's and the policy's hottest junction - junction "
        "temperature, which is ambient + power × (junction to case + case to sink + sink to air), "
        "solved together with the circuit. Where there is no solution, parts are held 4 K apart up "
        "to the limit: if the rise that the loss causes is the greater one at each, the part runs "
        "away, and the margin is the least that is lacking. Reserve = margin / 100 K; "
        "need.parts.junction_reserve is wanted."
    )
    example = (
        "6 V across and 1 A through a regulator with 3 K/W, 0.5 K/W and 8 K/W to air of 40 °C "
        "heat it to `40 + 6 V × 1 A × (3 + 0.5 + 8) = 109` °C; with 125 °C allowed, `125 - 109 = "
        "16` K are left."
    )
    unit = "°C"

    def judges(self, part: Part, rating: str) -> bool:
        declared = part.device.ratings[rating]
        return declared.unit == "°C" and declared.bounds == "junction"

    def answer(self, view: View, subject: str) -> Answer:
        part, rating = rated(view.survey, subject)
        limit = hottest(
            policy_of(view.survey), part.device, part.options, rating, part.ratings[rating]
        )
        found = at_most(view.at.of(part.ref, "junction"), limit)
        runs = balance(view, part.ref, limit)
        if runs is None:
            return found
        away = np.isfinite(runs.spare)
        return Answer(
            np.where(away, runs.spare, found.margin),
            np.where(away, runs.held - runs.spare, found.value),
            np.where(away, runs.held, found.limit),
            known=away,
        )

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return JUNCTION_SCALE

    def wanted(self, survey: Survey) -> float:
        return survey.fixture.design.need.parts.junction_reserve / JUNCTION_SCALE

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        part, _ = rated(survey, subject)
        if worst.view is not None and not worst.view.at.solved.any():
            return (
                f"{part.ref} runs away: its loss grows faster than its heat leaves. Even when it "
                f"is {show(worst.limit, '°C')}, at best, the loss would make it "
                f"{show(worst.value, '°C')}, and up to its limit there is no balance "
                f"({worst.place})."
            )
        return (
            f"The junction of {part.ref} reaches {show(worst.value, '°C')}; "
            f"{show(worst.limit, '°C')} is allowed ({worst.place})."
        )
