"""A crowbar that a zener diode fires: few parts, a wide window."""

from __future__ import annotations

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
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show


@dataclass(frozen=True)
class ZenerCrowbar(Crowbar):
    """A zener diode from the output to the gate: few parts, a wide window."""

    name = "crowbar fired by a zener diode"

    def fire(self, task: Task, sheet: Sheet, window: Window, shorts: Choice) -> float:
        ohms = gate_resistor(shorts.entry, task.need.parts.series)
        found = {
            e.name: firing(task, e, shorts.entry, ohms) for e in of_kind(task.catalogue, "zener")
        }
        left = {name: window.reserve(*ends) for name, ends in found.items()}
        best = max(left, key=lambda name: (round(left[name], 3), -price_of(task.catalogue[name])))
        low, high = found[best]
        told = f"with a {best} it fires at {show(low, 'V')} to {show(high, 'V')}; {window.words}"
        if left[best] < 1.0 - window.kept:
            raise Unserved(f"{told}; {1.0 - window.kept:.0%} are wanted on either side")
        nets, gate = task.terminals(self.rail), self.net(task, "FIRE")
        pins = {"anode": gate, "cathode": nets.plus}
        sheet.add("D", "zener", BLOCK, pins, f"Vz + Vgt, at the limits: {told}", use=best)
        draw_gate_resistor(task, sheet, shorts.entry, ohms, (gate, nets.minus))
        self.draw_thyristor(task, sheet, shorts, gate)
        return low


def firing(task: Task, zener: Entry, thyristor: Entry, ohms: float) -> tuple[float, float]:
    """Least and greatest voltage at which a zener diode fires a thyristor [V].

    Vz (1 + tc dT) + rz (I - Iz) + Vgt with I = Igt + Vgt / R, cold and hot.
    """
    air, off = task.need.surroundings.ambient, tolerance(task)
    volts, slope, coefficient = (
        spread_of(zener, name)
        for name in ("zener_voltage", "dynamic_resistance", "temperature_coefficient")
    )
    gate = gate_voltage(thyristor, air.min, air.max)
    trigger, test = (
        spread_of(thyristor, "gate_trigger_current"),
        spread_of(zener, "test_current").high,
    )
    moved = [
        c * (t - ROOM) for c in (coefficient.low, coefficient.high) for t in (air.min, air.max)
    ]

    def across(
        zener_volts: float, at: float, volts_of_gate: float, current: float, low: bool
    ) -> float:
        drawn = current + volts_of_gate / (ohms * (1.0 + (off if low else -off)))
        beyond = drawn - test
        softest = slope.high if (beyond > 0) != low else slope.low
        return zener_volts * (1.0 + at) + softest * beyond + volts_of_gate

    return (
        across(volts.low, min(moved), gate.low, trigger.low, True),
        across(volts.high, max(moved), gate.high, trigger.high, False),
    )
