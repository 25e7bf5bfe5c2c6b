"""Surge: what rectifiers and fuses go through when the mains are switched on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import Check, Worst, at_most, unknown
from railwright.checks.life import promised
from railwright.checks.nets import near
from railwright.circuit.circuit import Part
from railwright.devices.transformer import SECONDARIES
from railwright.standards.iec60127 import PULSES
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import terminals, transforms
from railwright.surveys.mains import frequencies
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey
from railwright.surveys.switch_on import SWITCH_ON, SurgeView

Array = NDArray[np.float64]
SMALL = 50.0
"""Ω; behind more than this no diode charges a reservoir, and none is in danger."""
MODEST = 0.5
"""Of its steady rating: what is no surge of a diode, with typical parts."""
HALF_WAVE = 8.3e-3
"""s; of the half wave of 60 Hz for which surge currents are stated."""
MELTING = "melting_current", "melting_integral"


class RectifierSurge(Check):
    """The first half wave into an empty reservoir, limited by winding and source alone."""

    id = "stress.surge"
    question = "Do the rectifiers survive the charging of the reservoir at switch-on?"
    source = (
        "surge current of the type, one half wave of 8.3 ms, as much I²t in a longer one (common "
        "practice); course from the worst instants"
    )
    analysis = (
        "Margin = peak of one half wave that the diode survives - greatest current after the mains "
        "are switched on at their peak or at nil, the reservoir empty, highest mains, coldest "
        "copper. At most (peak - drops) / resistance of winding and source. The type states it for "
        "8.3 ms; a half wave of the mains of 10 ms has as much I²t at sqrt(8.3 / 10) of that. "
        "Reserve = margin / surge current."
    )
    example = (
        "17.3 V unloaded behind 1.2 Ω, two diodes of 1 V: at most `(sqrt(2) × 17.3 V - 2 V) / 1.2 "
        "Ω = 18.7 A`; a bridge of 50 A survives `50 A × sqrt(8.3 / 10) = 45.6 A` on 50 Hz and has "
        "`45.6 A - 18.7 A = 26.9 A` left."
    )
    says = "{subject} carries up to {value} at switch-on; it survives {limit} ({place})."
    unit = "A"
    situation = SWITCH_ON

    def subjects(self, survey: Survey) -> Sequence[str]:
        found = _rectifiers(survey)
        return [p.ref for p in found if promised(p, "surge_current") > 0 or _surges(survey, p)]

    def missing(self, survey: Survey, subject: str) -> str:
        known = promised(survey.fixture.circuit.part(subject), "surge_current") > 0
        return unknown(subject, [] if known else ["surge_current"])

    def answer(self, view: View, subject: str) -> Answer:
        stated = promised(view.survey.fixture.circuit.part(subject), "surge_current")
        longer = 0.5 / (min(frequencies(view.survey)) * HALF_WAVE)
        survives = stated / np.sqrt(max(longer, 1.0))
        return at_most(cast(SurgeView, view).peak(subject), survives)


class FuseSurge(Check):
    """It heats with the square of the current and cools by itself, and must stay far below melting.

    Each switching on tires its wire. What it carries in use warms it for good, and does not count.
    """

    id = "stress.fuse-surge"
    question = "Does the fuse survive being switched on, again and again?"
    source = "melting integral and current of the type; pulse withstand of fuse makers, from memory"
    analysis = (
        "Margin = 0.29 - share of the heat at which the fuse melts: dh/dt = ((i / melting current)^"
        "2 - h) × melting current^2 / melting integral, after the mains are switched on at the "
        "worst instant, above what the current in use makes of it. 0.29 lasts for ten thousand "
        "times. Reserve = margin / 0.29."
    )
    example = (
        "Half a wave of 2 A for 10 ms has `0.5 × 2^2 × 0.01 = 0.02` A²s; a fuse that melts at 0.4 "
        "A²s is heated to `0.02 / 0.4 = 0.05`, margin `0.29 - 0.05 = 0.24`."
    )
    unit = "1"
    situation = SWITCH_ON

    def subjects(self, survey: Survey) -> Sequence[str]:
        parts = survey.fixture.circuit.parts if survey.fixture.alternating else ()
        return [part.ref for part in parts if "melting_integral" in part.device.values]

    def missing(self, survey: Survey, subject: str) -> str:
        part = survey.fixture.circuit.part(subject)
        return unknown(subject, [name for name in MELTING if name not in part.values])

    def answer(self, view: View, subject: str) -> Answer:
        current, integral = (view.value(subject, name) for name in MELTING)
        felt = cast(SurgeView, view).heat(subject, integral / current**2)
        return at_most(felt / current**2, PULSES)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"Switching on heats {subject} to {100.0 * worst.value:.0f} % of what melts it; "
            f"{100.0 * worst.limit:.0f} % can be repeated ten thousand times ({worst.place})."
        )


def _surges(survey: Survey, part: Part) -> bool:
    """Whether a part that promises nothing sees more than it may carry all the time."""
    if SWITCH_ON.unready(survey):
        return True
    view = cast(SurgeView, survey.once(SWITCH_ON.typical))
    steady = part.ratings.get("forward_current", 0.0)
    return not bool(np.all(view.peak(part.ref) < MODEST * steady))


def _rectifiers(survey: Survey) -> list[Part]:
    """Diodes and bridges on what alternates."""
    if not survey.fixture.alternating:
        return []
    nets = _alternating(survey)
    return [
        part
        for part in survey.fixture.circuit.parts
        if "forward_current" in part.device.ratings and nets & set(part.pins.values())
    ]


def _alternating(survey: Survey) -> set[str]:
    """Nets of the input or of the secondaries, through fuses and other small resistances."""
    parts = survey.fixture.circuit.parts
    pins = [
        part.pins[pin]
        for part in parts
        if transforms(part)
        for pin in part.pins
        if pin.startswith(SECONDARIES)
    ]
    ends = terminals(survey.fixture.design.need.input)
    starts = set(pins or (ends.plus, ends.minus)) - {survey.fixture.ground}
    return set(near(survey.fixture.circuit, starts, SMALL)) - {survey.fixture.ground}
