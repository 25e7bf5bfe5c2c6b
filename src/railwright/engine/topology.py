"""The shape of a circuit as the engine sees it: elements, unknowns, what is solved for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from railwright.devices.device import Device, Link, Terms, Unknown

AIR = "AMBIENT"
"""The net that is held at the temperature of the surrounding air."""

Joint = tuple[str, str]
"""(ref, pin): where a pin is soldered to its net, and may be open."""
End = str | tuple[str, str]
"""A net, or (ref, pin): where a bridge ends."""
Bridge = tuple[End, End]
"""Two places between which there may be a bridge of solder."""

STEP_LIMITS = {"V": 3.0, "A": 5.0, "K": 60.0, "1": 0.3}
"""Largest change of an unknown in one iteration."""
REACH = 0.2
"""The same as a share of what is reached already, where that is more: a short circuit of a battery
is hundreds of amperes and thousands of kelvins away."""
CUT_ALONE = ("1",)
"""Units of unknowns whose steps are cut by themselves: a gate or a knob that would jump far
must not keep the voltages from moving. All others are cut together, which keeps direction."""
PATIENCE, LONG_PATIENCE, SHRINKAGE, SHRINKING = 10.0, 30.0, 0.25, 60.0
"""Iterations after which limits get closer (those cut alone, all others), how fast, and for how
long: a lane that jumps to and fro between two sides of a bend comes to rest on it, and one that
still has far to go gets its full steps back."""
SPREAD = {"V": 5.0, "A": 0.5, "K": 20.0, "1": 0.5}
"""How far samples and starts are drawn around what is known of an unknown."""
FLOORS = {"V": 1e-9, "A": 1e-12, "K": 1e-7, "1": 1e-10}
"""Changes below this count as none."""


class PartLike(Protocol):
    """What the engine needs to know of a part."""

    @property
    def ref(self) -> str: ...
    @property
    def device(self) -> Device: ...
    @property
    def pins(self) -> Mapping[str, str]: ...
    @property
    def options(self) -> Mapping[str, str]: ...


@dataclass(frozen=True)
class Element:
    """A part in its place."""

    ref: str
    device: Device
    pins: Mapping[str, str]
    options: Mapping[str, str]
    links: Mapping[str, str]
    """Link name -> ref of the part that was found."""


@dataclass(frozen=True)
class Aim:
    """An input that can be solved for, so that a voltage between two nets meets a target."""

    ref: str
    input: str
    plus: str
    minus: str
    low: float = 0.0
    high: float = 1.0


@dataclass(frozen=True)
class Crossing:
    """An input that can be solved for, so that a weighted sum of observables meets a target."""

    ref: str
    input: str
    observables: tuple[tuple[str, str], ...]
    """(ref, observable), each with a weight per lane."""


@dataclass(frozen=True)
class UnknownRow:
    """One unknown of the system and its scales."""

    owner: str
    """Net name, or ref of the part."""
    name: str
    """Empty for a net."""
    unit: str
    start: float
    balanced: bool
    """True where flows must balance; else the owner states the equation."""

    @property
    def label(self) -> str:
        """How other places name this unknown."""
        return f"{self.owner}.{self.name}" if self.name else self.owner


@dataclass(frozen=True)
class Topology:
    """Elements and what is solved for; two circuits of one topology share compiled code."""

    elements: tuple[Element, ...]
    ground: str
    aims: tuple[Aim, ...] = ()
    crossings: tuple[Crossing, ...] = ()
    isothermal: bool = False
    """True where temperatures are given: nothing warms up, thermal flows are left out."""
    switched: bool = False
    """True where switching parts state their equations cycle by cycle, not their means.

    Their edges count as instants: parasitic charges, which give an edge its shape, are left out.
    """
    slow: bool = False
    """True where only heat is stored: what is electrical follows at once."""
    strays: bool = False
    """True where each net has some capacitance to ground besides its parts', as any has.

    Without it, what stores nothing may have to jump (a source meets its limit with a coil behind
    it) and has nowhere to go from. With it, it goes there as fast as a real circuit does.
    """
    joints: tuple[Joint, ...] = ()
    """Joints that may be open in some lanes; their pins are nodes of their own."""
    bridges: tuple[Bridge, ...] = ()
    """Bridges that may be there in some lanes."""

    def __post_init__(self) -> None:
        for joint in self.joints:
            self._refuse_pin(joint)
        for bridge in self.bridges:
            for end in bridge:
                self._refuse_end(end)
            if self.node_of(bridge[0]) == self.node_of(bridge[1]):
                raise ValueError(
                    f"both ends of the bridge {bridge_label(*bridge)} are on the same node: "
                    "state two that differ"
                )
        known = [f"the joint {end_label(joint)}" for joint in self.joints]
        known += [f"the bridge {bridge_label(*bridge)}" for bridge in self.bridges]
        twice = [fault for fault in known if known.count(fault) > 1]
        if twice:
            raise ValueError(f"{twice[0]} is stated more than once: state it once")

    @classmethod
    def of(
        cls,
        parts: Iterable[PartLike],
        ground: str,
        aims: Iterable[Aim] = (),
        crossings: Iterable[Crossing] = (),
        joints: Iterable[Joint] = (),
        bridges: Iterable[Bridge] = (),
    ) -> Topology:
        """The topology of a circuit; finds the parts that other parts need to know.

        Raises ValueError for joints and bridges of what the circuit does not have.
        """
        known = tuple(parts)
        elements = tuple(
            Element(p.ref, p.device, dict(p.pins), dict(p.options), _links(p, known)) for p in known
        )
        return cls(
            elements,
            ground,
            tuple(aims),
            tuple(crossings),
            joints=tuple(joints),
            bridges=tuple(bridges),
        )

    @property
    def solvable(self) -> tuple[Aim | Crossing, ...]:
        """Every input that can be solved for."""
        return (*self.aims, *self.crossings)

    @property
    def moving(self) -> bool:
        """True where electrical quantities change with time: heat is held there, being slower."""
        return self.isothermal

    @cached_property
    def thermal_nets(self) -> frozenset[str]:
        """Nets whose potential is a temperature."""
        return frozenset({AIR}) | {
            net
            for e in self.elements
            for pin, net in e.pins.items()
            if e.device.pins[pin].role == "thermal"
        }

    @cached_property
    def leaping_nets(self) -> frozenset[str]:
        """Nets that leap to and fro in every cycle, of which only the mean is seen."""
        if self.switched:
            return frozenset()
        return frozenset(
            net
            for e in self.elements
            for pin, net in e.pins.items()
            if e.device.pins[pin].role == "switch"
        )

    def own_unknowns(self, element: Element) -> Mapping[str, Unknown]:
        """Internal unknowns of a part, in the view of this topology."""
        device = element.device
        own = device.unknowns
        if self.switched and device.switched_unknowns is not None:
            own = device.switched_unknowns
        return {n: u for n, u in own.items() if not (self.isothermal and u.unit == "K")}

    def equations(self, element: Element) -> Callable[[Terms], None]:
        """The equations of a part, in the view of this topology."""
        device = element.device
        if self.switched and device.switched_unknowns is not None:
            return device.switched_equations
        return device.equations

    @cached_property
    def unknowns(self) -> tuple[UnknownRow, ...]:
        """Every unknown, nets first, in a fixed order."""
        nets = dict.fromkeys(net for e in self.elements for net in e.pins.values())
        rows = [
            UnknownRow(net, "", "K", 300.0, True)
            if net in self.thermal_nets
            else UnknownRow(net, "", "V", 0.0, True)
            for net in nets
            if net not in (self.ground, AIR) and not (self.isothermal and net in self.thermal_nets)
        ]
        for e in self.elements:
            rows += [
                UnknownRow(e.ref, name, u.unit, u.start, u.node)
                for name, u in self.own_unknowns(e).items()
            ]
        for ref, pin in self.joints:
            rows.append(UnknownRow(ref, pin_node(pin), "V", 0.0, True))
            rows.append(UnknownRow(ref, joint_current(pin), "A", 0.0, False))
        solved = [(a.ref, a.input, "1") for a in self.aims]
        solved += [(c.ref, c.input, "A") for c in self.crossings]
        rows += [UnknownRow(ref, f"solved {name}", unit, 0.0, False) for ref, name, unit in solved]
        return tuple(rows)

    @cached_property
    def index(self) -> Mapping[tuple[str, str], int]:
        """(owner, name) -> row of the unknown; nets have the empty name."""
        return {(u.owner, u.name): i for i, u in enumerate(self.unknowns)}

    @cached_property
    def element(self) -> Mapping[str, Element]:
        """Ref -> element."""
        return {e.ref: e for e in self.elements}

    def node_of(self, end: End) -> tuple[str, str]:
        """(owner, name) of the node at a net or pin, see `index`; ground and air have no row."""
        if isinstance(end, str):
            return end, ""
        if end in self.joints:
            return end[0], pin_node(end[1])
        return self.element[end[0]].pins[end[1]], ""

    def _refuse_end(self, end: End) -> None:
        if not isinstance(end, str):
            self._refuse_pin(end)
            return
        nets = dict.fromkeys(net for e in self.elements for net in e.pins.values())
        electrical = [net for net in nets if net not in self.thermal_nets]
        if end not in electrical:
            raise ValueError(
                f"a bridge ends at {end}, which is no electrical net of this circuit; "
                f"it has {', '.join(electrical)}"
            )

    def _refuse_pin(self, place: Joint) -> None:
        ref, pin = place
        if ref not in self.element:
            raise ValueError(
                f"a joint or bridge is at pin {pin} of {ref}, but this circuit has no such part; "
                f"it has {', '.join(self.element)}"
            )
        element = self.element[ref]
        soldered = [p for p in element.pins if element.device.pins[p].role != "thermal"]
        if pin not in soldered:
            raise ValueError(
                f"a joint or bridge is at pin {pin} of {ref} ({element.device.kind}), which is no "
                f"electrical pin of it on a net; those are {', '.join(soldered) or 'none'}"
            )

    def signature(self) -> str:
        """A text that is equal exactly where compiled code can be shared."""
        return self._signature

    @cached_property
    def _signature(self) -> str:
        lines = [
            f"ground {self.ground} {self.isothermal} {self.switched} {self.slow} {self.strays}"
        ]
        for e in self.elements:
            parts = [e.ref, type(e.device).__qualname__, e.device.kind]
            parts += [f"{k}={v}" for k, v in sorted(e.pins.items())]
            parts += [f"{k}:{v}" for k, v in sorted(e.options.items())]
            parts += [f"{k}>{v}" for k, v in sorted(e.links.items())]
            lines.append("\t".join(parts))
        lines += map(repr, (*self.aims, *self.crossings))
        lines += [f"joint {joint!r}" for joint in self.joints]
        lines += [f"bridge {bridge!r}" for bridge in self.bridges]
        return "\n".join(lines)


def pin_node(pin: str) -> str:
    """Name of the unknown that is the potential of a pin behind its joint [V]."""
    return f"pin {pin}"


def joint_current(pin: str) -> str:
    """Name of the unknown that is the current through a joint, from the net to the pin [A]."""
    return f"joint {pin}"


def end_label(end: End) -> str:
    """How a net or pin is named in labels: net, or ref.pin."""
    return end if isinstance(end, str) else ".".join(end)


def bridge_label(one: End, other: End) -> str:
    """How a bridge is named in labels, the same from either end."""
    return " - ".join(sorted((end_label(one), end_label(other))))


def _links(part: PartLike, parts: Sequence[PartLike]) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, link in part.device.links.items():
        others = [p for p in parts if p.ref != part.ref and p.ref not in found.values()]
        if link.to:
            others = [p for p in others if part.pins.get(link.to) in p.pins.values()]
        other = _linked(part.pins.get(link.at), link, others)
        way = found.get(link.across)
        if other and way:
            del found[link.across]
        elif way:
            (across,) = (p for p in parts if p.ref == way)
            far = [net for net in across.pins.values() if net not in part.pins.values()]
            other = _linked(far[0] if far else None, link, others)
        if other:
            found[name] = other
    return found


def _linked(net: str | None, link: Link, parts: Iterable[PartLike]) -> str:
    if net is None:
        return ""
    for other in parts:
        fits = other.device.kind in link.kinds
        if fits and any(other.pins.get(pin) == net for pin in link.pins):
            return other.ref
    return ""
