"""Wiring: faults in how the parts are joined, found before anything is solved."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from railwright.checks.check import Mend, WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import DRIVING, fed_nets, pins_of_role, reached
from railwright.circuit.circuit import Circuit, Part
from railwright.devices.device import Link, Role
from railwright.quantity import show
from railwright.surveys.courses import contacts
from railwright.surveys.fixture import terminals
from railwright.surveys.survey import Survey

INPUTS: tuple[Role, ...] = (
    "logic-input", "plus", "minus", "input", "enable", "feedback", "adjust", "gate",
)  # fmt: skip
FEEDING: tuple[Role, ...] = (
    "power-output",
    "switch",
    "emitter",
    "collector",
    "source",
    "drain",
    "output",
)
INSULATED: tuple[Role, ...] = ("logic-input", "gate")
"""Inputs that take no current: what an open switch leaves alone stays at any level."""
SUPPLIES = ("supply", "ground")
"""Pins of a part between which its inputs find their levels."""
PULL_UP = 10e3
"""Ω; what other questions assume where a pull-up is missing (common practice, no source)."""
TIE = 10e3
"""Ω; how a floating input is tied for the other questions."""


def _ground(survey: Survey) -> str:
    return survey.fixture.ground


def _on_mains(survey: Survey) -> set[str]:
    """Nets from which current can reach an input that alternates, short of its transformer."""
    if not survey.fixture.alternating:
        return set()
    nets, circuit = terminals(survey.fixture.design.need.input), survey.fixture.at_rest
    return {n for end in (nets.plus, nets.minus) for n in reached(circuit, end, True, frozenset())}


class OpenPin(WiringCheck):
    """Every pin that a part needs lies on a net, and every net joins at least two things."""

    id = "wiring.open-pin"
    question = "Is every pin connected that must be?"
    source = "pin roles of the kinds; common practice, no source"
    analysis = (
        "Every pin that is not optional, and no output or thermal one, must be on a net, and that "
        "net must join at least two pins, terminals of the need included. Its causes are parts "
        "that pass by an end which leads nowhere, first those that alone lead on to a terminal."
    )
    example = (
        "The ground pin of U1 on GDN, where all others are on GND: nothing else is on GDN, so U1 "
        "falls short."
    )
    good = "Every pin that must be connected is."

    def look(self, survey: Survey) -> WiringAnswer:
        own = survey.fixture.circuit
        return WiringAnswer([p.ref for p in own.parts], list(self._faults(survey)))

    def _faults(self, survey: Survey) -> Iterator[WiringFault]:
        circuit, own = survey.fixture.powered, survey.fixture.circuit
        need = survey.fixture.design.need
        ends = [terminals(need.input), *(terminals(output) for output in need.output)]
        outside = {n for e in ends for n in (e.plus, e.minus)} - {_ground(survey)}
        for part in own.parts:
            for pin, declared in part.device.pins.items():
                if declared.role in ("output", "open-collector", "thermal"):
                    continue
                net = part.pins.get(pin)
                if net is None and not declared.optional:
                    text = f"Pin {pin} of {part.ref} is not connected to any net."
                    yield WiringFault(part.ref, text)
                elif net is not None and len(circuit.on_net(net)) < 2:
                    text = f"Nothing else is on the net {net} of pin {pin} of {part.ref}."
                    alone, others = _passing_by(own, part, pin, outside)
                    if alone:
                        text = f"{text} {' or '.join(alone)}, which passes it by, may belong there."
                    yield WiringFault(part.ref, text, [(ref, "") for ref in (*alone, *others)])


def _passing_by(
    circuit: Circuit, part: Part, pin: str, outside: Collection[str]
) -> tuple[list[str], list[str]]:
    """Parts that lead on from the other end of one that leads nowhere: they may pass it by.

    Those that alone lead on to a terminal outside, first such as have the fewest pins (a wire or a
    fuse has no other business); and all others.
    """
    ends = {
        part.pins[other]
        for pair in part.device.conducts
        for other in pair
        if pin in pair and other != pin and other in part.pins
    }
    beside = [
        (_lead_on(circuit, net, other, outside), len(other.pins), other.ref)
        for net in sorted(ends)
        for other, _ in circuit.on_net(net)
        if other is not part and other.device.conducts
    ]
    alone = [ref for leads, _, ref in sorted(beside, key=lambda each: each[1]) if leads]
    return alone, [ref for leads, _, ref in beside if not leads]


def _lead_on(circuit: Circuit, net: str, part: Part, outside: Collection[str]) -> bool:
    """Whether some terminal outside is joined with a net by this part alone."""
    with_it = reached(circuit, net, True, frozenset())
    without = reached(circuit.without(part.ref), net, True, frozenset())
    return bool((with_it - without) & set(outside))


class DirectPath(WiringCheck):
    """Without a path for direct current a net's voltage is set by leakage alone.

    What hangs on alternating mains alone is none of it: those have an earth of their own.
    """

    id = "wiring.dc-path"
    question = "Has every net a path for direct current to 0 V?"
    source = "Kirchhoff's current law: a net without a path has no defined voltage"
    analysis = (
        "From 0 V, the source's lower terminal, all nets are followed that parts conduct direct "
        "current to, inside of active parts as well. A net of two pins or more that is not "
        "reached and that no output drives falls short; for the other questions it is tied to 0 V "
        "by 10 kΩ."
    )
    example = (
        "A net between two capacitors in series has no path: what divides the voltage is their "
        "leakage. A resistor across each, drawing ten times the leakage, mends it."
    )
    good = "Every net has a path for direct current to 0 V."
    order = 1

    def look(self, survey: Survey) -> WiringAnswer:
        circuit = survey.fixture.at_rest
        grounded = reached(circuit, _ground(survey), True, frozenset()) | _on_mains(survey)
        looked, faults = [], []
        for net in survey.fixture.circuit.nets:
            looked.append(net)
            driven = any(p.device.pins[pin].role in DRIVING for p, pin in circuit.on_net(net))
            if net not in grounded and not driven and len(circuit.on_net(net)) > 1:
                names = ", ".join(part.ref for part, _ in circuit.on_net(net))
                text = f"The net {net} ({names}) has no path for direct current to 0 V."
                mend = Mend(f"{net} tied to 0 V", (net, _ground(survey), TIE))
                faults.append(WiringFault(circuit.on_net(net)[0][0].ref, text, (), mend))
        return WiringAnswer(looked, faults)


class PullUp(WiringCheck):
    """An open collector can only pull down; something else must pull up."""

    id = "wiring.pull-up"
    question = "Has every open collector a pull-up?"
    source = "open-collector outputs, datasheets of comparators; common practice, no source"
    analysis = (
        "From each open collector, nets are followed through resistors, coils, diodes and the "
        "like up to nets which a source or regulator feeds, or to 0 V. Where no fed net is "
        "reached, no pull-up is there; the other questions assume one of 10 kΩ."
    )
    example = (
        "A comparator with an open collector whose output goes to a gate's input alone stays low "
        "whatever it decides; 10 kΩ to the gate's supply of 5 V draw `5 V / 10 kΩ = 0.5 mA` and "
        "mend it."
    )
    good = "Every open collector is pulled up."
    order = 2

    def look(self, survey: Survey) -> WiringAnswer:
        circuit = survey.fixture.at_rest
        looked, faults, done = [], [], set()
        for part, pin in pins_of_role(circuit, "open-collector"):
            net = part.pins[pin]
            looked.append(part.ref)
            if part.options.get("output") == "push-pull" or net in done:
                continue
            if not self._pulled(circuit, net, _ground(survey)):
                done.add(net)
                faults.append(self._fault(circuit, part, pin))
        return WiringAnswer(looked, faults)

    def _pulled(self, circuit: Circuit, net: str, ground: str) -> bool:
        nets = reached(circuit, net, False, fed_nets(circuit) | {ground})
        return bool(nets & fed_nets(circuit))

    def _fault(self, circuit: Circuit, part: Part, pin: str) -> WiringFault:
        net = part.pins[pin]
        supply = self._supply(circuit, net) or part.pins.get("supply", "")
        text = (
            f"The open collector of {part.ref} on {net} can only pull down, and nothing pulls "
            f"{net} up: it stays low whatever {part.ref} decides. "
            f"A resistor of about {show(PULL_UP, 'Ω')} to {supply or 'a supply'} is missing."
        )
        words = f"a pull-up of {show(PULL_UP, 'Ω')} from {net} to {supply}"
        mend = Mend(words, (net, supply, PULL_UP)) if supply else None
        return WiringFault(part.ref, text, ((part.ref, pin),), mend)

    def _supply(self, circuit: Circuit, net: str) -> str:
        for other, pin in circuit.on_net(net):
            if other.device.pins[pin].role == "logic-input" and "supply" in other.pins:
                return other.pins["supply"]
        return ""


class FloatingInput(WiringCheck):
    """An input that nothing drives takes any level."""

    id = "wiring.floating-input"
    question = "Is every input of a gate, amplifier or comparator driven?"
    source = "4000-series and comparator datasheets: inputs must not float"
    analysis = (
        "From each input or gate, nets are followed through passive parts; from inputs that take "
        "no current, through no switch or button, which may be open. One of them must be fed, be "
        "0 V or a supply of the part itself, or lie on an output or a transistor's terminal."
    )
    example = (
        "The unused input of a two-input gate on a net of its own falls short; tied to the supply "
        "or to the other input it holds."
    )
    good = "Every input is driven."
    order = 3

    def look(self, survey: Survey) -> WiringAnswer:
        circuit = opened = survey.fixture.at_rest
        for ref in contacts(survey):
            opened = opened.without(ref)
        looked, faults, done = [], [], set()
        for part, pin in pins_of_role(circuit, *INPUTS):
            looked.append(part.ref)
            net = part.pins[pin]
            around = opened if part.device.pins[pin].role in INSULATED else circuit
            own = {part.pins[p] for p in SUPPLIES if p in part.pins}
            if net not in done and not self._driven(around, net, own | {_ground(survey)}):
                done.add(net)
                text = f"Nothing drives the net {net} at pin {pin} of {part.ref}: it floats."
                mend = Mend(f"{net} tied to 0 V", (net, _ground(survey), TIE))
                faults.append(WiringFault(part.ref, text, ((part.ref, pin),), mend))
        return WiringAnswer(list(dict.fromkeys(looked)), faults)

    def _driven(self, circuit: Circuit, net: str, firm: Collection[str]) -> bool:
        known = fed_nets(circuit).union(firm)
        nets = reached(circuit, net, False, known)
        if nets & known:
            return True
        roles = {"collector", "emitter", "base", "drain", "source", *DRIVING}
        return any(p.device.pins[pin].role in roles for n in nets for p, pin in circuit.on_net(n))


class Unpowered(WiringCheck):
    """An integrated circuit needs its supply pin on a rail and its ground pin on the return.

    0 V is the source's lower terminal. A negative regulator may be fed from there, and its return
    may be a rail; that its input lies below its ground is a matter of its headroom.
    """

    id = "wiring.unpowered"
    question = "Is every integrated circuit connected to a supply and to its return?"
    source = "common practice, no source"
    analysis = (
        "Supply pins must be reached from a net that something feeds, ground pins from 0 V, "
        "through passive parts; a negative regulator's ground may be a rail."
    )
    example = (
        "An amplifier whose supply pin is on 5VA, a net that nothing feeds since its bead was "
        "left out, falls short; with the bead it holds."
    )
    good = "Every integrated circuit is connected to a supply and to its return."
    order = 4

    def look(self, survey: Survey) -> WiringAnswer:
        circuit = survey.fixture.at_rest
        ground = _ground(survey)
        rails = fed_nets(circuit) | {ground}
        looked, faults = [], []
        for part, pin in pins_of_role(circuit, "supply", "power-input"):
            if part.ref.startswith("need."):
                continue
            looked.append(part.ref)
            feeding = self._feeding(circuit) | (rails if part.device.negative else set())
            if not feeding & reached(circuit, part.pins[pin], False, rails):
                text = f"Pin {pin} of {part.ref} is on {part.pins[pin]}, which nothing feeds."
                faults.append(WiringFault(part.ref, text))
        for part, pin in pins_of_role(circuit, "ground"):
            if part.ref.startswith("need."):
                continue
            home = rails if part.device.negative else {ground}
            if not home & reached(circuit, part.pins[pin], False, frozenset()):
                text = f"Pin {pin} of {part.ref} is on {part.pins[pin]}, which has no way to 0 V."
                faults.append(WiringFault(part.ref, text))
        return WiringAnswer(list(dict.fromkeys(looked)), faults)

    def _feeding(self, circuit: Circuit) -> frozenset[str]:
        return frozenset(part.pins[pin] for part, pin in pins_of_role(circuit, *FEEDING))


class SwitchLoop(WiringCheck):
    """What switches works with the parts that its switch pins need beside them."""

    id = "wiring.switch-loop"
    question = (
        "Has every switching regulator its coil and its freewheel diode, the right way round, and "
        "every charge pump its capacitors?"
    )
    source = "Erickson and Maksimovic, Fundamentals of Power Electronics, chapter 2"
    analysis = (
        "The links that a switching regulator's kind declares are looked for at its switch pin: a "
        "coil to its output, a freewheel diode (or the synchronous switch in its stead) with the "
        "right end there, or behind a coupling capacitor. A charge pump wants a capacitor between "
        "its switches and one at its output."
    )
    example = (
        "A step-down regulator whose freewheel diode has its anode at the switch pin and its "
        "cathode on 0 V shorts each pulse, and its coil has no way to go on: falls short, the "
        "diode is missing."
    )
    good = "Whatever switches has the parts that its switch pins need."
    order = 5

    def look(self, survey: Survey) -> WiringAnswer:
        looked, faults = [], []
        elements = survey.model.topology.element
        for part in survey.fixture.circuit.parts:
            for name in part.device.needed_links(part.options):
                looked.append(part.ref)
                if name not in elements[part.ref].links:
                    text = f"{part.ref} has no {name} at its {part.device.links[name].at} pin."
                    causes = _astray(survey, part, part.device.links[name])
                    faults.append(WiringFault(part.ref, text, causes))
        return WiringAnswer(list(dict.fromkeys(looked)), faults)


def _astray(survey: Survey, part: Part, link: Link) -> list[tuple[str, str]]:
    """Parts of the wanted kind near by that belong to no other: one of them is meant."""
    linked = {ref for e in survey.model.topology.elements for ref in e.links.values()}
    nets = set(part.pins.values())
    return [
        (other.ref, next(iter(other.pins)))
        for other in survey.fixture.circuit.parts
        if other.kind in link.kinds and other.ref not in linked and nets & set(other.pins.values())
    ]
