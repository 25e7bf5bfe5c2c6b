"""Isolation: whether anything joins an output to the mains."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.mains_fuse import EXTRA_LOW
from railwright.checks.nets import ends
from railwright.circuit.circuit import Circuit, Part
from railwright.surveys.fixture import terminals, transforms
from railwright.surveys.survey import Survey

PRIMARY = ("primary_start", "primary_end")


class Isolation(WiringCheck):
    """What a person touches, or joins to earth, must not be joined to the mains.

    The windings of a transformer lead on each by itself. A capacitor counts as a joint: whether one
    is made to lie between mains and output is not known here.
    """

    id = "wiring.isolation"
    question = "Is every output apart from the mains?"
    source = "IEC 61558-1 and IEC 62368-1: separation of what is fed from the mains, from memory"
    good = "Nothing joins an output to the mains."
    analysis = (
        "From both ends of an input above 50 V effective, nets are followed through everything "
        "that conducts, each winding by itself, and through capacitors. A terminal of an output "
        "among them falls short; the parts on the way there are the causes, the first one first."
    )
    example = (
        "T1 with an end of its secondary on N, where its primary is: 0 V of the supply is joined "
        "to neutral, and the terminals with it."
    )
    order = 15

    def look(self, survey: Survey) -> WiringAnswer:
        need = survey.fixture.design.need.input
        if not survey.fixture.alternating or need.voltage.max <= EXTRA_LOW:
            return WiringAnswer([], [])
        mains = terminals(need)
        ways = _ways(survey.fixture.circuit, (mains.plus, mains.minus))
        faults = []
        for rail, output in survey.fixture.rails.items():
            for net in (terminals(output).plus, terminals(output).minus):
                if net in ways:
                    told = ", ".join(part.ref for part, _ in ways[net])
                    text = f"{rail} is joined to the mains by way of {told}: to touch it can kill."
                    beyond = _beyond(survey.fixture.circuit, ways[net])
                    faults.append(WiringFault(rail, text, [(part.ref, "") for part in beyond]))
                    break
        return WiringAnswer(list(survey.fixture.rails), faults)


Way = tuple[tuple[Part, str], ...]
"""Parts, each with the net that it leads to."""


def _ways(circuit: Circuit, starts: Sequence[str]) -> Mapping[str, Way]:
    """Nets that something joins to some of these -> the shortest way there."""
    found: dict[str, Way] = dict.fromkeys(starts, ())
    pending = list(starts)
    while pending:
        net = pending.pop(0)
        for part, _ in circuit.on_net(net):
            for other in _joined(part, net):
                if other not in found:
                    found[other] = (*found[net], (part, other))
                    pending.append(other)
    return found


def _beyond(circuit: Circuit, way: Way) -> list[Part]:
    """The parts from that one on which leads away from the primaries.

    What has a winding belongs to them by the net it leads to, and yet is where they go astray.
    """
    primaries = {net for p in circuit.parts for pin, net in p.pins.items() if pin in PRIMARY}
    astray = itertools.dropwhile(lambda step: step[1] in primaries and not transforms(step[0]), way)
    return [part for part, _ in astray]


def _joined(part: Part, net: str) -> Iterator[str]:
    """Nets that a part joins to one."""
    if part.kind == "capacitor":
        yield from part.pins.values()
    for pair in ends(part, inner=True):
        if net in pair:
            yield from pair
