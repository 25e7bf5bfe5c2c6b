"""Feed: whether a way for current leads from the input to every output at all."""

from __future__ import annotations

from collections.abc import Iterator

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import near, reached
from railwright.circuit.circuit import Circuit, Part
from railwright.surveys.fixture import load_ref, terminals
from railwright.surveys.survey import Survey

BESIDE = 10.0
"""Ω; within so much of 0 V a terminal is a lower one: no more stands there than a shunt and leads
(common practice, no source)."""


class Fed(WiringCheck):
    """Whatever regulates an output, its current comes from the input.

    Ways are followed through everything that conducts, inside of active parts as well, and over
    capacitors from what switches to and fro; not through 0 V, and not through loads.
    """

    id = "wiring.fed"
    question = "Does a way for current lead from the input to every output?"
    source = "Kirchhoff's current law: what nothing feeds gives no current"
    good = "A way leads from the input to every output."
    analysis = (
        "From the source's terminals, short of 0 V and without the loads, all nets are followed "
        "that parts conduct current to, inside of active parts as well, and over capacitors from "
        "outputs that switch. A terminal of the need that is neither reached nor within 10 Ω of "
        "0 V falls short; the parts at which the ways end are its causes."
    )
    example = (
        "IN - Q1 - RAIL - R7 - OUT holds. Without R7 the ways end at RAIL, where Q1 and what "
        "senses the current are: OUT has a divider and a capacitor, and nothing feeds it."
    )
    order = 2

    def look(self, survey: Survey) -> WiringAnswer:
        fixture, circuit = survey.fixture, survey.fixture.at_rest
        for rail in fixture.rails:
            circuit = circuit.without(load_ref(rail))
        faults = []
        for rail, output in fixture.rails.items():
            ends = (terminals(output).plus, terminals(output).minus)
            sources = [set(circuit.part(source).pins.values()) for source in fixture.feeds]
            # Below 0 V it is the upper terminal that both have in common.
            shared = [net for net in ends if any(net in pins for pins in sources)]
            ground = frozenset((*shared[:1],) or (fixture.ground,))
            fed = {
                net
                for source, pins in zip(fixture.feeds, sources, strict=True)
                for end in pins - ground
                for net in _fed_from(circuit.without(source), end, ground)
            }
            below = near(circuit, ground, BESIDE)
            for net in ends:
                if net not in fed and net not in below:
                    text = f"Nothing leads from the input to {net}, where {rail} is taken."
                    causes = [(ref, "") for ref in dict.fromkeys(_ends(circuit, net, fed, ground))]
                    faults.append(WiringFault(rail, text, causes))
        return WiringAnswer(list(fixture.rails), faults)


def _fed_from(circuit: Circuit, start: str, ground: frozenset[str]) -> set[str]:
    """Nets that current reaches from a net, short of 0 V."""
    found: set[str] = set()
    pending = [start]
    while pending:
        more = reached(circuit, pending.pop(), True, ground) - found
        found |= more
        pending += [
            other
            for net in more - ground
            for part, _ in circuit.on_net(net)
            if part.kind == "capacitor" and any(_switches(*each) for each in circuit.on_net(net))
            for other in part.pins.values()
            if other not in found | ground
        ]
    return found


def _switches(part: Part, pin: str) -> bool:
    """Whether a pin goes to and fro by itself, so that a capacitor carries its current on."""
    role = part.device.pins[pin].role
    return role == "switch" or (role == "output" and part.device.two_state)


def _ends(circuit: Circuit, net: str, fed: set[str], ground: frozenset[str]) -> Iterator[str]:
    """Parts on what lacks a feed that are on something fed as well, nearest to the net first."""
    missing = reached(circuit, net, True, ground) - ground
    for wanted in ({net}, missing):
        for part in circuit.parts:
            nets = set(part.pins.values())
            if nets & fed - ground and nets & wanted:
                yield part.ref
    yield from (part.ref for part, _ in circuit.on_net(net))
