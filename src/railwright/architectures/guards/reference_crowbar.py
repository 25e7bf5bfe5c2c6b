"""A crowbar that a shunt reference fires, by way of a transistor: a narrow window."""

from __future__ import annotations

import math
from dataclasses import dataclass

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.guards.crowbar import (
    BLOCK,
    Crowbar,
    Window,
    draw_gate_resistor,
    gate_resistor,
    gate_voltage,
    tolerance,
)
from railwright.architectures.regulator import ROOM
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.base_voltage import base_voltage
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.sizing.resistors import resistor
from railwright.catalogue.entry import Entry
from railwright.quantity import show
from railwright.standards.iec60063 import SERIES, bracket, nearest

LEAST_LEG, MOST_LEG = 1e3, 4.7e3
"""Ω across the reference: what its pin draws does not count there, and little is drawn from the
output (common practice, no source)."""
IDLES = 1e-3
"""A that a shunt reference may draw before it regulates (datasheet of the 431 type); this must not
switch the transistor on."""
FULL_ON = 2.5
"""V at a shunt reference that takes all it can get, at most (datasheet of the 431 type: 1.9 V
typical)."""
SURELY = 2.0
"""Times the base current that its gain asks for is given to the transistor, so that it saturates
(common practice, no source)."""


@dataclass(frozen=True)
class ReferenceCrowbar(Crowbar):
    """A shunt reference behind a divider, and a transistor that drives the gate."""

    name = "crowbar fired by a reference"
    preference = 1

    def fire(self, task: Task, sheet: Sheet, window: Window, shorts: Choice) -> float:
        legs = nearest_legs(task, window)
        told = (
            f"fires at {show(legs.low, 'V')} to {show(legs.high, 'V')} at the limits; "
            f"{window.words}"
        )
        if window.reserve(legs.low, legs.high) <= 0.0:
            raise Unserved(f"with a {legs.reference.name} it {told}")
        drive = Drive.of(task, shorts.entry, legs.low)
        nets = task.terminals(self.rail)
        tap, base, sunk, driven, gate = (
            self.net(task, name) for name in ("OVER", "OVER_BASE", "OVER_SUNK", "OVER_ON", "FIRE")
        )

        def add(one: str, two: str, ohms: float, volts: float, why: str) -> None:
            use = resistor(task, volts**2 / ohms, tolerance(task)).name
            pins, value = {"one": one, "two": two}, show(ohms, "Ω", 4)
            sheet.add("R", "resistor", BLOCK, pins, why, use=use, resistance=value)

        own = spread_of(legs.reference, "reference_voltage").high
        why = f"Vref x (1 + {show(legs.upper, 'Ω')}/{show(legs.lower, 'Ω')}): {told}"
        add(nets.plus, tap, legs.upper, window.top - own, why)
        add(tap, nets.minus, legs.lower, own, f"{show(own, 'V')} across it at most")
        pins = {"cathode": sunk, "anode": nets.minus, "reference": tap}
        why = "draws current as soon as its pin gets to its reference voltage"
        sheet.add("U", legs.reference.kind, BLOCK, pins, why, use=legs.reference.name)
        why = f"keeps the transistor off while the reference draws up to {show(IDLES, 'A')}"
        add(nets.plus, base, drive.idle, 0.0, why)
        why = (
            f"at {show(legs.low, 'V')} {show(drive.base_current, 'A')} flow into the base at least"
        )
        add(base, sunk, drive.base, 0.0, why)
        pins = {"emitter": nets.plus, "base": base, "collector": driven}
        why = f"gain {drive.gain:.0f} at least at {show(drive.current, 'A')}, cold"
        sheet.add("Q", drive.entry.kind, BLOCK, pins, why, use=drive.entry.name)
        why = (
            f"{show(drive.current, 'A')} at {show(legs.low, 'V')}, which the gate may want with "
            "its resistor, the wanted reserve included"
        )
        add(driven, gate, drive.collector, 0.0, why)
        draw_gate_resistor(task, sheet, shorts.entry, drive.gate, (gate, nets.minus))
        self.draw_thyristor(task, sheet, shorts, gate)
        return legs.low


@dataclass(frozen=True)
class Legs:
    """A divider [Ω], the reference across its lower leg, and where both fire [V]."""

    reference: Entry
    upper: float
    lower: float
    low: float
    high: float


