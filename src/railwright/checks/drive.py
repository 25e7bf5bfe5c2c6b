"""Drive: whether transistors that are to be on get the base current or gate voltage for it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Check, at_least, parts_that_observe
from railwright.checks.headroom import half_way
from railwright.devices.arithmetic import ROOM
from railwright.surveys.extremes import Answer
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

ON = 0.5
"""V across a transistor below which it is taken to be meant as a switch that is on."""
USED = 1e-4
"""A through it below which nothing needs it to be on."""
LEAST_OVERDRIVE = 1.2
"""Times the base current that its gain needs: below this it may leave saturation."""
USUAL_OVERDRIVE = 2.0
USUAL_GATE = 0.8
"""Share of the published gate voltage from which on its on-resistance is counted with."""


class _Drive(Check):
    """A question about every transistor that is on half way in the range, with typical parts."""

    needs: tuple[str, ...] = ()

    def subjects(self, survey: Survey) -> Sequence[str]:
        view = survey.once(half_way)
        return [
            part.ref
            for part in parts_that_observe(survey, *self.needs)
            if all(name in part.values for name in self.stated)
            # Where that point is not solved the question is put, and cannot be answered.
            and not abs(view.at.of(part.ref, "voltage")[0]) >= ON
            and not view.at.of(part.ref, "current")[0] <= USED
        ]

    stated: tuple[str, ...] = ()
    """Values that tell whether a part is one of these."""


class BaseDrive(_Drive):
    """Base current times the gain over the collector current, where the transistor is on."""

    id = "headroom.base-drive"
    question = "Does every transistor that is on get more base current than its gain needs?"
    source = "common practice, no source: 1.2 times at least with the least gain, 2 times wanted"
    analysis = (
        "Asked of transistors that typically have less than 0.5 V across them. Value: gain × base "
        "current / collector current, with the gain as it is at this collector current and this "
        "temperature of the junction. Margin = value - 1.2; reserve = margin, 0.8 is wanted."
    )
    example = (
        "A collector current of 100 mA, a base current of 2.4 mA and a gain of 100 at least: "
        "`100 × 2.4 mA / 100 mA = 2.4`, which leaves `2.4 - 1.2 = 1.2`."
    )
    says = (
        "{subject} gets {value} times the base current that its gain needs; below {limit} it may "
        "not be on ({place})."
    )
    unit = "1"
    needs = ("voltage", "current", "base_current")
    stated = ("current_gain", "gain_half_current")

    def answer(self, view: View, subject: str) -> Answer:
        current = view.at.of(subject, "current")
        fall = 1.0 + current / view.value(subject, "gain_half_current")
        warm = (view.at.of(subject, "junction") / ROOM) ** 2
        gain = view.value(subject, "current_gain") * warm / fall
        used = current > USED
        overdrive = gain * view.at.of(subject, "base_current") / np.where(used, current, USED)
        return at_least(overdrive, LEAST_OVERDRIVE, asked=used)

    def scale(self, survey: Survey, subject: str, worst: object) -> float:
        return 1.0

    def wanted(self, survey: Survey) -> float:
        return USUAL_OVERDRIVE - LEAST_OVERDRIVE


class GateDrive(_Drive):
    """Gate voltage against the one at which the on-resistance is published."""

    id = "headroom.gate-drive"
    question = "Does every field-effect transistor that is on get the gate voltage for it?"
    source = "gate voltage of the on-resistance, datasheet of the part's type; common practice"
    analysis = (
        "Asked of transistors that typically have less than 0.5 V across them. Margin = gate to "
        "source voltage - 0.8 of that at which the on-resistance is published. Reserve = margin / "
        "the latter; need.parts.reserve is wanted."
    )
    example = (
        "A type whose on-resistance is published at 10 V, driven by 5 V: `5 V - 0.8 × 10 V = -3 V`."
    )
    says = "The gate of {subject} gets {value} and wants {limit} for its on-resistance ({place})."
    unit = "V"
    needs = ("voltage", "current", "gate_voltage")
    stated = ("on_gate_voltage",)

    def answer(self, view: View, subject: str) -> Answer:
        published = view.survey.fixture.circuit.part(subject).values["on_gate_voltage"]
        used = view.at.of(subject, "current") > USED
        limit = USUAL_GATE * published.spread.typical
        return at_least(view.at.of(subject, "gate_voltage"), limit, asked=used)

    def scale(self, survey: Survey, subject: str, worst: object) -> float:
        return survey.fixture.circuit.part(subject).values["on_gate_voltage"].spread.typical
