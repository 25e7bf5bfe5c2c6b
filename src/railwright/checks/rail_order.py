"""Rail order: what pins see while some rails are up and others are not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from railwright.checks.check import WiringAnswer, WiringCheck, WiringFault
from railwright.checks.nets import NEAR, fed_nets, near, pins_of_role, returns
from railwright.circuit.circuit import Circuit, Part
from railwright.devices.linear_regulator import LinearRegulator
from railwright.devices.logic import LogicCircuit
from railwright.devices.low_dropout_regulator import LowDropoutRegulator
from railwright.quantity import show
from railwright.surveys.fixture import terminals
from railwright.surveys.situations import AS_SET
from railwright.surveys.survey import Survey

BACKWARDS = 7.0
"""V; beyond it the output of a regulator discharges into its input by a junction that breaks down
(78xx types: tips of makers, 7 V)."""
HARMLESS = 25e-6
"""F; so much may discharge through a regulator (datasheet of the 317 type, from memory)."""
WITH_DIODE_INSIDE = 1e-3
"""F; so much may discharge through one of little dropout, which has a diode inside (datasheet of
the 1086 type, from memory)."""
LITTLE_DROPOUT = 1.6
"""V; of such a one: NPN regulators of full dropout need 1.7 V and more."""
CLAMP_CURRENT = 10e-3
"""A; the most into an input beyond its rails: limiting values, 4000 series (from memory)."""
CLAMP = 0.6
"""V; of the diode from an input to its supply."""
FAR = 10e6
"""Ω; a way through more than this carries no current that matters."""


class RailOrder(WiringCheck):
    """Each rail may come up later, and go down sooner, than those that it does not feed.

    A low-dropout regulator blocks, or leads back through a diode inside, of which no limit is
    published. Inputs of comparators and of amplifiers with bipolar inputs stand what their supply
    may be, whether they have it or not.
    """

    id = "wiring.rail-order"
    question = "Does every pin stand each order in which rails come up and go down?"
    source = (
        "7 V of output above input, tips of makers of 78xx types; 25 µF through a regulator, "
        "datasheet of the 317 type; 10 mA into an input, 4000 series (from memory)"
    )
    analysis = (
        "Of every linear regulator: its output is at most 7 V above an input at 0 V, or a diode "
        "leads back, or its output has at most 25 µF (1 mF where its dropout is below 1.6 V: then "
        "it has a diode inside), or its input has at least as much as its output and no load "
        "feeds back. A low-dropout type stands it where it blocks; where it does not, and has no "
        "such diode and more at its output, that is not proven. Of every input of a CMOS circuit "
        "whose supply is down: from each rail that may be up by then at most 10 mA come through "
        "the resistances on the way."
    )
    example = (
        "A rail of 12 V with 1000 µF and no diode back to the input: when the input is shorted, "
        "`12 V - 0 V = 12 V` discharge through the regulator. A gate on 5 V with a pull-up of "
        "1 kΩ to 12 V takes `(12 V - 0.6 V) / 1 kΩ = 11.4 mA` while its own rail is not up yet."
    )
    good = "Every pin stands it when rails come up and go down in another order."
    order = 13

    def look(self, survey: Survey) -> WiringAnswer:
        circuit = survey.fixture.circuit
        regulators = [p for p in circuit.parts if isinstance(p.device, LinearRegulator)]
        # Of pins on the same net one tells all.
        inputs = {
            (part.ref, part.pins[pin]): pin
            for part, pin in reversed(pins_of_role(circuit, "logic-input"))
            if isinstance(part.device, LogicCircuit) and "supply" in part.pins
        }
        faults = [fault for part in regulators for fault in _backwards(survey, part)]
        for (ref, _), pin in inputs.items():
            faults += _clamped(survey, circuit.part(ref), pin)
        looked = [*(part.ref for part in regulators), *(ref for ref, _ in inputs)]
        return WiringAnswer(list(dict.fromkeys(looked)), faults)


def _backwards(survey: Survey, part: Part) -> Iterator[WiringFault]:
    """What the output of a linear regulator does to it while its input is down."""
    circuit = survey.fixture.circuit
    if not {"input", "output"} <= part.pins.keys():
        return
    low_dropout = isinstance(part.device, LowDropoutRegulator)
    if low_dropout and part.values["reverse_conductance"].spread.high == 0.0:
        return
    ahead, behind = (near(circuit, [part.pins[pin]], NEAR) for pin in ("input", "output"))
    rails, capacitors = _rails_at(survey, behind), _capacitors(survey, behind)
    feeding = [rail for rail in rails if _feeds_back(survey, rail)]
    held = sum(capacitors.values()) + _brought(survey, rails)
    has_diode = low_dropout or part.values["dropout"].spread.typical < LITTLE_DROPOUT
    stands = WITH_DIODE_INSIDE if has_diode else HARMLESS
    if not feeding and (held <= stands or held <= sum(_capacitors(survey, ahead).values())):
        return
    if _leads_back(circuit, part, behind, ahead):
        return
    what = f"the load of {feeding[0]}" if feeding else f"{show(held, 'F')} at its output"
    if low_dropout:
        text = (
            f"When the input of {part.ref} is down, {what} discharges through the diode inside "
            "it; how much that stands is not known, and no other leads past it."
        )
        yield WiringFault(part.ref, text, proven=False)
        return
    brought = [survey.fixture.rails[rail].brought or 0.0 for rail in feeding]
    volts = max([_highest(survey, part.pins["output"], part.device.negative), *brought])
    if np.isnan(volts):
        text = f"The voltage that {part.ref} must stand backwards could not be solved."
        yield WiringFault(part.ref, text, proven=False)
    elif volts > BACKWARDS:
        text = (
            f"When the input of {part.ref} is down, {what} still holds {show(volts, 'V')}, which "
            f"discharge backwards through {part.ref}; it stands {show(BACKWARDS, 'V')}. No diode "
            f"leads from {part.pins['output']} back to {part.pins['input']}."
        )
        holds = [(ref, "capacitance") for ref in capacitors]
        yield WiringFault(part.ref, text, [*holds, (part.ref, "output")])


def _rails_at(survey: Survey, nets: Iterable[str]) -> list[str]:
    rails = survey.fixture.rails.items()
    there = set(nets)
    return [name for name, o in rails if {terminals(o).plus, terminals(o).minus} & there]


def _feeds_back(survey: Survey, rail: str) -> bool:
    return survey.fixture.rails[rail].brought is not None


def _capacitors(survey: Survey, nets: Iterable[str]) -> Mapping[str, float]:
    """Capacitors from these nets to elsewhere -> their marked values [F], the greatest first."""
    there = set(nets)
    found = {
        part.ref: part.values["capacitance"].spread.typical
        for part in survey.fixture.circuit.parts
        if part.kind == "capacitor" and len(there & set(part.pins.values())) == 1
    }
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def _brought(survey: Survey, rails: Iterable[str]) -> float:
    """Capacitance that the loads of rails bring at most [F]."""
    ranges = [load.capacitance for rail in rails for load in survey.fixture.rails[rail].load]
    return max((r.max for r in ranges if r is not None), default=0.0)


def _leads_back(circuit: Circuit, part: Part, behind: Iterable[str], ahead: Iterable[str]) -> bool:
    """Whether a diode leads past a regulator, from its output to its input."""
    start, end = (ahead, behind) if part.device.negative else (behind, ahead)
    starts, ends = set(start), set(end)
    return any(
        each.pins.get("anode") in starts and each.pins.get("cathode") in ends
        for each in circuit.parts
        if each.kind == "diode"
    )


def _highest(survey: Survey, net: str, negative: bool = False) -> float:
    """Highest voltage of a net against 0 V over the range; of a negative one its amount [V]."""
    at = survey.once(AS_SET.typical).at
    volts = at.potential(net)
    return float(np.max(-volts if negative else volts)) if at.solved.all() else float("nan")


def _clamped(survey: Survey, part: Part, pin: str) -> Iterator[WiringFault]:
    """What drives an input from other rails while its own supply is down."""
    circuit = survey.fixture.powered
    own = part.pins["supply"]
    down = _down_with(circuit, own)
    drivers = _drivers(circuit, down)
    stops = frozenset((*drivers, *down, *returns(survey.fixture.design.need))) - {part.pins[pin]}
    ways = near(circuit, [part.pins[pin]], FAR, stops)
    for net in sorted(drivers.keys() & ways.keys()):
        rail, inside = drivers[net]
        ohms = inside + sum(circuit.part(r).values["resistance"].spread.low for r in ways[net])
        volts = _highest(survey, rail) - CLAMP
        if np.isnan(volts):
            text = f"The voltage of {rail}, which drives {part.ref}, could not be solved."
            yield WiringFault(part.ref, text, proven=False)
        elif volts > CLAMP_CURRENT * ohms:
            through = f" through {', '.join(ways[net])}" if ways[net] else ""
            text = (
                f"While {own} is not up, {net} can drive pin {pin} of {part.ref}{through} beyond "
                f"its supply: more than {show(CLAMP_CURRENT, 'A')} flow into it."
            )
            resistors = [(ref, "resistance") for ref in ways[net]]
            yield WiringFault(part.ref, text, [*resistors, (part.ref, pin)])


def _drivers(circuit: Circuit, down: frozenset[str]) -> dict[str, tuple[str, float]]:
    """Nets that something drives while others are down -> its rail, its own resistance [Ω]."""
    found = {net: (net, 0.0) for net in fed_nets(circuit) - down}
    for part, pin in pins_of_role(circuit, "output"):
        rail = part.pins.get("supply")
        if rail is not None and rail not in down and part.pins[pin] not in down:
            inside = 0.0
            if isinstance(part.device, LogicCircuit):
                values = (part.values[n] for n in ("output_resistance", "high_resistance_ratio"))
                inside = float(np.prod([value.spread.low for value in values]))
            found.setdefault(part.pins[pin], (rail, inside))
    return found


def _down_with(circuit: Circuit, supply: str) -> frozenset[str]:
    """Nets that are down while a supply is: what feeds it, and all rails made from those."""
    fed = fed_nets(circuit)
    own = set(near(circuit, [supply], NEAR))
    if fed.isdisjoint(own):
        own |= near(circuit, [supply], FAR, fed).keys() & fed
    return _fed_by(circuit, own)


def _fed_by(circuit: Circuit, nets: Iterable[str]) -> frozenset[str]:
    """Nets that are down while these are: they themselves, and all rails made from them."""
    down = set(nets)
    while True:
        more = {
            part.pins[pin]
            for part, pin in pins_of_role(circuit, "power-output")
            if part.pins.get("input") in down
        }
        if more <= down:
            return frozenset(down)
        down |= {net for start in more for net in near(circuit, [start], NEAR)}
