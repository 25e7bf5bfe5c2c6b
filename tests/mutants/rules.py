"""Written rules for what no simulation decides: each is one row here, with its source.

A rule looks at a circuit and tells how far it is from its published limit, as a share of it;
below nil it is broken. Nothing here asks the tool's own checks.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from mutants.boards import CATALOGUE

from railwright.circuit.circuit import Circuit, Part
from railwright.circuit.design import Design
from railwright.surveys.fixture import Fixture

TOUCH = {
    "metal": (48.0, 51.0, 60.0, 70.0),
    "glass": (48.0, 56.0, 71.0, 85.0),
    "plastic": (48.0, 60.0, 77.0, 94.0),
}
"""°C; hottest surfaces to be held, held briefly, touched occasionally and by chance, in air of
25 °C: IEC 62368-1, table 38, class TS1 (from memory)."""
TOUCHED = ("held or worn", "held briefly", "touched occasionally", "touched by chance")
JOINED = 1.0
"""Ω; what lies behind less than this is at the same place."""


@dataclass(frozen=True)
class Ruled:
    """What a rule says of one subject."""

    rule: str
    subject: str
    reserve: float
    value: float = 0.0
    limit: float = 0.0


def touch(design: Design) -> float | None:
    """Hottest that a hand may find what it can reach, in air of 25 °C [K]; None: nothing said."""
    said = design.need.surroundings.touch_limit
    if said is None or design.enclosure is not None:
        return None
    material, manner = (word.strip() for word in said.split(","))
    return TOUCH[material][TOUCHED.index(manner)] + 273.15


def places(circuit: Circuit) -> Mapping[str, str]:
    """Net -> one name for all nets that wires, terminals and fuses join to it."""
    home = {net: net for net in circuit.nets}

    def root(net: str) -> str:
        while home[net] != net:
            net = home[net]
        return net

    for part in circuit.parts:
        if part.kind in ("wire", "terminal", "fuse", "resistor") and len(part.pins) >= 2:
            value = part.values.get("resistance")
            ends = list(part.pins.values())[:2]
            if value is not None and value.spread.high < JOINED and ends[0] in home:
                home[root(ends[0])] = root(ends[1])
    return {net: root(net) for net in home}


def open_pins(design: Design) -> Iterator[Ruled]:
    powered = Fixture.of(design).powered
    for part in design.circuit.parts:
        for pin, declared in part.device.pins.items():
            if declared.role in ("output", "open-collector", "thermal"):
                continue
            net = part.pins.get(pin)
            alone = net is not None and len(powered.nets.get(net, ())) < 2
            if (net is None and not declared.optional) or alone:
                yield Ruled("open pin", f"{part.ref}.{pin}", -1.0)


def no_sink(design: Design) -> Iterator[Ruled]:
    for net, ends in design.circuit.thermal_nets.items():
        if net != "AMBIENT" and len(ends) == 1 and design.circuit.part(ends[0][0]).kind in (
            "insulator", "heat-sink"
        ):  # fmt: skip
            yield Ruled("thermal path", ends[0][0], -1.0)


def windows(design: Design) -> Iterator[Ruled]:
    circuit = design.circuit
    at = places(Fixture.of(design).powered)
    home = design.need.input.nets
    assert home is not None
    for part in circuit.parts:
        for name, known in part.windows.items():
            window = part.device.windows[name]
            if window.quantity != "capacitance" or any(p not in part.pins for p in window.pins):
                continue
            first, last = window.pins[0], window.pins[-1]
            start = _beyond(circuit, part, first) if window.beyond else part.pins[first]
            end = part.pins[last] if last != first else home.minus
            if start is None:
                continue
            # The return of the supply is the terminal that both sides share, or either.
            returns = [end] if last != first else [home.minus, home.plus]
            ends = [{at.get(start, start), at.get(each, each)} for each in returns]
            whole = sum(
                c.values["capacitance"].spread.typical
                for c in circuit.parts
                if c.kind == "capacitor" and {at[n] for n in c.pins.values()} in ends
            )
            for bound, sense in ((known.minimum, 1.0), (known.maximum, -1.0)):
                if bound is not None and bound > 0 and not window.or_else:
                    reserve = sense * (whole - bound) / bound
                    # On the spot of a published least value there is no reserve to want.
                    yield Ruled("published window", f"{part.ref} {name}",
                                1.0 if 0 <= reserve < 0.2 else reserve, whole, bound)  # fmt: skip


def _beyond(circuit: Circuit, part: Part, pin: str) -> str | None:
    for other, its in circuit.on_net(part.pins[pin]):
        if other.kind == "inductor":
            return next(n for p, n in other.pins.items() if p != its)
    return None


def decoupling(design: Design) -> Iterator[Ruled]:
    circuit = design.circuit
    at = places(circuit)
    for part in circuit.parts:
        roles = {part.device.pins[pin].role: pin for pin in part.pins}
        if part.device.windows or not {"supply", "ground"} <= roles.keys():
            continue
        ends = {at[part.pins[roles[r]]] for r in ("supply", "ground")}
        found = [
            c for c in circuit.parts
            if c.kind == "capacitor" and {at[n] for n in c.pins.values()} == ends
            and c.values["capacitance"].spread.typical >= 10e-9
        ]  # fmt: skip
        yield Ruled("decoupling", part.ref, 1.0 if found else -1.0)


def switch_loops(design: Design) -> Iterator[Ruled]:
    elements = Fixture.of(design).model.topology.element
    for part in design.circuit.parts:
        for name in part.device.needed_links(part.options):
            if name not in elements[part.ref].links:
                yield Ruled("switch loop", part.ref, -1.0)


def pin_order(design: Design) -> Iterator[Ruled]:
    for part in design.circuit.parts:
        if part.use:
            for pin, terminal in part.terminals.items():
                if CATALOGUE[part.use].pins.get(pin) != terminal:
                    yield Ruled("pin order", part.ref, -1.0)


RULES: Mapping[str, tuple[Callable[[Design], Iterator[Ruled]], str]] = {
    "open pin": (open_pins, "pins of the kinds; an input must not float, a pin must be joined: "
                 "datasheets of the 4000 series and of comparators"),
    "thermal path": (no_sink, "a heat sink or a pad cools what it touches: JESD51-1"),
    "published window": (windows, "windows of the catalogue's rows, each with its source"),
    "decoupling": (decoupling, "datasheets of logic, comparators and amplifiers ask for one "
                   "across the supply; common practice, no source"),
    "switch loop": (switch_loops, "Erickson and Maksimovic, Fundamentals of Power Electronics, 2"),
    "pin order": (pin_order, "terminals of the catalogue's row, each with its package"),
}  # fmt: skip
"""Rule -> what decides it, and its source."""


def ruled(design: Design) -> list[Ruled]:
    """What all rules say of a design."""
    return [found for rule, _ in RULES.values() for found in rule(design)]
