"""Bias: what the voltage across a ceramic capacitor leaves of its capacitance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from railwright.checks.check import Check, Worst, at_least
from railwright.devices.capacitor import bend, kept_under_bias, kept_warm
from railwright.quantity import show
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

LEAST = 0.3
"""Share of its capacitance below which a capacitor is not what is written on it."""
USUAL = 0.5
"""Share that a builder counts with who looks at the curves."""


class LostUnderBias(Check):
    """What is left of class 2 for small changes, at its voltage and in its air.

    By typical curves: others are not published. Whether what is left is enough for a regulator is a
    question of that regulator's window.
    """

    id = "headroom.capacitance"
    question = "Does every ceramic capacitor keep enough of its capacitance at its voltage?"
    source = "bias curves of class 2; least share: common practice, no source"
    analysis = (
        "Margin = share of the capacitance of class 2 that is left for small changes - 0.3. The "
        "charge saturates with the voltage, so that a share k is lost at the rated voltage Vr: "
        "left is (1 + ((1 - k)^(-2/3) - 1) V² / Vr²)^(-3/2), times what the temperature leaves. "
        "Typical curves; others are not published. Reserve = margin; half of the capacitance is "
        "wanted."
    )
    example = (
        "A chip that loses 95 % at 25 V, on 13 V: `(1 + (0.05 ^ (-2 / 3) - 1) × 13 ^ 2 / 25 ^ 2) ^ "
        "(-3 / 2) = 0.223` of it is left, `0.223 - 0.3 = -0.077`."
    )
    unit = "1"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [
            part.ref
            for part in survey.fixture.circuit.parts
            if part.kind == "capacitor" and part.options["dielectric"] == "class-2"
        ]

    def answer(self, view: View, subject: str) -> Answer:
        part = view.survey.fixture.circuit.part(subject)
        bias, warm, rated = (
            part.values[name].spread.typical
            for name in ("bias_loss", "temperature_loss", "rated_voltage")
        )
        left = kept_under_bias(bend(bias, rated), view.at.of(subject, "voltage"))
        kept = at_least(left * kept_warm(warm, view.points.ambient), LEAST)
        return replace(kept, ample=USUAL - LEAST)

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return 1.0

    def wanted(self, survey: Survey) -> float:
        return USUAL - LEAST

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        value = survey.fixture.circuit.part(subject).values["capacitance"]
        left = show(worst.value * value.spread.typical, "F")
        return (
            f"At its voltage {subject} has {show(worst.value, '1')} of its capacitance left, "
            f"{left}; {show(worst.limit, '1')} is the least that anybody counts with "
            f"({worst.place})."
        )
