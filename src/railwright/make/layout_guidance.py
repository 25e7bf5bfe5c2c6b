"""Layout guidance: how wide, how far apart, what close together, where returns meet."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from railwright.circuit.circuit import Circuit, Part
from railwright.make.document import Document, Job
from railwright.make.needed import currents
from railwright.pages.sheet import Block, Grid, Points, Section, Sheet, Words
from railwright.pages.wording import measurable
from railwright.prove.nets import CARRYING
from railwright.prove.proof import Finding, NetRow
from railwright.quantity import show
from railwright.standards.ipc2221 import clearance, conductor_width
from railwright.standards.loop import inductance, ringing
from railwright.standards.thermal import board_area
from railwright.standards.wire import resistance
from railwright.surveys.fixture import SOURCE, load_ref

RISE = 10.0
"""K that a conductor may be warmer than the board (common practice, no source)."""
COPPER = 35e-6
"""m, the usual foil of one ounce a square foot."""
LEAST_WIDTH = 0.5e-3
"""m that a builder etches and solders by hand (common practice, no source)."""
COUNTS = 10e-3
"""A; less needs no width of its own."""
TOLD = 1e-6
"""A; how much less is no matter for a conductor."""
ROUNDED = 1e-6
"""Tenths of a millimetre by which a width may be beyond one: what rounding does."""
LOAD = load_ref("")
WARMS = 50e-3
"""W; what gives off less wants no copper (common practice, no source)."""
PULSED = ("capacitor", "thyristor")
"""Kinds that carry pulses of what flows in the nets that they are on."""
AREA, ALONG = 1e-4, 2e-3
"""m² of a loop for which ringing is told, and m of the width of its conductor."""
LENGTH = 10e-3
"""m of conductor in common for which an error is told."""
SHUNT = 1.0
"""Ω; a resistor up to this is one whose joints count."""
POWER_SHARE = 0.1
"""Share of the greatest current of a net from which on a part belongs to its power return."""
QUIET = ("feedback", "adjust", "plus", "minus", "input", "base", "gate")
"""Roles of pins on whose nets a nearby edge is heard."""
_LEAD = (
    "Currents and voltages are those of the proof over the whole operating range; widths for "
    f"{RISE:.0f} K on {COPPER * 1e6:.0f} µm of copper outside, distances without coating "
    "(IPC-2221). On the mains other standards rule distances: local codes and licensed practice "
    "come first."
)


class LayoutGuidance(Document):
    """What the placing of parts and conductors has to keep."""

    name = "Layout guidance"
    place = 45

    def sheet(self, job: Job) -> Sheet:
        circuit = job.design.circuit
        sections = [
            Section("Conductors", _conductors(job)),
            *_section("Fast loops: small, and first", _loops(job)),
            *_section("Joints that count", _kelvin(job)),
            *_section("Where returns meet", _returns(job)),
            *_section("Close together", _close(circuit)),
            *_section("Apart", _apart(circuit)),
            *_section("Cooled by the board", _cooling(job)),
        ]
        return Sheet(job.design.title, self.name, sections, _LEAD)


def _section(heading: str, blocks: Sequence[Block]) -> Iterator[Section]:
    if blocks:
        yield Section(heading, blocks)


def width(row: NetRow) -> float:
    """Least width of the conductors of a net [m]."""
    if row.current is None or row.current < COUNTS:
        return LEAST_WIDTH
    return max(LEAST_WIDTH, conductor_width(row.current, RISE, COPPER))


def apart(row: NetRow, rows: Sequence[NetRow]) -> float:
    """Least distance of a net from that which differs most from it [m]."""
    most = max(each.highest for each in rows) - row.lowest
    least = row.highest - min(each.lowest for each in rows)
    return clearance(max(most, least, 0.0), "B2")


def _conductors(job: Job) -> Sequence[Block]:
    rows = sorted(job.proof.nets, key=lambda row: -(row.current or 0.0))
    if not rows:
        return [Words("The proof has no currents: nothing was solved.")]
    heads = ("net", "voltage", "current", "carried by", "width", "drop of 100 mm", "distance")
    table = [
        (
            row.net,
            _span(row),
            _current(row),
            _carrier(row.carried_by),
            f"{math.ceil(width(row) * 1e4 - ROUNDED) / 10.0:.1f} mm",
            _drop(row),
            f"{apart(row, rows) * 1e3:.2f} mm",
        )
        for row in rows
    ]
    return [Grid(heads, table, (1, 1.6, 1, 1.2, 0.8, 1, 0.8))]


def _carrier(ref: str) -> str:
    """A part, or what is connected from outside."""
    if ref == SOURCE:
        return "the source"
    return ref.replace(LOAD, "load of ") if ref.startswith(LOAD) else ref


def _current(row: NetRow) -> str:
    if row.current is None or row.current < TOLD:
        return f"under {show(TOLD, 'A')}"
    return show(row.current, "A", 2)


def _span(row: NetRow) -> str:
    low, high = measurable(row.lowest, "V"), measurable(row.highest, "V")
    return low if low == high else f"{low} to {high}"


def _drop(row: NetRow) -> str:
    if row.current is None or row.current < COUNTS:
        return ""
    return show(row.current * resistance(0.1, width(row) * COPPER), "V", 2)


@dataclass(frozen=True)
class Loop:
    """A way that a current takes only for a part of a cycle: it begins and ends with edges."""

    parts: tuple[str, ...]
    current: float
    edge: float
    """s, rise of the current."""
    stored: float
    """F that ring with the inductance of the loop."""

    @property
    def steepness(self) -> float:
        """Of the current [A/s]."""
        return self.current / self.edge

    @property
    def spike(self) -> float:
        """Of a loop of `AREA` [V]."""
        return inductance(AREA, ALONG) * self.steepness

    @property
    def rings(self) -> float:
        """Frequency of a loop of `AREA` [Hz]."""
        return ringing(inductance(AREA, ALONG), self.stored)


def loops(job: Job) -> tuple[Loop, ...]:
    """Of every switching regulator: itself, what takes over from its switch, and the capacitor
    that closes the way."""
    circuit, seen = job.design.circuit, currents(job)
    found = []
    for part in circuit.parts:
        switch, edge = part.pins.get("switch"), part.values.get("transition_time")
        if switch is None or edge is None or part.ref not in seen:
            continue
        for diode, _ in circuit.on_net(switch):
            if diode.kind != "diode":
                continue
            ends = set(diode.pins.values()) - {switch}
            closing = _closing(circuit, part, ends)
            stored = diode.values["junction_capacitance"].spread.high
            refs = (part.ref, diode.ref, *closing)
            found.append(Loop(refs, seen[part.ref], edge.spread.typical / 2.0, stored))
    return tuple(found)


def _closing(circuit: Circuit, regulator: Part, ends: set[str]) -> Sequence[str]:
    """Capacitors between a diode's far end and the regulator's input or ground, the smallest
    first: they are the fastest."""
    own = {net for pin, net in regulator.pins.items() if pin in ("input", "ground")}
    found = [
        part
        for part in circuit.parts
        if part.kind == "capacitor"
        and len(set(part.pins.values()) & (own | ends)) == len(part.pins)
        and set(part.pins.values()) & ends
    ]
    found.sort(key=lambda part: part.values["capacitance"].spread.typical)
    return [part.ref for part in found]


def _loops(job: Job) -> Sequence[Block]:
    found = loops(job)
    if not found:
        return []
    heads = ("parts", "current", "its edge", "spike of 1 cm²", "rings at")
    table = [
        (
            ", ".join(loop.parts),
            show(loop.current, "A"),
            f"{loop.steepness * 1e-6:.3g} A/µs",
            show(loop.spike, "V", 2),
            show(loop.rings, "Hz", 2),
        )
        for loop in found
    ]
    text = (
        "The current of these ways begins and ends with every edge. Place these parts first, on "
        "one side, so that the area between them stays below 1 cm²; nothing else shares their "
        "conductors. The spike grows with the area, for edges as long as the type's typical ones."
    )
    return [Words(text), Grid(heads, table, (2, 1, 1, 1, 1))]


def _kelvin(job: Job) -> Sequence[Block]:
    rows = []
    at = {row.net: row for row in job.proof.nets}
    for part in job.design.circuit.parts:
        value = part.values.get("resistance")
        if part.kind not in ("resistor", "wirewound-resistor") or value is None:
            continue
        ohms = value.spread.typical
        watched = _watching(job.design.circuit, part)
        if ohms > SHUNT or not watched:
            continue
        row = max((at[n] for n in part.pins.values() if n in at), key=width, default=None)
        shared = resistance(LENGTH, (width(row) if row else LEAST_WIDTH) * COPPER)
        rows.append(
            (
                part.ref,
                ", ".join(watched),
                show(ohms, "Ω"),
                show(shared, "Ω", 2),
                _share(shared / ohms),
            )
        )
    if not rows:
        return []
    heads = ("shunt", "read by", "resistance", "10 mm in common", "error")
    text = "Lead two conductors of their own from the ends of the shunt to what reads it."
    return [Words(text), Grid(heads, rows, (1, 2, 1, 1, 1))]


def _share(share: float) -> str:
    return f"{100.0 * share:.2g} %"


def _watching(circuit: Circuit, shunt: Part) -> list[str]:
    """Parts that read the voltage across a shunt."""
    ends = set(shunt.pins.values())
    found = []
    for part in circuit.parts:
        reading = [
            net
            for pin, net in part.pins.items()
            if part.device.pins[pin].role in ("plus", "minus", "input", "base") and net in ends
        ]
        if reading and part is not shunt and part.kind not in ("capacitor", "source"):
            found.append(part.ref)
    return found


def _returns(job: Job) -> Sequence[Block]:
    rows = [row for row in job.proof.nets if abs(row.highest) < 1e-6 and abs(row.lowest) < 1e-6]
    row = next((each for each in rows if each.current is not None), None)
    if row is None or row.current is None or row.current < COUNTS:
        return []
    seen = currents(job)
    here = list(dict.fromkeys(p.ref for p, _ in job.design.circuit.on_net(row.net)))
    much = {r.net for r in job.proof.nets if (r.current or 0.0) >= POWER_SHARE * row.current}
    fast = {ref for loop in loops(job) for ref in loop.parts}
    power = [
        ref
        for ref in here
        if ref in fast
        or seen.get(ref, 0.0) >= POWER_SHARE * row.current
        or _pulsed(job.design.circuit, ref, much)
    ]
    quiet = [ref for ref in here if ref not in power]
    told = [
        *_charging(job),
        f"{row.net} carries {show(row.current, 'A')}. Its power side: wide, short, one after the "
        f"other: {', '.join(power) or 'what leads to input and load'}.",
    ]
    if quiet:
        told += [
            f"The quiet side, {', '.join(quiet)}, has conductors of its own.",
            "Both meet once: at the output, where its voltage is read.",
        ]
    return [Points(told)]


def _charging(job: Job) -> Iterator[str]:
    """Rectifiers with the capacitor that they charge, whose pulses no other conductor may share."""
    circuit = job.design.circuit
    carried = {row.net: row.current for row in job.proof.nets}
    for part in circuit.parts:
        if part.kind != "bridge-rectifier":
            continue
        ends = {part.pins["plus"], part.pins["minus"]}
        found = [
            other.ref
            for other in circuit.parts
            if other.kind == "capacitor" and set(other.pins.values()) == ends
        ]
        current = carried.get(part.pins["plus"])
        if found and current is not None:
            yield (
                f"{part.ref} charges {', '.join(found)} in pulses, {show(current, 'A', 2)} "
                f"effective: both conductors go to {found[0]} alone, and all else begins there."
            )


def _pulsed(circuit: Circuit, ref: str, much: Collection[str]) -> bool:
    """Whether a part carries pulses from one of some nets to 0 V."""
    part = circuit.part(ref)
    ends = [net for pin, net in part.pins.items() if part.device.pins[pin].role in CARRYING]
    return part.kind in PULSED and all(net in much for net in ends)


def _close(circuit: Circuit) -> Sequence[Block]:
    items = []
    for part in circuit.parts:
        by_role = {part.device.pins[pin].role: net for pin, net in part.pins.items()}
        ends = {by_role.get("supply", ""), by_role.get("ground", "")}
        found = [
            other
            for other in circuit.parts
            if other.kind == "capacitor" and set(other.pins.values()) == ends
        ]
        if "" not in ends and found:
            found.sort(key=lambda each: each.values["capacitance"].spread.typical)
            items.append(f"{found[0].ref} within 10 mm of {part.ref}, across its supply pins.")
    return [Points(list(dict.fromkeys(items)))] if items else []


def _apart(circuit: Circuit) -> Sequence[Block]:
    switching = sorted(
        {
            p.pins[pin]
            for p in circuit.parts
            for pin in p.pins
            if p.device.pins[pin].role == "switch"
        }
    )
    quiet = sorted(
        {
            p.pins[pin]
            for p in circuit.parts
            for pin in p.pins
            if p.device.pins[pin].role in QUIET and len(circuit.on_net(p.pins[pin])) > 1
            if not p.device.surroundings and p.kind not in ("capacitor", "bridge-rectifier")
        }
        - set(switching)
    )
    items = []
    if switching and quiet:
        items.append(
            f"{', '.join(switching)} jumps with every edge: small, and away from "
            f"{', '.join(quiet)}, with the ground between them."
        )
    hot = [p.ref for p in circuit.parts if p.kind == "heat-sink"]
    wet = [p.ref for p in circuit.parts if p.options.get("dielectric") == "electrolytic"]
    if hot and wet:
        items.append(
            f"{', '.join(wet)} away from {', '.join(hot)}: every 10 K take half of their life."
        )
    return [Points(items)] if items else []


def copper(part: Part, finding: Finding, loss: float) -> float | None:
    """Area of copper that by itself keeps a junction at its limit [m²]; None where none can.

    The proof's junction stands at its resistance to still air; the limit allows so much more as
    the rest to it is worth, of which the way from junction to case takes its own.
    """
    values = part.values
    assert finding.value is not None
    assert finding.limit is not None
    counted_on = values["junction_to_ambient"].spread.high
    inside = values["junction_to_case"].spread.high if "junction_to_case" in values else 0.0
    left = counted_on + (finding.limit - finding.value) / loss - inside
    return board_area(left) if left > 0 else None


def _cooling(job: Job) -> Sequence[Block]:
    """Parts that the board's copper cools, or their own surface."""
    circuit = job.design.circuit
    rows = []
    for finding in job.proof.findings:
        ref = finding.subject.partition(" ")[0]
        if finding.id != "heat.junction" or finding.value is None or finding.limit is None:
            continue
        part, loss = circuit.part(ref), job.proof.losses.get(ref, 0.0)
        if "case" in part.pins or "junction_to_ambient" not in part.values or loss < WARMS:
            continue
        area = copper(part, finding, loss)
        rows.append(
            (
                ref,
                part.package,
                show(loss, "W"),
                show(finding.value, "°C"),
                show(finding.limit, "°C"),
                show(part.values["junction_to_ambient"].spread.high, "K/W"),
                "a heat sink" if area is None else f"{area * 1e4:.1f} cm²",
            )
        )
    if not rows:
        return []
    text = (
        "The proof counts on the resistance to still air that the type's datasheet has for its own "
        "board: leave leads and pads their copper, and put no hot part beside. The area is what "
        "would do by itself, on a board that gives off its heat from both faces. What gives off "
        f"less than {show(WARMS, 'W')} is left out."
    )
    heads = ("part", "package", "gives off", "junction", "allowed", "counted on", "copper")
    return [Words(text), Grid(heads, rows, (0.7, 1.3, 1, 1, 1, 1, 1))]
