"""A diode across an output that takes the current of a coil in the load when nothing feeds it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.circuit.need import Output
from railwright.quantity import show

BLOCK = "output"
WINDS = "inductive", "motor"
"""Kinds of load that have a coil, whether its inductance is stated or not."""
HALF_WAVE = 8.3e-3
"""s; of the half wave for which surge currents of diodes are stated."""


@dataclass(frozen=True)
class KickDiode(Guard):
    """Anode at the lower terminal: it conducts only when a coil pulls the output below nil."""

    name = "diode across the output"
    purpose = "kick of a coil"

    def wanted(self, task: Task) -> bool:
        loads = self.output(task).load
        return any(load.inductance or load.kind in WINDS for load in loads)

    def inside(self, task: Task) -> Task:
        return task

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        chosen = kick_diode(task, self.output(task))
        nets, sheet = task.terminals(self.rail), Sheet.of(sketch.parts)
        pins = {"anode": nets.minus, "cathode": nets.plus}
        sheet.add("D", "diode", BLOCK, pins, chosen.why, use=chosen.entry.name)
        return replace(sketch, parts=tuple(sheet.parts))


def kick_heat(volts: float, amperes: float, henries: float) -> float:
    """Integral of the squared current of a coil that runs down through its resistance [A²s].

    I² L / (2 R) with R = V / I, closed form of the exponential; what the diode takes comes on top
    of the resistance and is left out. All in SI.

    >>> round(kick_heat(12.0, 1.0, 50e-3) * 1e3, 3)
    2.083
    """
    return amperes**3 * henries / (2.0 * volts)


def kick_diode(task: Task, rail: Output) -> Choice:
    """The cheapest diode for the coil of a rail's load; Unserved where there is none."""
    amperes, henries = rail.current.max, max(load.inductance or 0.0 for load in rail.load)
    heat = kick_heat(rail.voltage.max, amperes, henries)
    highest = rail.never_above or rail.brought or rail.voltage.max
    found = []
    for entry in of_kind(task.catalogue, "diode"):
        known = entry.values
        if not {"surge_current", "reverse_voltage"} <= known.keys():
            continue
        surge = spread_of(entry, "surge_current").low
        bears = 0.5 * surge**2 * HALF_WAVE
        if (
            amperes <= task.kept * surge
            and heat <= task.kept * bears
            and highest <= task.bears(entry, "reverse_voltage")
        ):
            found.append((price_of(entry), spread_of(entry, "reverse_voltage").high, entry, bears))
    if not found:
        raise Unserved(
            f"no diode of the catalogue takes {show(amperes, 'A')} and {show(heat, 'A²s')} of a "
            f"coil of {show(henries, 'H')}, and {show(highest, 'V')} in reverse"
        )
    *_, best, bears = min(found, key=lambda each: each[:2])
    return Choice(
        best,
        f"takes the current of the load's coil when the output is not fed: I² L / (2 R) = "
        f"{show(heat, 'A²s')} of {show(bears, 'A²s')} that one half wave of "
        f"{show(HALF_WAVE, 's')} at its surge current has",
    )
