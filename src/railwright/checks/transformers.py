"""Transformers: what their windings carry, and how warm that makes them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railwright.checks.check import Check, Worst, at_most, unknown
from railwright.checks.life import hottest_air
from railwright.checks.stress import JUNCTION_SCALE
from railwright.circuit.circuit import Part
from railwright.quantity import show
from railwright.standards.thermal import GROWS
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import transforms, wired
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey


class _TransformerCheck(Check):
    """A question about each transformer on alternating mains."""

    needs: tuple[str, ...]
    """Values that its type must state."""

    def subjects(self, survey: Survey) -> Sequence[str]:
        parts = survey.fixture.circuit.parts if survey.fixture.alternating else ()
        return [part.ref for part in parts if transforms(part)]

    def missing(self, survey: Survey, subject: str) -> str:
        part = survey.fixture.circuit.part(subject)
        return unknown(subject, [name for name in self.needs if name not in part.values])


class WindingCurrent(_TransformerCheck):
    """Effective value of the pulses that the rectifier takes: 1.5 to 2 times their mean."""

    id = "stress.winding"
    question = "Do the secondaries carry no more than they are rated for?"
    source = "rated current of the type (VA over volts), effective; steady state of the mains cycle"
    analysis = (
        "Margin = rated effective current of a secondary - effective current of the secondary that "
        "carries the most, in the periodic steady state of the mains cycle. Behind a bridge with a "
        "reservoir it is about 1.6 to 1.8 times the direct current. Reserve = margin / rated "
        "current."
    )
    example = (
        "A bridge that gives 0.5 A out of one secondary of 15 V and 1 A (15 VA): `1.8 × 0.5 A = "
        "0.9 A`, margin `1 A - 0.9 A = 0.1 A`; two such secondaries side by side carry half each."
    )
    says = "A secondary of {subject} carries {value} and is rated for {limit} ({place})."
    unit = "A"
    needs = ("rated_current",)

    def answer(self, view: View, subject: str) -> Answer:
        part = view.survey.fixture.circuit.part(subject)
        seen = [view.of_course("rms", subject, f"{name}_current") for name in wired(part)]
        return at_most(np.max(seen, axis=0), _typical(part, "rated_current"))


class WindingHeat(_TransformerCheck):
    """The rise that the type has at full load, in proportion to a power of what it loses."""

    id = "heat.winding"
    question = "Do the windings of the transformer stay cool enough?"
    source = "rise and limit of the type (IEC 61558-1, table 1); losses in the mains cycle"
    analysis = (
        "Margin = limit of the windings' class - (air + rated rise × (loss / loss at full load)^"
        "0.8). Loss = mean of copper and core in the mains cycle; at full load every secondary "
        "carries its rated current at nominal input. Reserve = margin / 100 K."
    )
    example = (
        "Half of its full loss warms a transformer that rises by 70 K at full load by `70 × "
        "0.5^0.8 = 40.2` K; in air of 40 °C `120 - (40 + 40.2) = 39.8` K are left to class B."
    )
    unit = "°C"
    needs = ("rated_current", "rated_rise", "winding_limit")

    def answer(self, view: View, subject: str) -> Answer:
        part = view.survey.fixture.circuit.part(subject)
        loss = view.of_course("mean", subject, "power") / _full_loss(view.survey, part)
        rise = _typical(part, "rated_rise") * np.maximum(loss, 0.0) ** GROWS
        return at_most(hottest_air(view) + rise, _typical(part, "winding_limit"))

    def scale(self, survey: Survey, subject: str, worst: Worst) -> float:
        return JUNCTION_SCALE

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"The windings of {subject} reach {show(worst.value, '°C')}; "
            f"{show(worst.limit, '°C')} is allowed ({worst.place})."
        )


def _full_loss(survey: Survey, part: Part) -> float:
    """What is lost at nominal input with the connected secondaries at their rated current [W]."""
    amperes, count = _typical(part, "rated_current"), len(wired(part))
    primary = count * amperes / _typical(part, "turns_ratio")
    copper = count * _typical(part, "secondary_resistance") * amperes**2
    copper += _typical(part, "primary_resistance") * primary**2
    return copper + survey.range.nominal_input**2 / _typical(part, "core_resistance")


def _typical(part: Part, name: str) -> float:
    return part.values[name].spread.typical
