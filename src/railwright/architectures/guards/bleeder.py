"""Resistors across reservoirs behind a transformer: what is stored is gone soon after the plug is.

Source: common practice, no source, for the energy and the time.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import Guard
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import bears
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE, resistor
from railwright.architectures.sketched import entry_of, pins_of, rectified
from railwright.quantity import show
from railwright.standards.iec60063 import bracket

BLOCK = "input"
HARMLESS = 0.5
"""J; a capacitor that holds more gives a spark that hurts eyes and meters."""
WITHIN = 30.0, 60.0, 120.0, 300.0
"""s after which no more is left: until a cover is off, or longer where a resistor for that would
have to take too much (common practice, no source)."""

MOST_LOST = 0.5
"""W that it takes in use: where it would be more, it has more time (common practice, no source)."""


@dataclass(frozen=True)
class Bleeder(Guard):
    """Across every capacitor of a rectifier that holds more than is harmless.

    Left out where no resistor takes the power: no demand of a need is broken by that.
    """

    name = "bleeder"
    purpose = "stored energy"
    depth = 7
    of_input = True

    def wanted(self, task: Task) -> bool:
        return task.need.input.kind == "ac"

    def inside(self, task: Task) -> Task:
        return task

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        sheet = Sheet.of(sketch.parts)
        ends = rectified(sketch)
        for part in sketch.parts:
            if part["kind"] != "capacitor" or not ends & set(pins_of(part).values()):
                continue
            entry = entry_of(task, part)
            farads = spread_of(entry, "capacitance").high
            volts = bears(task, entry)
            energy = 0.5 * farads * volts**2
            if energy <= HARMLESS:
                continue
            chosen = self._chosen(task, farads, volts)
            if chosen is None:
                continue
            seconds, ohms, use = chosen
            why = (
                f"{part['ref']} holds up to {show(energy, 'J')}; t / (C ln(V / sqrt(2 W / C))) "
                f"leaves {show(HARMLESS, 'J')} {show(seconds, 's')} after the plug is pulled "
                "(common practice)"
            )
            pins = {"one": pins_of(part)["plus"], "two": pins_of(part)["minus"]}
            sheet.add("R", "resistor", BLOCK, pins, why, use=use, resistance=show(ohms, "Ω", 4))
        return replace(sketch, parts=tuple(sheet.parts))

    def _chosen(self, task: Task, farads: float, volts: float) -> tuple[float, float, str] | None:
        """The time, the resistance and its type; None where no resistor takes the power."""
        tolerance = task.need.parts.resistor_tolerance or USUAL_TOLERANCE
        for seconds in WITHIN:
            most = bleeds(farads, volts, seconds) / (1.0 + tolerance)
            ohms = bracket(most, task.need.parts.series)[0]
            power = volts**2 / ohms / (1.0 - tolerance)
            if power > MOST_LOST and seconds < WITHIN[-1]:
                continue
            try:
                use = resistor(task, power, tolerance).name
            except Unserved:
                continue
            return seconds, ohms, use
        return None


def bleeds(farads: float, volts: float, seconds: float) -> float:
    """Greatest resistance that leaves a capacitor harmless in time [Ω]: t / (C ln(V / Vh)).

    Vh is the voltage at which it holds what is harmless; all in SI. Source: the exponential of R
    and C.

    >>> round(bleeds(4700e-6, 30.0, 30.0))
    8852
    """
    left = math.sqrt(2.0 * HARMLESS / farads)
    return seconds / (farads * math.log(volts / left))
