"""Which nets current can reach, and what drives them; the ground that wiring checks stand on."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Mapping, Sequence

from railwright.circuit.circuit import Circuit, Part, is_thermal
from railwright.circuit.need import Need
from railwright.devices.device import Role
from railwright.surveys.fixture import terminals

DRIVING: tuple[Role, ...] = ("output", "power-output", "switch", "open-collector")
PASSIVE_ROLES: tuple[Role, ...] = ("passive", "anode", "cathode")
"""A path through these is one through parts that need no supply of their own."""

TIED = 1.0
"""Ω; nets that are nearer than this are tied together."""
NEAR = 1.0
"""Ω; a capacitor or diode behind more is none at this pin (common practice, no source)."""

CONDUCTORS = ("wire", "terminal", "fuse", "resistor", "wirewound-resistor")
"""Kinds that join two nets by a `resistance`, beside a meter with its shunt."""


def near(
    circuit: Circuit, starts: Iterable[str], most: float, stop: frozenset[str] = frozenset()
) -> Mapping[str, tuple[str, ...]]:
    """Nets within a resistance [Ω] of one of these, the nearest first -> refs of the conductors
    on the way there.

    stop: nets beyond which no way leads on.
    """
    found: dict[str, tuple[str, ...]] = {}
    pending: list[tuple[float, tuple[str, ...], str]] = [(0.0, (), net) for net in sorted(starts)]
    while pending:
        resistance, way, net = heapq.heappop(pending)
        if net in found or resistance > most:
            continue
        found[net] = way
        if net in stop:
            continue
        for part, _ in circuit.on_net(net):
            joins, ohms = _joined(part)
            if net in joins:
                for other in joins:
                    heapq.heappush(pending, (resistance + ohms, (*way, part.ref), other))
    return found


def _joined(part: Part) -> tuple[tuple[str, ...], float]:
    """The nets that a part joins as a conductor, and its resistance [Ω]; none where it is none."""
    pins, value = ("one", "two"), "resistance"
    if part.kind == "panel-meter":
        pins, value = ("shunt", "ground"), "shunt_resistance"
    elif part.kind not in CONDUCTORS:
        return (), 0.0
    if not set(pins) <= part.pins.keys():
        return (), 0.0
    return tuple(part.pins[pin] for pin in pins), part.values[value].spread.typical


def ends(
    part: Part, inner: bool, passive: Sequence[Role] = PASSIVE_ROLES
) -> Iterable[tuple[str, str]]:
    """Pairs of nets that a part joins for direct current.

    inner: count paths inside active parts (output to supply and ground) as well.
    passive: roles of pins between which a path needs no supply.
    """
    for one, other in part.device.conducts:
        roles = {part.device.pins[one].role, part.device.pins[other].role}
        if one in part.pins and other in part.pins and (inner or roles <= set(passive)):
            yield part.pins[one], part.pins[other]


def reached(
    circuit: Circuit,
    start: str,
    inner: bool,
    stop: frozenset[str],
    passive: Sequence[Role] = PASSIVE_ROLES,
) -> set[str]:
    """Nets that direct current can reach from a net, not going on beyond the nets in `stop`."""

    def onward(part: Part, net: str) -> set[str]:
        pairs = [pair for pair in ends(part, inner, passive) if net in pair]
        return {other for pair in pairs for other in pair}

    return _spread(circuit, start, stop, onward)


def influenced(circuit: Circuit, start: str, stop: frozenset[str], besides: str) -> set[str]:
    """Nets to which something leads by way of any parts but one, not beyond the nets in `stop`."""

    def onward(part: Part, net: str) -> set[str]:
        if part.ref == besides or part.kind == "capacitor":
            return set()
        return {n for pin, n in part.pins.items() if not is_thermal(part.device, pin)}

    return _spread(circuit, start, stop, onward)


def _spread(
    circuit: Circuit, start: str, stop: frozenset[str], onward: Callable[[Part, str], set[str]]
) -> set[str]:
    """All nets that are reached in steps from one, each by a part on the net before it."""
    found, pending = {start}, [start]
    while pending:
        net = pending.pop()
        if net in stop and net != start:
            continue
        for part, _ in circuit.on_net(net):
            more = onward(part, net) - found
            found |= more
            pending += more
    return found


def pins_of_role(circuit: Circuit, *roles: Role) -> list[tuple[Part, str]]:
    """Connected pins of these roles."""
    return [
        (part, pin)
        for part in circuit.parts
        for pin, declared in part.device.pins.items()
        if declared.role in roles and pin in part.pins
    ]


def returns(need: Need) -> list[str]:
    """Nets on which the source and the loads have their lower terminals."""
    return [terminals(need.input).minus, *(terminals(output).minus for output in need.output)]


def fed_nets(circuit: Circuit) -> frozenset[str]:
    """Nets on which a source or a regulator's output lies."""
    return frozenset(p.pins[pin] for p, pin in pins_of_role(circuit, "power-output"))
