"""Noise: what the parts themselves make at the terminals."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np

from railwright.checks.check import Check, Worst, at_most
from railwright.quantity import show
from railwright.surveys.curves import Axis, Curves, Line
from railwright.surveys.extremes import Answer
from railwright.surveys.quietness import QUIETNESS, NoiseView, density_of, quiet_rails
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

MOST_TOLD = 3
LEAST_TOLD = 0.1
"""Share of the noise's power that a part must make to be told."""


class OutputNoise(Check):
    """Root mean square from 10 Hz to 100 kHz, of every part's noise on its way to the terminals.

    What the source brings is not known, and what switching leaves is a matter of ripple.
    """

    id = "noise.output"
    question = "Is the output as free of noise as the need wants it?"
    source = "need.output.noise; adjoint network (Rohrer, Nagel, Meyer and Weber 1971)"
    analysis = (
        "Margin = need's noise - root mean square at the terminals from 10 Hz to 100 kHz: the sum "
        "over all noise sources (4 k T R, 2 q I, published noise voltages with their 1/f corners) "
        "of density × |gain to the terminals|². At the corners of the range, with the least and "
        "the greatest capacitance of the loads; the source brings none. Reserve = margin / noise "
        "allowed."
    )
    example = (
        "A regulator of 375 nV/√Hz at a reference of 1.25 V, set to 12 V without a capacitor at "
        "its adjust pin: `375e-9 × sqrt(100 kHz) × 12 V / 1.25 V = 1.14 mV` of white noise."
    )
    situation = QUIETNESS
    unit = "V"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return quiet_rails(survey)

    def answer(self, view: View, subject: str) -> Answer:
        allowed = view.survey.fixture.rails[subject].noise or np.nan
        return at_most(cast(NoiseView, view).noise(subject), allowed)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        told = ""
        if worst.view is not None:
            shares = cast(NoiseView, worst.view).by_part[subject]
            most = sorted(shares, key=lambda ref: -shares[ref][0])[:MOST_TOLD]
            loud = [ref for ref in most if shares[ref][0] ** 2 > LEAST_TOLD * worst.value**2]
            told = f", mostly from {', '.join(loud)}" if loud else ""
        return (
            f"The terminals show {show(worst.value, 'V')} rms of noise from 10 Hz to 100 kHz"
            f"{told}; {show(worst.limit, 'V')} is allowed ({worst.place})."
        )

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        frequency, density = density_of(view, subject)
        line = Line("", frequency, density)
        across = Axis("frequency", "Hz", logarithmic=True)
        up = Axis("noise density at the terminals", "V/√Hz", logarithmic=True)
        return [Curves("Noise over frequency", across, up, [line])]
