"""A slow rise at the start, for a step-down stage whose regulator has none of its own.

Started from nothing, a stage of which the loop has wound up charges its capacitor by all that its
coil carries, and what the coil still holds comes on top. Where that would fire a crowbar, a
capacitor from the output, a diode and a resistor tell the feedback pin how fast the output rises:
the stage then goes up no faster than they allow. In use the diode blocks. Source: common practice
of stages without a pin for it, no source; every value has its own formula.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from railwright.architectures.architecture import Sketch, Task
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sketched import entry_of, pins_of
from railwright.architectures.small_parts import draw_capacitor, draw_resistor
from railwright.catalogue.entry import Entry
from railwright.circuit.need import Output
from railwright.circuit.writer import NewTable
from railwright.quantity import parse, show
from railwright.standards.iec60063 import nearest

BLOCK = "slow start"
PASSES = "inductor", "wire", "terminal"
"""Kinds of parts through which a stage gives its output."""
CHARGES = 0.1
"""Of the rating of a regulator may charge the capacitors: what its coil holds then is little."""
LEAST_TIME = 2e-3
"""s of the rise: slow beside the loop of a stage (common practice, no source)."""
LAST = 0.25
"""Of the current that holds the feedback pin at the beginning still has to flow at the end."""
DIODE = "1N4148"
DROP = 0.6
"""V of that diode at some hundred microamperes, about."""


@dataclass(frozen=True)
class Stage:
    """A step-down stage that gives an output by its coil."""

    part: NewTable
    entry: Entry
    coil: Entry
    out: str
    """Net behind the coil."""
    farads: float
    """F at the output, least."""
    most: float
    """F at the output, most, that of its loads included."""

    @property
    def slow(self) -> bool:
        """Whether its regulator has a slow start of its own."""
        known = self.entry.values
        return "soft_start_time" in known and spread_of(self.entry, "soft_start_time").low > 0.0

    def reaches(self, volts: float, feed: float) -> float:
        """V that its output gets to at a start without a load, at most."""
        henries = spread_of(self.coil, "inductance").high
        amperes = spread_of(self.entry, "current_limit").high
        return overshot(volts, feed, henries, amperes, self.farads)


def overshot(volts: float, feed: float, henries: float, amperes: float, farads: float) -> float:
    """Where an output goes that is switched off at its voltage while a coil charges it [V].

    V² + L I² / C, with the coil at its limit [A], or at what it has got to of the feed [V] when all
    of that swings: L I² / C = V (2 Vin - V). Source: conservation of energy.

    >>> round(overshot(5.0, 12.0, 100e-6, 1.0, 100e-6), 2)
    5.1
    >>> overshot(5.0, 12.0, 100e-6, 1e3, 100e-6) == math.sqrt(2 * 5.0 * 12.0)
    True
    """
    most = min(henries * amperes**2 / farads, volts * (2.0 * feed - volts))
    return math.sqrt(volts**2 + most)


def stages(task: Task, sketch: Sketch, rail: Output) -> Iterator[Stage]:
    """Stages that give a rail by their coils, no linear regulator between."""
    assert rail.nets is not None
    ends = _passed(sketch, rail.nets.plus)
    held = [p for p in sketch.parts if p["kind"] == "capacitor" and ends & set(pins_of(p).values())]
    spreads = [spread_of(entry_of(task, part), "capacitance") for part in held]
    loads = [load.capacitance.max for load in rail.load if load.capacitance is not None]
    for part in sketch.parts:
        if part["kind"] != "step-down-regulator":
            continue
        for coil in sketch.parts:
            nets = pins_of(coil).values()
            if coil["kind"] == "inductor" and pins_of(part)["switch"] in nets and ends & set(nets):
                (out,) = set(nets) - {pins_of(part)["switch"]}
                least = sum(each.low for each in spreads)
                most = sum(each.high for each in spreads) + max(loads, default=0.0)
                yield Stage(part, entry_of(task, part), entry_of(task, coil), out, least, most)


def draw_slow_start(sheet: Sheet, task: Task, stage: Stage, rail: Output, why: str) -> None:
    """Capacitor, resistor and diodes between an output and the feedback pin of its stage."""
    pins, volts = pins_of(stage.part), rail.voltage.max
    feedback, ground = pins["feedback"], pins["ground"]
    reference = spread_of(stage.entry, "reference").typical
    into = reference * sum(
        1.0 / parse(part["resistance"], "Ω")
        for part in sheet.parts
        if part["kind"] == "resistor" and feedback in pins_of(part).values()
    )
    amperes = CHARGES * spread_of(stage.entry, "rated_current").typical
    seconds = max(LEAST_TIME, stage.most * volts / amperes)
    last = LAST * into
    ohms = nearest((reference + DROP) / last, task.need.parts.series)
    farads = seconds * into / (volts * math.log1p(into / last))
    rising = task.inner(f"{feedback}_RISE")
    told = (
        f"{why}: up within {show(seconds, 's')}, so that {show(amperes, 'A')} charge at most "
        f"{show(stage.most, 'F')}; I0 T / (V ln(1 + I0 / I1)) with {show(into, 'A')} at the "
        f"beginning and {show(last, 'A')} at the end"
    )
    of = ("class-2", farads)
    draw_capacitor(sheet, task, BLOCK, (stage.out, rising), of, volts, told)
    told = f"{show(reference + DROP, 'V')} / {show(ohms, 'Ω')}: how fast it may be at the end"
    draw_resistor(sheet, task, BLOCK, (rising, ground), ohms, told)
    told = "leads to the feedback pin while the output rises, and blocks in use"
    sheet.add("D", "diode", BLOCK, {"anode": rising, "cathode": feedback}, told, use=DIODE)
    told = "has the capacitor ready again as soon as the output is gone"
    sheet.add("D", "diode", BLOCK, {"anode": ground, "cathode": rising}, told, use=DIODE)


def _passed(sketch: Sketch, net: str) -> set[str]:
    """Nets from which a terminal is fed by coils and leads alone; a net of a switch is none."""
    switches = {pins_of(p)["switch"] for p in sketch.parts if "switch" in pins_of(p)}
    found = {net}
    for _ in sketch.parts:
        for part in sketch.parts:
            nets = set(pins_of(part).values())
            if part["kind"] in PASSES and nets & found:
                found |= nets - switches
    return found
