"""Filters: coils and capacitors that ring with each other where nothing damps them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from railwright.checks.check import Check, Worst, at_least
from railwright.engine.poles import poles, taking_part
from railwright.quantity import show
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.small_signals import SMALL_SIGNALS, SmallSignalView
from railwright.surveys.survey import Survey

COILS = ("inductor", "ferrite-bead", "common-mode-choke")
DAMPED = 0.1
"""Damping ratio below which a filter amplifies more than five times where it rings, and a step
more than half again as far as it went (common practice, no source)."""
AMPLE = 0.8
"""Of margin: what is damped by so much more with typical parts has no need of more looks."""
TAKES_PART = 0.25
"""Share of a mode that the coil of a filter has at least: with its capacitor alone it is a half."""


class FilterDamping(Check):
    """Damping of the modes in which a coil takes part that belongs to no switching regulator.

    Capacitors are as bias leaves them: ceramic ones that have lost most of their capacitance ring
    higher, and harder, than their marked values let expect.
    """

    id = "stability.filter"
    question = "Is every filter of a coil and capacitors damped where it rings?"
    source = (
        "poles of the linearised circuit; a damping ratio of 0.1 at least, that is a peak of five: "
        "common practice, no source"
    )
    analysis = (
        "Margin = damping ratio -Re(s) / |s| - 0.1, of the pole s that decays least of those in "
        "which the coil has 25 % at least; the circuit is linearised about the corners of its "
        "range. Reserve = margin / 0.1."
    )
    example = (
        "10 µH with 60 mΩ, and 0.44 µF that bias has left of three ceramic capacitors of 1 µF: "
        "`60 mΩ / 2 × sqrt(0.44 µF / 10 µH) = 0.0063` at "
        "`1 / (2 × pi × sqrt(10 µH × 0.44 µF)) = 75.9 kHz`, falls short. A tantalum capacitor of "
        "10 µF with 1 Ω beside them damps it."
    )
    unit = "1"
    situation = SMALL_SIGNALS

    def subjects(self, survey: Survey) -> Sequence[str]:
        linked = {
            ref
            for element in survey.model.topology.element.values()
            for ref in element.links.values()
        }
        parts = survey.fixture.circuit.parts
        return [p.ref for p in parts if p.kind in COILS and p.ref not in linked]

    def answer(self, view: View, subject: str) -> Answer:
        small = cast(SmallSignalView, view)
        damping = at_least(_least_damped(small, subject), DAMPED, asked=small.works)
        return replace(damping, ample=AMPLE)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        told = f"The filter of {subject} has a damping ratio of {show(worst.value, '1')}"
        if worst.margin < 0:
            return f"{told}; with less than {show(DAMPED, '1')} it rings ({worst.place})."
        return f"{told}; {show(DAMPED, '1')} is enough ({worst.place})."


def _least_damped(view: SmallSignalView, coil: str) -> np.ndarray:
    """Least damping ratio of the modes of a coil, over lanes; 1 where it rings in none."""
    if view.linear is None:
        return np.full(view.points.count, np.nan)
    natural = poles(view.linear, exact=False)
    least = np.where(natural.solved, 1.0, np.nan)
    for pole, damping in zip(natural.value.T, natural.damping.T, strict=True):
        rings = pole.imag > 0
        if rings.any():
            shares = taking_part(view.linear, pole)
            own = np.asarray(shares.get(coil, 0.0)) > TAKES_PART
            least = np.where(rings & own, np.fmin(least, damping), least)
    return least
