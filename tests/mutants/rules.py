"""Written rules for what no simulation decides: each is one row here, with its source.

A rule looks at a circuit and tells how far it is from its published limit, as a share of it;
below nil it is broken. Nothing here asks the tool's own checks.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from mutants.boards import CATALOGUE
from numpy.typing import NDArray

from railwright.circuit.circuit import Circuit, Part
from railwright.circuit.design import Design
from railwright.surveys.fixture import Fixture

TOUCH = {"metal": (48.0, 51.0, 60.0, 70.0), "glass": (48.0, 56.0, 71.0, 85.0),
         "plastic": (48.0, 60.0, 77.0, 94.0)}  # fmt: skip
"""°C; hottest surfaces to be held, held briefly, touched occasionally and by chance, in air of
25 °C: IEC 62368-1, table 38, class TS1 (from memory)."""
TOUCHED = ("held or worn", "held briefly", "touched occasionally", "touched by chance")
AT_MAINS = ((200e-6, 0.4), (600e-6, 0.5), (2000e-6, 0.6), (4400e-6, 0.75), (math.inf, 0.85))
"""Capacitances up to which, and shares of the rated ripple current at 100 Hz: frequency
coefficients of low-impedance electrolytic series (from memory)."""
UNKNOWN = -0.005
"""Reserve of what is neither kept nor broken for certain."""
REJECTS = (("78L", 37.0), ("78", 54.0))
"""dB; least ripple rejection at 120 Hz that datasheets promise of regulators of 12 and 15 V, by how
their names begin (from memory)."""
PULSES = 0.29
"""Of its melting integral a fuse withstands ten thousand times: makers' notes (from memory)."""
FULL = 1.2
"""Times the flux at which 30 % of its inductance is lost, a core of iron takes no more (from
memory)."""
EXTRA_LOW = 50.0
"""V effective; above it alternating voltage is dangerous: IEC 61140 (from memory)."""
OPENS = 2.1
"""Times its rating opens a fuse: IEC 60127-2, sheet 3."""
MUCH_LESS = 0.1
"""Of the largest capacitor's capacitance."""
BACKWARDS = "fixed-regulator", "adjustable-regulator", "negative-adjustable-regulator"
STANDS, HOLDS = 7.0, 25e-6
"""V of output above input, and F at an output: up to these a regulator needs no diode: tips of
makers of the 78xx types and datasheet of the 317 type (from memory)."""
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


def mains_share(farads: float) -> float:
    """Share of an electrolytic's rated ripple, of 100 kHz, that is allowed at 100 Hz."""
    return next(share for most, share in AT_MAINS if farads < most)


def rejection(part: Part) -> float | None:
    """Least ripple rejection of a regulator at 120 Hz [dB]; None where none is promised."""
    known = (least for begins, least in REJECTS if (part.use or "").startswith(begins))
    return next(known, None) if part.kind == "fixed-regulator" else None


def switched(
    part: Part, times: NDArray[np.float64], amperes: NDArray[np.float64]
) -> Iterator[Ruled]:
    """A fuse or a rectifier in what flows after switching on."""
    if part.kind == "fuse":
        melts, integral = (
            part.values[name].spread.typical for name in ("melting_current", "melting_integral")
        )
        heat, hottest, tau = 0.0, 0.0, integral / melts**2
        for passed, share in zip(np.diff(times), (amperes[1:] / melts) ** 2, strict=True):
            heat += passed * (share - heat) / tau
            hottest = max(hottest, heat)
        yield Ruled("switching on", part.ref, _withstood(hottest), hottest, 1.0)
    elif "surge_current" in part.values:
        limit, peak = part.values["surge_current"].spread.typical, float(amperes.max())
        yield Ruled("surge", part.ref, (limit - peak) / limit, peak, limit)


def _withstood(heat: float) -> float:
    """Reserve of a fuse in a share of its melting integral, in the worst of all pulses.

    It opens beyond all of it; what few of the pulses reach does not wear it out either, so that
    between what it stands ten thousand times and that nothing is known.
    """
    if heat > 1.0:
        return 1.0 - heat
    return (PULSES - heat) / PULSES if heat < PULSES else UNKNOWN


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


