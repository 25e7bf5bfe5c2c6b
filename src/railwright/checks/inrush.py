"""Inrush: the capacitors that a source must charge before it gives up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import Check, at_most
from railwright.checks.nets import reached
from railwright.circuit.circuit import Circuit, Part
from railwright.circuit.need import SourceLimit
from railwright.devices import kinds
from railwright.surveys.courses import NOT_FOLLOWED, source_limit
from railwright.surveys.extremes import Answer
from railwright.surveys.fixture import SOURCE, terminals
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
SLOWS = 0.02
"""Of the resistance that alone keeps the current below the source's limit: less is not counted."""

UNCONTROLLED = "resistor", "zener", "capacitor"
"""Kinds at a gate that do not turn it off while its source is up."""


class Inrush(Check):
    """Capacitance that hangs on the input, against what one attempt can charge: C V = I t.

    What the load takes meanwhile is left out. A resistance in the way ends the attempt sooner, and
    one that alone keeps the current below the source's limit shields what lies behind it. Source:
    definition of capacitance; Ohm's law.
    """

    id = "overload.inrush"
    question = "Can one attempt of the source charge all the capacitors that hang on it?"
    source = "need.input.limit: its current, and the time until it gives up; C V = I t"
    analysis = (
        "Margin = charge that one attempt of the source brings, its current limit × the time "
        "until it gives up, / input voltage - capacitance between the nets that its current "
        "reaches, load capacitance included. Behind a resistance R, least spread, of a thermistor "
        "as warm as in use, 1 - R × current limit / input voltage of it counts, and nothing where "
        "that is negative. Reserve = margin / what can be charged."
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


def _hanging(view: View, limit: SourceLimit) -> Array:
    """Capacitance between the nets that the source's current reaches, over lanes [F].

    A capacitor behind a resistance R counts for 1 - R I / V of itself: from V - R I across it on,
    less than its limit comes from the source.
    """
    survey, total = view.survey, np.zeros(view.points.count)
    parts = [_as_wire(survey, part) for part in survey.fixture.circuit.parts]
    shares = {p.ref: _resistance(view, p) * limit.current / view.points.input for p in parts}
    passes = [part for part in parts if np.min(shares[part.ref]) < 1.0]
    everywhere = _Sides.of(survey, passes)
    slowed = [
        (shares[slow.ref], _Sides.of(survey, [part for part in passes if part is not slow]))
        for slow in passes
        if np.max(shares[slow.ref]) > SLOWS
    ]
    for nets, farads in _capacitances(view):
        if everywhere.hold(nets):
            held = [share for share, sides in slowed if not sides.hold(nets)]
            total += (1.0 - np.clip(np.max(held, axis=0), 0.0, 1.0) if held else 1.0) * farads
    return total


@dataclass(frozen=True)
class _Sides:
    """Nets that the source's current reaches from its two ends."""

    above: set[str]
    below: set[str]

    @classmethod
    def of(cls, survey: Survey, parts: Iterable[Part]) -> _Sides:
        """Through parts."""
        circuit = Circuit(tuple(parts))
        nets = terminals(survey.fixture.design.need.input)
        ends = frozenset({nets.plus, nets.minus})
        return cls(*(reached(circuit, net, False, ends) for net in (nets.plus, nets.minus)))

    def hold(self, nets: Iterable[str]) -> bool:
        """Whether one of two nets is on either side."""
        one, other = nets
        return (one in self.above and other in self.below) or (
            one in self.below and other in self.above
        )


def _as_wire(survey: Survey, part: Part) -> Part:
    """A wire in the place of a transistor whose gate nothing turns off but its own source."""
    pins = part.pins
    if part.kind != "field-effect-transistor" or not {"drain", "gate", "source"} <= pins.keys():
        return part
    beside = [each for each, _ in survey.fixture.circuit.on_net(pins["gate"]) if each is not part]
    if any(each.kind not in UNCONTROLLED for each in beside):
        return part
    ends = {"one": pins["drain"], "two": pins["source"]}
    return replace(part, device=kinds()["wire"], pins=ends)


def _resistance(view: View, part: Part) -> Array | float:
    """Least resistance with which a part stands in the way, over lanes [Ω]; nil where none is.

    That of a thermistor is as warm as it is in use: the source may be connected again at once.
    """
    if "resistance" not in part.values:
        return 0.0
    least = part.values["resistance"].spread.low
    if "resistance" in part.device.observes:
        # At the least of its type, whatever the lane: behind enough of it nothing counts, and then
        # nothing tells that less of it would let something through.
        own = least / view.value(part.ref, "resistance")
        return np.asarray(own * view.at.of(part.ref, "resistance"))
    return least


def _capacitances(view: View) -> Iterator[tuple[Iterable[str], Array | float]]:
    """Both nets of each capacitor, and of the greatest load of each rail; their capacitance [F]."""
    for part in view.survey.fixture.circuit.parts:
        if part.kind == "capacitor":
            typical = part.values["capacitance"].spread.typical
            yield part.pins.values(), view.at.inputs.get((part.ref, "capacitance"), typical)
    for output in view.survey.fixture.rails.values():
        brought = [load.capacitance.max for load in output.load if load.capacitance]
        nets = terminals(output)
        yield (nets.plus, nets.minus), max(brought, default=0.0)
