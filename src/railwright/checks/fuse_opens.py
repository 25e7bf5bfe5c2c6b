"""Opening of fuses: whether a short circuit behind a transformer opens the fuse before it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from railwright.checks.check import Check, Worst, at_least, unknown
from railwright.checks.nets import near
from railwright.circuit.circuit import Part
from railwright.devices.transformer import SECONDARIES
from railwright.quantity import show
from railwright.standards.rectifier import shorted
from railwright.standards.wire import WARM
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import terminals, transforms, wired
from railwright.surveys.mains import frequencies
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey
from railwright.surveys.switch_on import SWITCH_ON

MELTING = "melting_current"
BEFORE = 100.0
"""Ω; what stands between a fuse and the transformer that it protects, inrush limiters included."""


class FuseOpens(Check):
    """Behind a transformer a short circuit draws no more than its windings let through.

    A fuse that lets that pass leaves it to burn.
    """

    id = "stress.fuse-opens"
    question = "Does a short circuit behind the transformer open the fuse before it?"
    source = "melting current of the type, IEC 60127-2: at most 2.1 times its rating"
    analysis = (
        "Margin = primary current with a secondary shorted - melting current of the fuse. Current "
        "= lowest mains / |Z|, Z = source + 1.3 × primary + ratio^2 × 1.3 × secondary resistance, "
        "with the leakage inductance beside it: warm copper, the highest values. Secondaries side "
        "by side are shorted together. A transformer is asked of the last fuse on the way to it. "
        "Reserve = margin / melting current."
    )
    example = (
        "230 V - 10 % on 120 Ω + 5.5^2 × 3 Ω, warm: `207 V / (1.3 × (120 Ω + 30.25 × 3 Ω)) = 0.756 "
        "A`. A fuse of 200 mA melts at 0.42 A at most; one of 630 mA at `2.1 × 0.63 A = 1.32 A`: "
        "it falls short."
    )
    unit = "A"
    situation = SWITCH_ON

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [fuse.ref for fuse in _fuses(survey) if list(behind(survey, fuse))]

    def missing(self, survey: Survey, subject: str) -> str:
        known = MELTING in survey.fixture.circuit.part(subject).values
        return unknown(subject, [] if known else [MELTING])

    def answer(self, view: View, subject: str) -> Answer:
        fuse = view.survey.fixture.circuit.part(subject)
        drawn = min(_shorted(view.survey, part) for part in behind(view.survey, fuse))
        melts = view.value(subject, MELTING)
        return at_least(np.full(view.points.count, drawn), melts)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"A short circuit behind the transformer draws {show(worst.value, 'A')} through "
            f"{subject}, which melts at {show(worst.limit, 'A')} ({worst.place})."
        )


def _fuses(survey: Survey) -> list[Part]:
    parts = survey.fixture.circuit.parts if survey.fixture.alternating else ()
    return [part for part in parts if "melting_integral" in part.device.values]


def behind(survey: Survey, fuse: Part) -> Iterator[Part]:
    """The transformers whose primaries are at the mains behind a fuse, and behind no other one."""
    if not survey.fixture.alternating:
        return
    circuit, mains = survey.fixture.circuit, terminals(survey.fixture.design.need.input)
    before = near(circuit, (mains.plus, mains.minus), BEFORE)
    ahead = frozenset(net for net, way in before.items() if fuse.ref not in way)
    if not ahead & set(fuse.pins.values()):
        return
    others = {other.ref for other in _fuses(survey)} - {fuse.ref}
    found = near(circuit, set(fuse.pins.values()) - ahead, BEFORE, ahead)
    at = {net for net, way in found.items() if not others & set(way)} - ahead
    for part in circuit.parts:
        if transforms(part) and at & {part.pins.get("primary_start"), part.pins.get("primary_end")}:
            yield part


def _shorted(survey: Survey, part: Part) -> float:
    """The least primary current with a secondary shorted [A]."""
    need = survey.fixture.design.need.input
    names = "primary_resistance", "secondary_resistance", "turns_ratio", "leakage_inductance"
    first, own, ratio, leakage = (part.values[name].spread.high for name in names)
    ends = [{part.pins[f"{name}_{end}"] for end in ("start", "end")} for name in wired(part)]
    windings = 2 if len(ends) == len(SECONDARIES) and ends[0] == ends[1] else 1
    primary = need.resistance + WARM * first
    hertz = max(frequencies(survey))
    return shorted(need.voltage.min, hertz, primary, WARM * own, ratio, leakage, windings)