def series_resistance(design: Design) -> Iterator[Ruled]:
    """Resistance of all that is capacitance enough where a regulator wants some of it."""
    circuit, home = design.circuit, design.need.input.nets
    assert home is not None
    at = places(Fixture.of(design).powered)
    for part in circuit.parts:
        for name, known in part.windows.items():
            window = part.device.windows[name]
            if window.quantity != "series resistance" or any(
                p not in part.pins for p in window.pins
            ):
                continue
            first, last = window.pins[0], window.pins[-1]
            start = _beyond(circuit, part, first) if window.beyond else part.pins[first]
            if start is None:
                continue
            ends = {at.get(start, start), at.get(part.pins[last] if last != first else home.minus)}
            here = [
                c for c in circuit.parts
                if c.kind == "capacitor" and {at[n] for n in c.pins.values()} == ends
            ]  # fmt: skip
            most = max((c.values["capacitance"].spread.typical for c in here), default=0.0)
            # Capacitors far smaller than the largest one do not carry what it does.
            siemens = [
                1.0 / c.values["esr"].spread.typical for c in here
                if c.values["capacitance"].spread.typical > MUCH_LESS * most
            ]  # fmt: skip
            if not siemens:
                continue
            ohms = 1.0 / sum(siemens)
            for bound, sense in ((known.minimum, 1.0), (known.maximum, -1.0)):
                if bound is not None and bound > 0 and not window.or_else:
                    reserve = sense * (ohms - bound) / bound
                    # Between a half and all of a bound, typical values decide nothing.
                    if -0.5 < reserve < 0.0:
                        reserve = UNKNOWN
                    yield Ruled("published window", f"{part.ref} {name}",
                                1.0 if reserve >= 0 else reserve, ohms, bound)  # fmt: skip


def backwards(design: Design) -> Iterator[Ruled]:
    """Whether what an output holds may have to leave through its regulator.

    Makers ask for a diode where an input may go first. Whether it does, nobody says: what a
    reservoir ahead holds up is harmless, and of the rest nothing is known for certain.
    """
    circuit = design.circuit
    at = places(Fixture.of(design).powered)
    for part in circuit.parts:
        if part.kind not in BACKWARDS or not {"input", "output"} <= part.pins.keys():
            continue
        ahead, behind = at[part.pins["input"]], at[part.pins["output"]]
        held, before = (
            sum(
                c.values["capacitance"].spread.typical for c in circuit.parts
                if c.kind == "capacitor" and net in {at[n] for n in c.pins.values()}
            )
            for net in (behind, ahead)
        )  # fmt: skip
        led = any(
            p.kind == "diode" and {at[n] for n in p.pins.values()} == {ahead, behind}
            for p in circuit.parts
        )
        volts = [
            abs(o.voltage.max) for o in design.need.output
            if o.nets and behind in {at.get(n) for n in (o.nets.plus, o.nets.minus)}
        ]  # fmt: skip
        if max(volts, default=0.0) > STANDS and held > max(HOLDS, before) and not led:
            yield Ruled("backwards", part.ref, UNKNOWN, held, before)


def floating(design: Design) -> Iterator[Ruled]:
    """Inputs of logic circuits that nothing drives while every contact is open."""
    powered = Fixture.of(design).powered
    for ends in powered.nets.values():
        parts = {ref: powered.part(ref) for ref, _ in ends}
        reads = [
            f"{ref}.{pin}" for ref, pin in ends
            if parts[ref].device.pins[pin].role == "logic-input"
        ]  # fmt: skip
        drives = [
            ref for ref, pin in ends
            if parts[ref].device.pins[pin].role not in ("logic-input", "enable")
            and parts[ref].kind != "capacitor"
            and not (parts[ref].kind == "switch" and parts[ref].options.get("rest") == "open")
        ]  # fmt: skip
        if reads and not drives:
            yield Ruled("floating", reads[0], -1.0)


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


def _joined(
    circuit: Circuit, start: str, without: tuple[str, ...] = (), through: bool = False
) -> set[str]:
    """Nets to which parts lead from one, through transformers or each winding by itself."""
    heat, met, more = set(circuit.thermal_nets), {start}, True
    every = [
        way - heat
        for part in circuit.parts
        if part.kind not in without
        for way in ([set(part.pins.values())] if through else _ways(part))
    ]
    while more:
        found = met.union(*(way for way in every if way & met))
        more, met = found != met, found
    return met


def _ways(part: Part) -> list[set[str]]:
    """Nets that a part joins, in groups."""
    if part.kind != "transformer":
        return [set(part.pins.values())]
    return [{net for pin, net in part.pins.items() if pin.startswith(winding)}
            for winding in ("primary", "secondary", "second_")]  # fmt: skip


def fed(design: Design) -> Iterator[Ruled]:
    """Whether anything at all leads from the input to an output, transformers included."""
    home = design.need.input.nets
    for output in design.need.output:
        if home is not None and output.nets is not None:
            joined = _joined(design.circuit, home.plus, through=True)
            if (
                output.nets.plus not in joined and output.nets.minus not in joined
            ) or home.plus not in _joined(design.circuit, output.nets.plus, through=True):
                yield Ruled("fed", output.name, -1.0)


def isolation(design: Design) -> Iterator[Ruled]:
    need = design.need
    if need.input.kind == "ac" and need.input.nets and need.input.voltage.max > EXTRA_LOW:
        live = _joined(design.circuit, need.input.nets.plus)
        live |= _joined(design.circuit, need.input.nets.minus)
        for output in need.output:
            if output.nets and {output.nets.plus, output.nets.minus} & live:
                yield Ruled("isolation", output.name, -1.0)


