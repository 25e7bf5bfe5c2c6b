"""Inrush: the capacitors that a source must charge before it gives up."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from railwright.checks.check import Check, at_most
from railwright.checks.nets import reached
from railwright.circuit.circuit import Circuit, Part
from railwright.circuit.need import SourceLimit
from railwright.surveys.courses import NOT_FOLLOWED, source_limit
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import SOURCE, terminals
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey


class Inrush(Check):
    """Capacitance that hangs on the input, against what one attempt can charge: C V = I t.

    What the load takes meanwhile is left out. A resistance in the way that alone keeps the
    current below the source's limit shields what lies behind it. Source: definition of
    capacitance.
    """

    id = "overload.inrush"
    question = "Can one attempt of the source charge all the capacitors that hang on it?"
    source = "need.input.limit: its current, and the time until it gives up; C V = I t"
    analysis = (
        "Margin = charge that one attempt of the source brings, its current limit × the time "
        "until it gives up, / input voltage - capacitance between the nets that its current "
        "reaches, load capacitance included. Behind a resistance that alone keeps the current "
        "below the limit nothing counts. Reserve = margin / what can be charged."
    )
    example = (
        "A brick that limits at 3.2 A and gives up after 10 ms charges `3.2 A × 10 ms / 20 V = "
        "1.6 mF`; two capacitors of 1000 µF on its net are `1.6 mF - 2 × 1 mF = -0.4 mF` too "
        "much: it tries again and again."
    )
    says = (
        "{value} hang on the input; before it gives up the source can charge {limit}, and then "
        "it tries again from the start ({place})."
    )
    unit = "F"

    def subjects(self, survey: Survey) -> Sequence[str]:
        limit = source_limit(survey)
        return [SOURCE] if limit is not None and limit.gives_up_after is not None else []

    def missing(self, survey: Survey, subject: str) -> str:
        limit = source_limit(survey)
        if limit is None or limit.style not in NOT_FOLLOWED:
            return ""
        return f"what a source of style {limit.style} gives in its limit is not followed."

    def answer(self, view: View, subject: str) -> Answer:
        limit = source_limit(view.survey)
        assert limit is not None
        assert limit.gives_up_after is not None
        charge = limit.current * limit.gives_up_after
        return at_most(_hanging(view, limit), charge / view.points.input)


def _hanging(view: View, limit: SourceLimit) -> np.ndarray:
    """Capacitance between the nets that the source's current reaches, over lanes [F]."""
    survey, total = view.survey, np.zeros(view.points.count)
    circuit, above, below = _unhindered(survey, limit)
    inputs = view.at.inputs
    for part in circuit.parts:
        if part.kind == "capacitor" and _joins(part.pins.values(), above, below):
            typical = part.values["capacitance"].spread.typical
            total += inputs.get((part.ref, "capacitance"), typical)
    for output in survey.fixture.rails.values():
        nets = terminals(output)
        if _joins((nets.plus, nets.minus), above, below):
            total += max(
                (load.capacitance.max for load in output.load if load.capacitance), default=0.0
            )
    return total


def _unhindered(survey: Survey, limit: SourceLimit) -> tuple[Circuit, set[str], set[str]]:
    """What the source's current reaches: the parts that do not hold it back, its two sides."""
    least = float(survey.range.input[-1]) / limit.current
    parts = survey.fixture.circuit.parts
    circuit = Circuit(tuple(part for part in parts if _resistance(part) < least))
    nets = terminals(survey.fixture.design.need.input)
    ends = frozenset({nets.plus, nets.minus})
    above, below = (reached(circuit, net, False, ends) for net in (nets.plus, nets.minus))
    return circuit, above, below


def _resistance(part: Part) -> float:
    """Resistance with which a part stands in the way [Ω]; nil where it states none."""
    return part.values["resistance"].spread.low if "resistance" in part.values else 0.0


def _joins(nets: Iterable[str], above: set[str], below: set[str]) -> bool:
    one, other = nets
    return (one in above and other in below) or (one in below and other in above)
