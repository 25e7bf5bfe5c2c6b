"""How power goes through a circuit: its 0 V, its ways from input to output, how far each net is.

What is read here only says where things are put: no verdict leans on it. So it copes with any
circuit, one with no way from input to output too.
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from railwright.circuit.circuit import Circuit, Part, is_thermal
from railwright.circuit.design import Design
from railwright.surveys.stages import common

OUT = {"power-output", "output", "open-collector", "switch", "emitter", "cathode"}
"""Roles of pins by which power or a signal leaves a part."""
IN = {"power-input", "supply", "input", "logic-input", "plus", "minus", "enable", "feedback"} | {
    "base",
    "gate",
    "anode",
}
"""Roles of pins by which it only enters."""
TURNED = ("drain", "source"), ("collector", "emitter")
"""Pins between which power goes either way: p-channel and pnp parts turn it round."""
LIGHT, HEAVY, APART = 1.0, 4.0, 12.0
"""How far it is across a part: one that carries power, one that does not, one that no direct
current crosses."""
RETURNING = 8.0
"""How much further the second end of an alternating input is: the first has fuse and switch."""
SMALL = 10.0
"""Resistance [Ω] up to which a resistor may carry the power."""
BESIDE = 1000.0
"""Distance of what nothing leads to."""


@dataclass(frozen=True, slots=True)
class Carrier:
    """A part on the way of the power, by its pins and their nets."""

    enters: str
    leaves: str
    source: str
    goal: str
    output: int
    """Number of the exit to whose way it belongs."""


@dataclass(frozen=True)
class Ways:
    """What a drawing has to know of a circuit as a whole."""

    zero: str
    """The net drawn as 0 V, from which a proof counts too; empty where there is none."""
    entries: Sequence[str]
    """Nets of the input, but for 0 V."""
    exits: Sequence[str]
    """Nets of the outputs, but for 0 V."""
    distance: Mapping[str, float]
    """Net -> how far it is from the input."""
    height: Mapping[str, float]
    """Net -> where it lies between 0 V (0) and the ways of the power (1)."""
    spine: Sequence[str]
    """Nets on the ways from input to outputs, in order."""
    carriers: Mapping[str, Carrier]
    """Ref -> part on these ways."""


def ways(design: Design) -> Ways:
    """Read the circuit of a design."""
    circuit, need = design.circuit, design.need
    taps = [need.input.nets, *(output.nets for output in need.output)]
    ends = [[tap.plus, tap.minus] if tap else [] for tap in taps]
    nets = circuit.nets
    zero = common(design) if all(taps) else ""
    if zero not in nets:  # of a circuit that is not finished
        zero = _zero(circuit)
    entries = [net for net in ends[0] if net in nets and net != zero]
    exits = [net for end in ends[1:] for net in end if net in nets and net != zero]
    exits = [net for net in dict.fromkeys(exits) if net not in entries]
    if not entries:
        entries = _sources(circuit, zero)
    distance, before = _distances(circuit, entries, zero)
    carriers: dict[str, Carrier] = {}
    for number, goal in enumerate(exits):
        while goal in before and before[goal][0] not in carriers:
            ref, enters, leaves = before[goal]
            source = circuit.part(ref).pins[enters]
            carriers[ref] = Carrier(enters, leaves, source, goal, number)
            goal = source
    on_way = {net for each in carriers.values() for net in (each.source, each.goal)}
    spine = sorted(on_way, key=lambda net: (distance[net], net))
    height = _heights(circuit, zero, [*entries, *spine])
    return Ways(zero, entries, exits, distance, height, spine, carriers)


def _zero(circuit: Circuit) -> str:
    """The net on which most parts are grounded, or stand at all."""
    score: Counter[str] = Counter()
    for net, pins in circuit.nets.items():
        roles = [circuit.part(ref).device.pins[pin].role for ref, pin in pins]
        score[net] = 3 * roles.count("ground") + len(roles)
    return max(score, key=lambda net: (score[net], net), default="")


def _sources(circuit: Circuit, zero: str) -> list[str]:
    """Nets that a part of the surroundings feeds, where the need names no input."""
    found = [
        part.pins[pin]
        for part in circuit.parts
        for pin, seat in part.device.pins.items()
        if part.device.surroundings and seat.role == "power-output" and pin in part.pins
    ]
    found = [net for net in dict.fromkeys(found) if net != zero]
    return found or [net for net in circuit.nets if net != zero][:1]


def _distances(
    circuit: Circuit, entries: Sequence[str], zero: str
) -> tuple[dict[str, float], dict[str, tuple[str, str, str]]]:
    """Net -> distance from the input; net -> the part before it on its way, with both pins."""
    distance = {net: RETURNING * place for place, net in enumerate(entries)}
    before: dict[str, tuple[str, str, str]] = {}
    for against in (False, True):  # what no way leads to is reached against the stream
        queue = [(far, net) for net, far in distance.items()]
        heapq.heapify(queue)
        while queue:
            far, net = heapq.heappop(queue)
            if far > distance[net]:
                continue
            for other, crossed, step in _onward(circuit, net, zero, against):
                if far + step < distance.get(other, BESIDE) and (
                    not against or other not in before
                ):
                    distance[other] = far + step
                    before[other] = crossed
                    heapq.heappush(queue, (far + step, other))
    return {net: distance.get(net, BESIDE) for net in circuit.nets}, before


def _onward(
    circuit: Circuit, net: str, zero: str, against: bool
) -> Iterator[tuple[str, tuple[str, str, str], float]]:
    """Nets to which power or a signal goes from a net, through which part, and how far that is."""
    if net == zero:
        return
    for part, pin in circuit.on_net(net):
        for other, target in part.pins.items():
            if target in (net, zero) or is_thermal(part.device, other):
                continue
            if against or _goes(part, pin, other):
                yield (
                    target,
                    (part.ref, pin, other),
                    length(part, pin, other) * (2.0 if against else 1.0),
                )


def _goes(part: Part, pin: str, other: str) -> bool:
    """Whether something that enters a part at a pin leaves it at another."""
    a, b = (part.device.pins[each].role for each in (pin, other))
    if any({a, b} == set(pair) for pair in TURNED):
        return True
    return a not in OUT and b not in IN and a != "ground" and b != "ground"


def length(part: Part, pin: str, other: str) -> float:
    """How far it is across a part."""
    joined = {frozenset(pair) for pair in part.device.conducts}
    if frozenset((pin, other)) not in joined:
        # A transformer carries power without a current across it.
        return LIGHT if part.device.symbol == "transformer" else APART
    if "resistance" in part.values and part.values["resistance"].spread.typical > SMALL:
        return HEAVY
    return LIGHT


def _heights(circuit: Circuit, zero: str, high: Iterable[str]) -> dict[str, float]:
    """Net -> its potential if every part were the same resistor between all its pins."""
    fixed = dict.fromkeys(high, 1.0)
    fixed[zero] = 0.0
    found = {net: fixed.get(net, 0.5) for net in circuit.nets}
    around: dict[str, list[str]] = {net: [] for net in circuit.nets}
    for part in circuit.parts:
        nets = [net for pin, net in part.pins.items() if not is_thermal(part.device, pin)]
        for net in nets:
            around[net] += [other for other in nets if other != net]
    for _ in range(60):
        for net, others in around.items():
            if net not in fixed and others:
                found[net] = sum(found[other] for other in others) / len(others)
    return found
