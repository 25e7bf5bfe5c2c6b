"""Ripple that a switching supply puts back on what feeds it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np

from railwright.checks.check import Check, at_most
from railwright.surveys.cycles import IN_CYCLES, CycleView, clocks
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import SOURCE
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey


class InputRipple(Check):
    """Peak to peak at the terminals of the input, across the source's resistance and cable."""

    id = "ripple.input"
    question = "Does what feeds the supply stay quiet enough while the regulator switches?"
    source = "need.input.ripple, from the periodic steady state of the cycle"
    analysis = (
        "Margin = ripple of need.input - peak to peak voltage at the terminals of the input in the "
        "periodic steady state, harmonics of the switching frequency up to 2 MHz. The source is "
        "its voltage behind need.input's resistance and cable. Reserve = margin / ripple allowed."
    )
    example = (
        "Pulses of 1.15 A from a source of 0.1 Ω without an input capacitor: `1.15 A × 0.1 Ω = "
        "115 mV`; 300 mV allowed leave `300 mV - 115 mV = 185 mV`."
    )
    says = "The input shows {value} of ripple; {limit} is allowed ({place})."
    situation = IN_CYCLES
    unit = "V"

    def subjects(self, survey: Survey) -> Sequence[str]:
        asked = survey.fixture.design.need.input.ripple is not None
        return [SOURCE] if asked and clocks(survey.fixture.circuit) else []

    def missing(self, survey: Survey, subject: str) -> str:
        if not survey.fixture.alternating:
            return ""
        return "what switches puts its ripple on an alternating input, of which no cycle is known."

    def answer(self, view: View, subject: str) -> Answer:
        allowed = view.survey.fixture.design.need.input.ripple or np.nan
        return at_most(cast(CycleView, view).input_ripple(), allowed)
