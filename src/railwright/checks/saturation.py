"""Saturation: coils at the highest current that a trip or a limit lets through."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Check, at_most
from railwright.checks.limiting import OVERLOADED
from railwright.circuit.circuit import Part
from railwright.engine.solutions import OperatingPoints
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import THRESHOLD, View
from railwright.surveys.survey import Survey

RATING = "saturation_current"


class _Saturation(Check):
    """A question about each coil of a supply with an overload that is dealt with."""

    unit = "A"
    says = (
        "{subject} carries {value} at the highest current that can flow; it saturates at {limit} "
        "({place})."
    )
    analysis = (
        "Margin = saturation current of the type, whole - current in the coil where the trip turns "
        "over or into the heaviest loads of overload.limit-acts, with its ripple where a switching "
        "regulator drives it. Reserve = margin / saturation current."
    )
    source = "saturation current of the part's type; need.output.overload"

    def subjects(self, survey: Survey) -> Sequence[str]:
        if not self.situation.applies(survey):
            return []
        return [part.ref for part in survey.fixture.circuit.parts if RATING in part.device.ratings]

    def missing(self, survey: Survey, subject: str) -> str:
        if RATING in survey.fixture.circuit.part(subject).ratings:
            return ""
        return f"no saturation current is known for {subject}. State {RATING}."

    def answer(self, view: View, subject: str) -> Answer:
        part = view.survey.fixture.circuit.part(subject)
        currents = [_current(view.survey, part, at) for at in view.beside.values()]
        return at_most(np.max(currents, axis=0), part.ratings[RATING])


def _current(survey: Survey, coil: Part, at: OperatingPoints) -> np.ndarray:
    """Current in a coil over lanes [A], its peak where a switching regulator drives it."""
    found = np.abs(at.of(coil.ref, "current"))
    for part in survey.fixture.circuit.parts:
        links = survey.model.topology.element[part.ref].links
        if links.get("coil") == coil.ref and "coil_peak" in part.device.observes:
            found = np.maximum(found, np.abs(at.of(part.ref, "coil_peak")))
    return found


class AtTrip(_Saturation):
    """At the highest current of all comparators that trip."""

    id = "stress.saturation-at-trip"
    question = "Does every coil stay out of saturation up to where the trip acts?"
    situation = THRESHOLD
    example = (
        "A coil with 0.4 A of ripple ahead of a trip at 1.36 A carries `1.36 A + 0.4 A / 2 = 1.56 "
        "A` at its peaks; one that saturates at 1.5 A is `1.5 A - 1.56 A = -60 mA` short, and "
        "the switch sees more than the trip allows."
    )


class InLimit(_Saturation):
    """Into every heavy load that a limit is judged with."""

    id = "stress.saturation-in-limit"
    question = "Does every coil stay out of saturation while a current limit acts?"
    situation = OVERLOADED
    example = (
        "A limit that lets 742 mA through ahead of a coil that saturates at 0.7 A: `0.7 A - 742 mA "
        "= -42 mA`."
    )
