"""The equations of a whole circuit, gathered from its parts on any kind of number."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from railwright.devices.arithmetic import clipped
from railwright.devices.device import Number, Terms
from railwright.engine.topology import (
    AIR,
    Aim,
    Bridge,
    Crossing,
    Element,
    End,
    Joint,
    Topology,
    bridge_label,
    end_label,
    joint_current,
    pin_node,
)

SYSTEM = ""
"""Owner of the parameters that belong to no part."""
AMBIENT = (SYSTEM, "ambient")
TIME = (SYSTEM, "time")
GAIN = (SYSTEM, "gain")
LEAK = (SYSTEM, "leak")
LEAST_FLOW = 1e-6
"""What a balance is judged by at least [A or W]: the rounding of a potential makes a flow of
about 1e-12 A across some milliohms, which must not count where next to nothing flows."""
STRAY = 1e-12
"""Capacitance of a net to ground [F], less than that of any net on a board."""
OVERFLOW_CORNER = 1e-6
"""Rounding of the end stops of a solved input, as a share of its travel."""


def temperature_name(label: str) -> tuple[str, str]:
    """System parameter that holds a temperature where nothing warms up (`isothermal`)."""
    return SYSTEM, f"temperature {label}"


def joint_name(ref: str, pin: str) -> tuple[str, str]:
    """System parameter [Ω]: the resistance of a joint; 0 where it is sound (see `faults.OPEN`)."""
    return SYSTEM, f"joint {end_label((ref, pin))}"


def bridge_name(one: End, other: End) -> tuple[str, str]:
    """System parameter [S]: the conductance of a bridge, either end first; 0 where there is none.

    An end is a net or (ref, pin). See `faults.BRIDGED`.
    """
    return SYSTEM, f"bridge {bridge_label(one, other)}"


@dataclass(frozen=True)
class Storage:
    """A charge or flux: its rate of change is added in row `plus` and subtracted in row `minus`."""

    owner: str
    """Ref of the part that stores it, or the net that does."""
    plus: int | None
    minus: int | None
    amount: Number
    parasitic: bool = False
    """True where it need not be followed exactly."""
    leaps: bool = False
    """True where it goes to and fro in every cycle, of which only the mean is seen."""


@dataclass(frozen=True)
class Event:
    """Once the guard reaches nil from below, held quantities take new values."""

    guard: Number
    changes: Mapping[tuple[str, str], Number]


@dataclass(frozen=True)
class Noise:
    """A noise that enters one row and leaves another; white density and corner of its 1/f part."""

    ref: str
    plus: int | None
    minus: int | None
    density: Number
    corner: Number


Parameters = Callable[[str, str], Number]
"""(owner, name) -> a parameter of the system or of a part."""


class Assembly:
    """Residuals, observables and stored charges of a circuit at given unknowns.

    residuals[i] belongs to unknown i; terms[i] are the terms of its sum.
    """

    def __init__(self, topology: Topology, x: Sequence[Number], parameters: Parameters) -> None:
        self.topology = topology
        self.x = x
        self.parameters = parameters
        self.residuals: list[Number] = [0.0] * len(x)
        self.terms: list[list[Number]] = [[] for _ in x]
        self.observed: dict[tuple[str, str], Number] = {}
        self.observed_for_others: dict[tuple[str, str], Number] = {}
        self.storages: list[Storage] = []
        self.events: list[Event] = []
        self.noises: list[Noise] = []
        self.paces: list[Number] = []
        self.signals: dict[tuple[str, str], Number] = {}
        self.solved: dict[tuple[str, str], Number] = {
            (s.ref, s.input): x[topology.index[s.ref, f"solved {s.input}"]]
            for s in topology.solvable
        }
        for element in topology.elements:
            topology.equations(element)(PartTerms(self, element))
        # What a part says about another one that it speaks for stands above what that one says.
        self.observed |= self.observed_for_others
        for joint in topology.joints:
            self._join(joint)
        for bridge in topology.bridges:
            self._bridge(bridge)
        for aim in topology.aims:
            self._aim(aim)
        for crossing in topology.crossings:
            self._cross(crossing)
        self._leak()

    def potential(self, net: str) -> Number:
        """Potential of a net [V or K]."""
        if net == self.topology.ground:
            return 0.0
        if net == AIR:
            return self.parameters(*AMBIENT)
        if self.topology.isothermal and net in self.topology.thermal_nets:
            return self.parameters(*temperature_name(net))
        return self.x[self.topology.index[net, ""]]

    def add(self, row: int | None, term: Number) -> None:
        """Add a term to a residual; None stands for ground and air, which take anything."""
        if row is not None:
            self.residuals[row] = self.residuals[row] + term
            self.terms[row].append(term)

    def row(self, net: str) -> int | None:
        """The balance of a net, None for ground and air."""
        return self.topology.index.get((net, ""))

    def _join(self, joint: Joint) -> None:
        """A pin on its net: no voltage where the joint is sound, next to no current where open.

        A large conductance would round away the voltages about it, a large resistance its
        current. With the current as an unknown both ends of the scale are exact.
        """
        ref, pin = joint
        index = self.topology.index
        net, node = self.topology.element[ref].pins[pin], index[ref, pin_node(pin)]
        own = index[ref, joint_current(pin)]
        current, resistance = self.x[own], self.parameters(*joint_name(ref, pin))
        self.add(self.row(net), current)
        self.add(node, -current)
        lost = self.potential(net) - self.x[node] - resistance * current
        self.add(own, lost / (1.0 + resistance))

    def _bridge(self, bridge: Bridge) -> None:
        one, other = (self.topology.node_of(end) for end in bridge)
        index = self.topology.index
        voltage = self._at(one) - self._at(other)
        current = voltage * self.parameters(*bridge_name(*bridge))
        self.add(index.get(one), current)
        self.add(index.get(other), -current)

    def _at(self, node: tuple[str, str]) -> Number:
        owner, name = node
        return self.x[self.topology.index[node]] if name else self.potential(owner)

    def _aim(self, aim: Aim) -> None:
        index = self.topology.index[aim.ref, f"solved {aim.input}"]
        u = self.x[index]
        p = self._solver_parameter(aim.ref, aim.input)
        corner = OVERFLOW_CORNER * (aim.high - aim.low)
        overflow = u - clipped(u, aim.low, aim.high, corner)
        reached = self.potential(aim.plus) - self.potential(aim.minus)
        # Beyond its end stop the knob is pulled on by what is missing: one answer always exists.
        missing = reached - p("target") - p("slope") * overflow
        self.add(index, p("solve") * missing + (1.0 - p("solve")) * (u - p("given")))

    def _cross(self, crossing: Crossing) -> None:
        index = self.topology.index[crossing.ref, f"solved {crossing.input}"]
        p = self._solver_parameter(crossing.ref, crossing.input)
        total: Number = 0.0
        for ref, name in crossing.observables:
            weight = self.parameters(SYSTEM, f"weight {crossing.ref}.{crossing.input} {ref}.{name}")
            total = total + weight * self.observed[ref, name]
        total = total - p("solve") * p("target")
        self.add(index, total + (1.0 - p("solve")) * (self.x[index] - p("given")))

    def _solver_parameter(self, ref: str, name: str) -> Callable[[str], Number]:
        return lambda what: self.parameters(SYSTEM, f"{what} {ref}.{name}")

    def _leak(self) -> None:
        """What a board itself adds to each net: leakage, and stray capacitance where wanted."""
        leak = self.parameters(*LEAK)
        # Pins behind joints hang on their nets: sound joints must not add to the leak.
        hanging = {(ref, pin_node(pin)) for ref, pin in self.topology.joints}
        for index, unknown in enumerate(self.topology.unknowns):
            if not unknown.balanced or unknown.unit != "V":
                continue
            if (unknown.owner, unknown.name) not in hanging:
                self.add(index, leak * self.x[index])
            if self.topology.strays:
                amount = STRAY * self.x[index]
                self.storages.append(Storage(unknown.owner, index, None, amount, True))


class _Values:
    """Attribute access to the parameters of one part."""

    __slots__ = ("_assembly", "_ref")

    def __init__(self, assembly: Assembly, ref: str) -> None:
        self._assembly = assembly
        self._ref = ref

    def __getattr__(self, name: str) -> Number:
        solved = self._assembly.solved.get((self._ref, name))
        return self._assembly.parameters(self._ref, name) if solved is None else solved


class PartTerms:
    """`devices.device.Terms` for one part of an assembly."""

    def __init__(self, assembly: Assembly, element: Element, foreign: bool = False) -> None:
        self._assembly = assembly
        self._element = element
        self._observed = assembly.observed_for_others if foreign else assembly.observed
        self.p = _Values(assembly, element.ref)

    @property
    def ambient(self) -> Number:
        return self._assembly.parameters(*AMBIENT)

    @property
    def gain(self) -> Number:
        return self._assembly.parameters(*GAIN)

    @property
    def moving(self) -> bool:
        return self._assembly.topology.moving

    @property
    def time(self) -> Number:
        return self._assembly.parameters(*TIME)

    def _index(self, name: str) -> int | None:
        if self._given(name):
            return None
        own = self._own(name)
        return own if own is not None else self._assembly.row(self._element.pins[name])

    def _own(self, name: str) -> int | None:
        """Row of an own unknown, or of a pin that a joint parts from its net."""
        index, ref = self._assembly.topology.index, self._element.ref
        own = index.get((ref, name))
        return own if own is not None else index.get((ref, pin_node(name)))

    def _given(self, name: str) -> bool:
        unknown = self._element.device.unknowns.get(name)
        return self._assembly.topology.isothermal and unknown is not None and unknown.unit == "K"

    def v(self, pin: str) -> Number:
        if self._given(pin):
            return self._assembly.parameters(*temperature_name(f"{self._element.ref}.{pin}"))
        own = self._own(pin)
        if own is not None:
            return self._assembly.x[own]
        net = self._element.pins.get(pin)
        if net is None:
            return self._loose(pin)
        return self._assembly.potential(net)

    def _loose(self, pin: str) -> Number:
        # A pin on no net carries nothing; it is read as lying on the reference.
        return self.ambient if self._element.device.pins[pin].role == "thermal" else 0.0

    def x(self, unknown: str) -> Number:
        return self._assembly.x[self._assembly.topology.index[self._element.ref, unknown]]

    def flow(self, pin: str, amount: Number) -> None:
        if self._reaches(pin):
            self._assembly.add(self._index(pin), amount)

    def through(self, start: str, end: str, amount: Number) -> None:
        self.flow(start, amount)
        self.flow(end, -amount)

    def zero(self, unknown: str, residual: Number) -> None:
        self._assembly.add(self._index(unknown), residual)

    def charge(self, start: str, end: str, amount: Number, parasitic: bool = False) -> None:
        if self._reaches(start) and self._reaches(end):
            rows = self._index(start), self._index(end)
            leaps = parasitic and self._leaps(start, end)
            self._store(Storage(self._element.ref, *rows, amount, parasitic, leaps))

    def _leaps(self, *pins: str) -> bool:
        """Whether one of the pins leaps in every cycle."""
        leaping = self._assembly.topology.leaping_nets
        return any(self._element.pins.get(pin) in leaping for pin in pins)

    def _store(self, storage: Storage) -> None:
        """Keep a charge or flux, unless it follows at once in this view of the circuit."""
        topology = self._assembly.topology
        if not topology.slow and not (topology.switched and storage.parasitic):
            self._assembly.storages.append(storage)

    def heat(self, node: str, amount: Number) -> None:
        row = self._index(node) if self._reaches(node) else None
        if row is not None:
            self._assembly.storages.append(Storage(self._element.ref, row, None, amount))

    def _reaches(self, pin: str) -> bool:
        own = self._assembly.topology.own_unknowns(self._element)
        return pin in own or pin in self._element.pins or self._given(pin)

    def flux(self, unknown: str, amount: Number) -> None:
        index = self._assembly.topology.index[self._element.ref, unknown]
        self._store(Storage(self._element.ref, None, index, amount))

    def event(self, guard: Number, **changes: Number) -> None:
        named = {(self._element.ref, name): value for name, value in changes.items()}
        self._assembly.events.append(Event(guard, named))

    def pace(self, longest: Number) -> None:
        self._assembly.paces.append(longest)

    def signal(self, name: str, amount: Number) -> Number:
        signals = self._assembly.signals
        mark = getattr(amount, "marked", None)
        signals[self._element.ref, name] = amount if mark is None else mark(len(signals))
        return signals[self._element.ref, name]

    def noise(self, start: str, end: str, density: Number, corner: Number = 0.0) -> None:
        if self._reaches(start) and self._reaches(end):
            rows = self._index(start), self._index(end)
            self._assembly.noises.append(Noise(self._element.ref, *rows, density, corner))

    def noise_in(self, unknown: str, density: Number, corner: Number = 0.0) -> None:
        row = self._index(unknown)
        self._assembly.noises.append(Noise(self._element.ref, row, None, density, corner))

    def observe(self, name: str, amount: Number) -> None:
        self._observed[self._element.ref, name] = amount

    def connected(self, pin: str) -> bool:
        return pin in self._element.pins

    def option(self, name: str) -> str:
        return self._element.options[name]

    def linked(self, name: str) -> Terms | None:
        ref = self._element.links.get(name)
        if ref is None:
            return None
        return PartTerms(self._assembly, self._assembly.topology.element[ref], foreign=True)


def magnitude(assembly: Assembly, row: int) -> Number:
    """The measure for a row's residual: the flows that it balances, or 1 for an own equation.

    Own equations are stated in volts, amperes or shares of order 1.
    """
    if not assembly.topology.unknowns[row].balanced:
        return 1.0
    total: Number = LEAST_FLOW
    for term in assembly.terms[row]:
        total = total + abs(term)
    return total


def observables(topology: Topology) -> Mapping[tuple[str, str], str]:
    """(ref, observable) -> unit, for all that the parts declare."""
    return {
        (e.ref, name): unit for e in topology.elements for name, unit in e.device.observes.items()
    }