def mains_fuse(design: Design) -> Iterator[Ruled]:
    """The short circuit of what is behind it opens a fuse, and none is without one."""
    need = design.need.input
    if need.kind != "ac" or need.nets is None or not need.voltage.max > EXTRA_LOW:
        return
    fuses = [part for part in design.circuit.parts if part.kind == "fuse"]
    bare = _joined(design.circuit, need.nets.plus, ("fuse", "transformer"))
    for part in design.circuit.parts:
        if part.kind != "transformer":
            continue
        if bare & {part.pins["primary_start"], part.pins["primary_end"]} and need.nets.minus in (
            part.pins["primary_start"], part.pins["primary_end"]
        ):  # fmt: skip
            yield Ruled("mains fuse", part.ref, -1.0)
        first, own, ratio, leakage = (
            part.values[name].spread.high
            for name in ("primary_resistance", "secondary_resistance", "turns_ratio",
                         "leakage_inductance")
        )  # fmt: skip
        windings = 2 if {"second_start", "second_end"} <= part.pins.keys() else 1
        ohms = need.resistance + first + ratio**2 * own / windings
        henries = leakage * (0.5 + 0.5 / windings)
        hertz = 50.0 if need.frequency is None else need.frequency.max
        least = need.voltage.min / math.hypot(ohms, 2.0 * math.pi * hertz * henries)
        for fuse in fuses:
            wanted = OPENS * fuse.ratings["rated_current"]
            if need.nets.plus in fuse.pins.values():
                yield Ruled("opens", fuse.ref, (least - wanted) / wanted, least, wanted)
                heat = _inrush(design, part, fuse) / fuse.values["melting_integral"].spread.typical
                yield Ruled("inrush", fuse.ref, _withstood(heat), heat, 1.0)
    if bare & {need.nets.minus}:
        yield Ruled("mains fuse", "need.input", -1.0)


def _inrush(design: Design, part: Part, fuse: Part) -> float:
    """Of the first half wave from nil on, which doubles the flux [A²s].

    Once the core is full, resistance and leakage alone hold the mains back.
    """
    need = design.need.input
    hertz = 50.0 if need.frequency is None else need.frequency.min
    turns = 2.0 * math.pi * hertz
    full = FULL * part.values["saturation_flux"].spread.low
    peak = math.sqrt(2.0) * need.voltage.max
    begins = 1.0 - full * turns / peak
    if begins <= -1.0:
        return 0.0
    angle = math.acos(min(begins, 1.0))
    squares = 0.5 * (math.pi - angle) + 0.25 * math.sin(2.0 * angle)
    ohms = (
        need.resistance
        + part.values["primary_resistance"].spread.low
        + fuse.values["resistance"].spread.low
    )
    impedance = math.hypot(ohms, turns * part.values["leakage_inductance"].spread.low)
    return (peak / impedance) ** 2 * squares / turns


RULES: Mapping[str, tuple[Callable[[Design], Iterator[Ruled]], str]] = {
    "open pin": (open_pins, "pins of the kinds; an input must not float, a pin must be joined: "
                 "datasheets of the 4000 series and of comparators"),
    "thermal path": (no_sink, "a heat sink or a pad cools what it touches: JESD51-1"),
    "published window": (windows, "windows of the catalogue's rows, each with its source"),
    "series resistance": (series_resistance, "windows of the catalogue's rows, each with its "
                          "source"),
    "backwards": (backwards, "a diode past a regulator whose output holds more than its input: "
                  "tips of makers of 78xx types and datasheet of the 317 type, from memory"),
    "floating": (floating, "no input of a logic circuit may be left open: datasheets of the 4000 "
                 "series"),
    "decoupling": (decoupling, "datasheets of logic, comparators and amplifiers ask for one "
                   "across the supply; common practice, no source"),
    "switch loop": (switch_loops, "Erickson and Maksimovic, Fundamentals of Power Electronics, 2"),
    "fed": (fed, "no current flows where nothing leads: Kirchhoff"),
    "isolation": (isolation, "nothing but a transformer between the mains and what may be "
                  "touched: IEC 61558-2-6 and IEC 62368-1, from memory"),
    "mains fuse": (mains_fuse, "a fuse before the transformer, which its short circuit opens at "
                   "2.1 times its rating and no inrush does: IEC 61558-1, IEC 60127-2, sheet 3; "
                   "flux doubling: Fitzgerald, Kingsley and Umans; from memory"),
    "pin order": (pin_order, "terminals of the catalogue's row, each with its package"),
}  # fmt: skip
"""Rule -> what decides it, and its source."""


def ruled(design: Design) -> list[Ruled]:
    """What all rules say of a design."""
    return [found for rule, _ in RULES.values() for found in rule(design)]
