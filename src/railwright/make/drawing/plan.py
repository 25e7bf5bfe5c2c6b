"""What one frame of the drawing holds: its parts, and how each of their nets is led in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from railwright.circuit.circuit import Circuit, Part, is_thermal
from railwright.make.drawing.figure import Flag
from railwright.make.drawing.ways import Carrier, Ways

Ends = tuple[tuple[str, str], ...]
"""The (ref, pin) of a net."""

PRODUCES = {"power-output", "output", "switch", "open-collector"}
TAKES = {"input", "logic-input", "plus", "minus", "enable"}
"""Roles of pins that are on the left of their part."""
COOLING = "cooling"
"""Title of the frame in which heat is led away."""


@dataclass
class Plan:
    """One frame: what stands in it and how it is joined to the others."""

    title: str
    parts: Sequence[Part]
    wired: dict[str, Ends] = field(default_factory=dict)
    """Net -> the pins that are joined by wires in the frame, 0 V left out."""
    grounded: Ends = ()
    """Pins on 0 V."""
    flagged: dict[tuple[str, str], Flag] = field(default_factory=dict)
    """(ref, pin) -> the name that stands at the pin."""
    rail_in: str = ""
    """Net that comes in at the left, straight along the top."""
    rail_out: str = ""
    """Net that leaves at the right, likewise."""
    left: list[str] = field(default_factory=list)
    """Further nets that come from frames before."""
    right: list[str] = field(default_factory=list)
    """Further nets that go to frames after."""
    backbone: Mapping[str, Carrier] = field(default_factory=dict)
    """Ref -> part through which the power goes along the top."""
    on_way: bool = False
    """Whether the power goes through it."""


def plans(circuit: Circuit, way: Ways) -> list[Plan]:
    """The frames of a drawing, in their order: along the way of the power, then what hangs on it,
    then the cooling."""
    blocks: dict[str, list[Part]] = {}
    cold: list[Part] = []
    for part in circuit.parts:
        if all(is_thermal(part.device, pin) for pin in part.pins) and part.pins:
            cold.append(part)
        else:
            blocks.setdefault(part.block, []).append(part)
    found = [Plan(title, parts) for title, parts in blocks.items()]
    _mark(found, way)
    found = _ordered(found, circuit, way)
    supplies = _supplies(circuit, way)
    for place, plan in enumerate(found):
        _lead(plan, place, found, circuit, way, supplies)
    if cold:
        found.append(_cooling(cold, circuit))
    return found


def all_named(plan: Plan, way: Ways) -> Plan:
    """The frame without wires: the name of its net stands at every pin."""
    flagged = dict(plan.flagged)
    for net, pins in [*plan.wired.items(), (way.zero, plan.grounded)]:
        flagged.update(dict.fromkeys(pins, Flag(net, (0, 0), (0, 0))))
    return Plan(plan.title, plan.parts, flagged=flagged)


def _nets(plan: Plan) -> dict[str, Ends]:
    """Electrical net -> its pins in the frame."""
    found: dict[str, Ends] = {}
    for part in plan.parts:
        for pin, net in part.pins.items():
            if not is_thermal(part.device, pin):
                found[net] = (*found.get(net, ()), (part.ref, pin))
    return found


def _mark(found: Sequence[Plan], way: Ways) -> None:
    """Find the frames through which the power goes, and where it enters and leaves them."""
    for plan in found:
        here = [way.carriers[part.ref] for part in plan.parts if part.ref in way.carriers]
        if here:
            output = min(each.output for each in here)
            refs = [p.ref for p in plan.parts if p.ref in way.carriers]
            plan.backbone = {
                ref: way.carriers[ref] for ref in refs if way.carriers[ref].output == output
            }
            ends = {n for each in plan.backbone.values() for n in (each.source, each.goal)}
            along = [net for net in way.spine if net in ends]
            plan.rail_in, plan.rail_out, plan.on_way = along[0], along[-1], True
        else:
            nets = _nets(plan)
            plan.rail_in = next((net for net in way.spine if net in nets), "")


def _ordered(found: Sequence[Plan], circuit: Circuit, way: Ways) -> list[Plan]:
    """Frames on the way in its order; between them what hangs on it alone; then the others."""
    order = {net: place for place, net in enumerate(way.spine)}
    main = sorted(
        (p for p in found if p.on_way), key=lambda p: (order[p.rail_in], order[p.rail_out])
    )
    rest: list[Plan] = []
    for plan in found:
        if plan.on_way:
            continue
        outside = _shared(plan, found) - {way.zero}
        if main and plan.rail_in and outside == {plan.rail_in}:
            place = max(
                (n for n, p in enumerate(main) if order.get(p.rail_out, -1) <= order[plan.rail_in]),
                default=0,
            )
            plan.rail_out = plan.rail_in
            main.insert(place + 1, plan)
        else:
            plan.rail_in = ""
            rest.append(plan)
    return main + _after_makers(rest, circuit, way)


def _after_makers(rest: Sequence[Plan], circuit: Circuit, way: Ways) -> list[Plan]:
    """Frames so that what makes a net stands before what takes it, else the nearest first."""
    made = {
        id(plan): {net for net, pins in _nets(plan).items() if _made_here(circuit, pins)}
        for plan in rest
    }
    left, found = list(rest), []
    while left:

        def wanting(plan: Plan) -> tuple[int, float]:
            others = [made[id(other)] for other in left if other is not plan]
            taken = set(_nets(plan)) - made[id(plan)]
            return sum(bool(nets & taken) for nets in others), _nearness(plan, way)

        found.append(min(left, key=wanting))
        left.remove(found[-1])
    return found


def _nearness(plan: Plan, way: Ways) -> float:
    """How far a frame is from the input: the middle of its parts."""
    nets = [net for net in _nets(plan) if net != way.zero]
    return sum(way.distance[net] for net in nets) / max(len(nets), 1)


def _shared(plan: Plan, found: Sequence[Plan]) -> set[str]:
    own = set(_nets(plan))
    return {net for other in found if other is not plan for net in _nets(other) if net in own}


def _supplies(circuit: Circuit, way: Ways) -> set[str]:
    """Nets that feed parts beside the way of the power: they go by name from frame to frame."""
    found = set()
    for net, pins in circuit.nets.items():
        roles = [circuit.part(ref).device.pins[pin].role for ref, pin in pins]
        if "supply" in roles and net != way.zero:
            found.add(net)
    return found


def _lead(
    plan: Plan,
    place: int,
    found: Sequence[Plan],
    circuit: Circuit,
    way: Ways,
    supplies: set[str],
) -> None:
    """Decide how each net of a frame is led."""
    nets = _nets(plan)
    plan.grounded = nets.pop(way.zero, ())
    outside = {way.zero, *_shared(plan, found)}
    ends = {*way.entries, *way.exits}
    for part in plan.parts:
        for pin, net in part.pins.items():
            if is_thermal(part.device, pin):
                plan.flagged[part.ref, pin] = Flag(net, (0, 0), (0, 0))
    for net, pins in nets.items():
        rail = net in (plan.rail_in, plan.rail_out)
        shared = net in outside or net in ends
        if shared and not rail and net in supplies and not _made_here(circuit, pins):
            for end in pins:
                plan.flagged[end] = Flag(net, (0, 0), (0, 0))
            continue
        feeding = [end for end in pins if circuit.part(end[0]).device.pins[end[1]].role == "supply"]
        if shared and not rail and len(feeding) == len(pins) > 1:
            for end in feeding:
                plan.flagged[end] = Flag(net, (0, 0), (0, 0))
            continue
        plan.wired[net] = pins
        if not shared or rail:
            continue
        before = any(net in _nets(other) for other in found[:place]) or net in way.entries
        after = any(net in _nets(other) for other in found[place + 1 :]) or net in way.exits
        roles = {circuit.part(ref).device.pins[pin].role for ref, pin in pins}
        goes = _made_here(circuit, pins) or (after and not before and not roles <= TAKES)
        (plan.right if goes else plan.left).append(net)


def _made_here(circuit: Circuit, pins: Ends) -> bool:
    """Whether one of the pins gives the net its potential."""
    for ref, pin in pins:
        device = circuit.part(ref).device
        role = device.pins[pin].role
        if role in PRODUCES or (role == "cathode" and device.symbol == "shunt-reference"):
            return True
    return False


def _cooling(parts: Sequence[Part], circuit: Circuit) -> Plan:
    """The frame of heat: chains from a case to the air."""
    plan = Plan(COOLING, parts)
    refs = {part.ref for part in parts}
    for net, pins in circuit.thermal_nets.items():
        own = tuple(end for end in pins if end[0] in refs)
        if not own:
            continue
        if len(own) == 1 or all(pin == "air" for _, pin in own):
            for end in own:
                plan.flagged[end] = Flag(net, (0, 0), (0, 0))
            continue
        plan.wired[net] = own
        if len(own) < len(pins):
            plan.left.append(net)
    return plan


def neighbours(plan: Plan) -> Mapping[str, set[str]]:
    """Ref -> refs that share a wired net with it."""
    found: dict[str, set[str]] = {part.ref: set() for part in plan.parts}
    for pins in plan.wired.values():
        for ref, _ in pins:
            found[ref] |= {other for other, _ in pins if other != ref}
    return found