def nearest_legs(task: Task, window: Window) -> Legs:
    """Those that leave most on either side of where they fire, the cheapest of equals.

    Vref (1 + upper / lower) + Iref x upper, with all at their limits. Unserved where the load
    survives less than a reference.
    """
    air, off = task.need.surroundings.ambient, tolerance(task)
    far = max(abs(air.max - ROOM), abs(air.min - ROOM))
    aim, series = 0.5 * (window.top + window.survived), task.need.parts.series
    lowers = [LEAST_LEG * float(each) for each in SERIES[series]]
    found: list[Legs] = []
    for entry in sorted(of_kind(task.catalogue, "shunt-reference"), key=price_of):
        own, pin = spread_of(entry, "reference_voltage"), spread_of(entry, "reference_current")
        if aim <= own.high:
            continue
        low, high = own.low * (1.0 - own.drift * far), own.high * (1.0 + own.drift * far)
        for lower in lowers:
            if lower > MOST_LEG:
                continue
            upper = nearest(lower * (aim / own.typical - 1.0), series)
            apart = (1.0 + off) / (1.0 - off)
            least = low * (1.0 + upper / lower / apart)
            most = high * (1.0 + upper / lower * apart) + pin.high * upper * (1.0 + off)
            found.append(Legs(entry, upper, lower, least, most))
    if not found:
        raise Unserved(
            f"the load survives {show(window.survived, 'V')}; no reference of the catalogue works "
            "so far down"
        )
    return max(found, key=lambda each: round(window.reserve(each.low, each.high), 3))


@dataclass(frozen=True)
class Drive:
    """A transistor that drives a gate, and the resistors around it [Ω]."""

    entry: Entry
    current: float
    """A through it, at least."""
    gain: float
    base_current: float
    """A, at least."""
    gate: float
    collector: float
    base: float
    idle: float

    @classmethod
    def of(cls, task: Task, thyristor: Entry, volts: float) -> Drive:
        """The cheapest one that fires a thyristor at a voltage [V]; Unserved where none does."""
        found = [
            entry
            for entry in of_kind(task.catalogue, "bipolar-transistor")
            if entry.options.get("polarity") == "pnp"
        ]
        refused: list[Unserved] = []
        for entry in sorted(found, key=price_of):
            try:
                return cls._with(task, entry, thyristor, volts)
            except Unserved as unserved:
                refused.append(unserved)
        raise refused[0]

    @classmethod
    def _with(cls, task: Task, entry: Entry, thyristor: Entry, volts: float) -> Drive:
        air, series, off = (
            task.need.surroundings.ambient,
            task.need.parts.series,
            tolerance(task),
        )
        gate = gate_resistor(thyristor, series)
        fires = gate_voltage(thyristor, air.min, air.max).high
        wanted = spread_of(thyristor, "gate_trigger_current").high + fires / gate / (1.0 - off)
        left = volts - spread_of(entry, "saturation_voltage").high - fires
        if left <= 0.0:
            raise Unserved(
                f"{show(volts, 'V')} are too little to drive a gate of {show(fires, 'V')}"
            )
        collector = bracket(left * task.kept / wanted / (1.0 + off), series)[0]
        current = left / collector / (1.0 - off)
        if current > task.bears(entry, "collector_current"):
            raise Unserved(f"the gate may want {show(current, 'A')} of the {entry.name}")
        half = spread_of(entry, "gain_half_current").low
        gain = spread_of(entry, "current_gain").low / (1.0 + current / half)
        gain *= math.pow(min(air.min / ROOM, 1.0), 2.0)
        on = base_voltage(entry, current, air.min, air.max)
        begins = base_voltage(entry, IDLES, air.min, air.max).low
        idle = bracket(begins / IDLES / (1.0 + off), series)[0]
        needed = SURELY * current / gain + on.high / idle / (1.0 - off)
        below = volts - on.high - FULL_ON
        if below <= 0.0:
            raise Unserved(f"{show(volts, 'V')} are too little for a reference and a transistor")
        base = bracket(below / needed / (1.0 + off), series)[0]
        given = below / base / (1.0 + off) - on.high / idle / (1.0 - off)
        return cls(entry, current, gain, given, gate, collector, base, idle)
