"""What bench supplies of two knobs share: what is asked of them, their transistor, their knobs."""

from __future__ import annotations

import math
from dataclasses import replace

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.legs import PANEL
from railwright.architectures.regulator import ROOM
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import capacitor
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.tables import Range
from railwright.quantity import show

LOWER = "BAT46"
"""Diode by which the lower amplifier has the gate. A rectifier would do as well, but for what it
leaks while the other amplifier is up: milliamperes, which the lower one has to sink, too."""


def asked(task: Task) -> tuple[Output, Output]:
    """The rail, and the same with the most that may flow; Unserved where it is not for this."""
    need = task.need
    if len(need.output) > 1:
        raise Unserved(f"this serves one rail; the need has {len(need.output)}")
    rail = need.output[0]
    overload = rail.overload
    if overload is None or overload.style != "constant-current" or overload.act_by is None:
        raise Unserved(f"no constant current is asked of {rail.name}; plainer kinds serve it")
    if rail.reference == "common with input":
        raise Unserved(
            f"{rail.name} has to be common with the input; a transformer is there to keep it apart "
            "from the mains"
        )
    if not rail.is_adjustable:
        raise Unserved(
            f"{rail.name} has one voltage, {show(rail.voltage.max, 'V')}: it wants no knob"
        )
    if rail.load_step is not None:
        raise Unserved(f"a step of the load is asked of {rail.name}; its loops are slow")
    return rail, replace(rail, current=Range(rail.current.min, overload.act_by))


def transistors(task: Task) -> list[Entry]:
    """Of n-channel types with a case, the cheap ones first."""
    found = [
        entry
        for entry in of_kind(task.catalogue, "field-effect-transistor")
        if entry.options.get("channel") == "n" and "case" in entry.pins
    ]
    return sorted(found, key=price_of)


def current_knob(task: Task) -> Entry:
    """The variable resistor for the current; Unserved where there is none."""
    knobs = [
        entry
        for entry in of_kind(task.catalogue, "potentiometer")
        if entry.package.startswith(PANEL)
        and entry.options.get("taper") == "linear"
        and 5e3 <= spread_of(entry, "resistance").typical <= 20e3
    ]
    if not knobs:
        raise Unserved("no variable resistor of the catalogue suits the current's knob")
    return min(knobs, key=price_of)


def gate_voltage(entry: Entry, current: float, temperature: float, end: str) -> float:
    """Gate voltage at a drain current and a junction, at an end of its spread [V].

    Square law beyond the threshold; source: as `devices.field_effect_transistor`.
    """
    threshold = getattr(spread_of(entry, "threshold_voltage"), end)
    drift = spread_of(entry, "threshold_drift")
    slope = spread_of(entry, "transconductance")
    gm = slope.low if end == "high" else slope.high
    factor = gm**2 / (2.0 * spread_of(entry, "transconductance_current").typical)
    moved = [each * (temperature - ROOM) for each in (drift.low, drift.high)]
    shifted = min(moved) if end == "low" else max(moved)
    return float(threshold + shifted + math.sqrt(2.0 * current / factor))


def tolerance_of(task: Task) -> float:
    """Of its resistors."""
    return task.need.parts.resistor_tolerance or USUAL_TOLERANCE


def draw_resistor(
    task: Task,
    sheet: Sheet,
    block: str,
    ends: tuple[str, str],
    ohms: float,
    why: str,
    watts: float,
) -> None:
    """A film resistor [Ω] that takes a power [W]."""
    use = resistor(task, watts, tolerance_of(task)).name
    pins, value = {"one": ends[0], "two": ends[1]}, show(ohms, "Ω", 4)
    sheet.add("R", "resistor", block, pins, why, use=use, resistance=value)


def draw_capacitor(
    task: Task,
    sheet: Sheet,
    block: str,
    ends: tuple[str, str],
    of: tuple[str, float, float],
    why: str,
) -> None:
    """A capacitor of a dielectric, a least capacitance [F] and a voltage across it [V]."""
    chosen = capacitor(task, *of, why)
    pins = {"plus": ends[0], "minus": ends[1]}
    sheet.add("C", "capacitor", block, pins, chosen.why, use=chosen.entry.name)
