"""What a trip that stays is made of: it sees the current and remembers.

Comparator, reference and latch live on what feeds the supply, so that they survive what they do. A
second comparator sees that voltage: while it is too low it holds the latch off, or on, as the need
wants it when the supply comes up. A button sets it free again. Source of the circuit: common
practice, no source; every value has its own formula.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.aside import (
    AWAKE,
    COMPARATOR,
    FIVE,
    TAKES,
    Aside,
    five_of,
    raw_of,
    there_from,
)
from railwright.architectures.guards.current_sense import Nets, Seat
from railwright.architectures.guards.guard import Guard, with_rail
from railwright.architectures.guards.in_the_way import behind, lies_below
from railwright.architectures.guards.threshold import Threshold, threshold
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import capacitor, window_of
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sketched import pins_of, reservoir_of
from railwright.architectures.small_parts import draw_capacitor, draw_resistor
from railwright.circuit.need import Need, Output, Overload
from railwright.circuit.tables import Range
from railwright.circuit.writer import NewTable
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import bracket, nearest

TRIP, LATCH, AUXILIARY = "trip", "latch", "auxiliary"
"""Blocks on the sheet."""
GATE, BUTTON = "4011 type", "push button, closes"
"""Two gates that hold each other."""
LEAST_BIAS = 2e-3
"""A for the reference: twice what it needs at least (datasheets of the 431 type)."""
PULL = 10e3
"""Ω of pull-ups (common practice, no source)."""
BYPASS = 100e-9
"""F, ceramic, at the pins (common practice, no source)."""
HELD = 10e-6
"""F at the rail for logic (common practice, no source)."""
TURNED_UP = 1.25
"""Times the current of the highest setting, a load takes with the knob at its end: tracks and
references make that a quarter more than is wanted (common practice, no source)."""
ZENER_CURRENT = 1.5e-3
"""A at least for the zener of a follower and its base (common practice, no source)."""


@dataclass(frozen=True)
class AnyTrip(Guard):
    """What trips share, whatever they act on."""

    purpose = "overload"
    depth = 50

    known: dict[Need, Threshold] = field(default_factory=dict, compare=False, repr=False)
    """Where it acts, by the need that was asked: it is asked again around every sketch."""

    def wanted(self, task: Task) -> bool:
        overload = self.output(task).overload
        return overload is not None and overload.style == "trip"

    def inside(self, task: Task) -> Task:
        sized, nets = self.sized(task), task.terminals(self.rail)
        inner = self.behind_shunt(task, sized)
        nets = replace(nets, **{"minus" if sized.sense.at_minus else "plus": inner})
        beside = TAKES if task.need.input.kind == "ac" else 0.0
        asked = _asked_inside(replace(self.output(task), nets=nets), sized, beside)
        inside = with_rail(task, asked)
        return replace(inside, between=inside.between + sized.sense.wants)

    def behind_shunt(self, task: Task, sized: Threshold) -> str:
        """Net of the supply inside at which the shunt begins."""
        common = self.output(task).reference == "common with input"
        return task.fed.minus if sized.sense.in_return and common else self.net(task, "SENSED")

    def latch(self, task: Task, sketch: Sketch, stage: NewTable | None = None) -> Latch:
        """What remembers, on what feeds a sketch, or on what feeds a stage of a direct source."""
        if task.need.input.kind == "ac":
            raw = reservoir_of(sketch, below=lies_below(task, self.output(task)))
            self.sized(task).sense.suits(raw.low, raw.high)
            return Latch(self, task, Aside.behind(task, raw), raw.net, raw.ground)
        pins = pins_of(reservoir(sketch) if stage is None else stage)
        ends = (pins["plus"], pins["minus"]) if stage is None else (pins["input"], pins["ground"])
        return Latch(self, task, Aside(task, raw_of(task)), *ends)

    def sized(self, task: Task) -> Threshold:
        """Where it acts; Unserved where nothing keeps the band of the need."""
        if task.need not in self.known:
            self.known[task.need] = self._threshold(task)
        return self.known[task.need]

    def _threshold(self, task: Task) -> Threshold:
        rail = self.output(task)
        overload = rail.overload
        assert overload is not None
        carry = overload.carry or rail.current.max
        several, mains = len(task.need.output), task.need.input.kind == "ac"
        if several > 1 and not mains:
            raise Unserved(
                f"it switches off a supply of one rail; the need has {several}, and without a "
                "transformer they are fed together"
            )
        if overload.act_by is None:
            raise Unserved(f"nobody says by which current {rail.name} is to be off")
        fed = None if mains else Aside(task, raw_of(task)).fed
        seat = Seat(task, rail, five_of(task), fed, lies_below(task, rail))
        comparator = task.catalogue[COMPARATOR]
        more = TURNED_UP * rail.current.max if rail.is_adjustable else carry
        if carry < more < overload.act_by:
            try:
                return threshold(seat, comparator, more, overload.act_by)
            except Unserved:
                pass  # then a knob at its end may trip it; what must be carried, it carries
        return threshold(seat, comparator, carry, overload.act_by)


def fed_by_input(sketch: Sketch) -> set[str]:
    """Nets on the way from the input through fuse and diode; the reservoir's of a transformer."""
    if sketch.rectified:
        return {sketch.rectified[0].net}
    fed: set[str] = set()
    for part in sketch.parts:
        pins = pins_of(part)
        if part["kind"] in ("fuse", "diode") and part["block"] == "input":
            fed.update(pins.values())
    return fed


def reservoir(sketch: Sketch) -> NewTable:
    """The capacitor behind fuse and diode; Unserved where there is none."""
    fed = fed_by_input(sketch)
    for part in sketch.parts:
        if part["kind"] == "capacitor" and pins_of(part)["plus"] in fed:
            return part
    raise Unserved("no capacitor is on what feeds the supply")


def _asked_inside(rail: Output, sized: Threshold, beside: float) -> Output:
    """A rail as the supply inside has to give it; beside: what the latch takes of it [A]."""
    overload = rail.overload
    assert overload is not None
    inside = behind(rail, sized.sense.resistance.high)
    return replace(
        inside,
        current=Range(rail.current.min, max(rail.current.max, overload.carry or 0.0) + beside),
        overload=Overload("none", act_by=sized.currents.high),
    )


@dataclass(frozen=True)
class Latch:
    """All of a trip but what it acts on."""

    guard: AnyTrip
    task: Task
    aside: Aside
    """What it lives on."""
    raw: str
    """Net of what feeds the supply, and stays when that is off."""
    ground: str

    def draw(self, sheet: Sheet) -> None:
        """From the shunt to the gates."""
        sized = self._sized
        instead = f". Not {sized.others}" if sized.others else ""
        sized.sense.draw(sheet, self._nets, f"{sized.words}{instead}")
        self._auxiliary(sheet)
        self._compare(sheet)
        self._latch(sheet)

    @property
    def tripped(self) -> str:
        """Net that is high when the supply is to be off."""
        return self._net("TRIPPED")

    def working(self, sheet: Sheet) -> str:
        """Net that is high when the supply is to work; draws the gate for it."""
        why = "turns over what the latch says: high lets the supply work"
        self._gate(sheet, "C", ("TRIPPED", "TRIPPED"), "WORKING", why)
        return self._net("WORKING")

    @property
    def five(self) -> Spread:
        """What the gates are fed with [V]."""
        return spread_of(self.aside.five, "output_voltage")

    @cached_property
    def _sized(self) -> Threshold:
        return self.guard.sized(self.task)

    @cached_property
    def _nets(self) -> Nets:
        inner = self.guard.behind_shunt(self.task, self._sized)
        aside = self._net("ASIDE") if self.aside.follows else self.raw
        return Nets(inner, self._net("ISENSE"), self._net("V5"), aside, self.ground)

    def _net(self, name: str) -> str:
        return self.guard.net(self.task, name)

    def _auxiliary(self, sheet: Sheet) -> None:
        """The rail for logic."""
        nets, entry = self._nets, self.aside.five
        if nets.raw != self.raw:
            self._follow(sheet)
        why = (
            f"feeds the latch from what feeds the supply: all there from "
            f"{show(there_from(entry), 'V')} on, and still there when the supply is off"
        )
        pins = {"input": nets.raw, "output": nets.five, "ground": nets.ground}
        sheet.add("U", entry.kind, AUXILIARY, pins, why, use=entry.name)
        least = max(HELD, window_of(entry, "output_capacitance")[0])
        window = window_of(entry, "output_series_resistance")
        why = f"at least {show(least, 'F')} (datasheet, or common practice)"
        volts = self.five.high
        held = capacitor(self.task, "electrolytic", least, volts, why, esr=window)
        ends = {"plus": nets.five, "minus": nets.ground}
        sheet.add("C", "capacitor", AUXILIARY, ends, held.why, use=held.entry.name)
        told = f"{show(BYPASS, 'F')} at the pins (common practice)"
        for net, most in ((nets.five, volts), (nets.raw, self.aside.fed[1])):
            of = ("class-2", BYPASS)
            draw_capacitor(sheet, self.task, AUXILIARY, (net, nets.ground), of, most, told)

    def _follow(self, sheet: Sheet) -> None:
        """A transistor that holds what the latch lives on at a zener's voltage."""
        nets, task, (low, high) = self._nets, self.task, self.aside.raw
        zener, base = self.aside.zener, self._net("ASIDE_BASE")
        volts = spread_of(zener, "zener_voltage")
        ohms = bracket((low - volts.high) / ZENER_CURRENT, task.need.parts.series)[0]
        why = f"({show(low, 'V')} - {show(volts.high, 'V')}) / {show(ohms, 'Ω')} for zener and base"
        watts = (high - volts.low) ** 2 / ohms
        draw_resistor(sheet, task, AUXILIARY, (self.raw, base), ohms, why, watts=watts)
        pins, why = {"anode": nets.ground, "cathode": base}, "what the latch is made of stands this"
        sheet.add("D", "zener", AUXILIARY, pins, why, use=zener.name)
        follower = self.aside.follower
        pins = {"collector": self.raw, "base": base, "emitter": nets.raw}
        why = f"a follower of that, up as soon as the input is; stands {show(high, 'V')}"
        sheet.add("Q", follower.kind, AUXILIARY, pins, why, use=follower.name)
        of = ("electrolytic", HELD)
        told = f"{show(HELD, 'F')} (common practice)"
        draw_capacitor(sheet, task, AUXILIARY, (nets.raw, nets.ground), of, volts.high, told)

    def _compare(self, sheet: Sheet) -> None:
        """Reference and both comparators."""
        nets, level, task = self._nets, self._sized.level, self.task
        (low, high), limit = self.aside.raw, self._net("LIMIT")
        cathode = self._net("REFERENCE") if level.down else limit
        series = task.need.parts.series
        left = low - level.cathode
        ohms = bracket(left / (LEAST_BIAS + level.drawn), series)[0]
        why = (
            f"{show(left, 'V')} / {show(ohms, 'Ω')} = {show(left / ohms, 'A')} at least for the "
            "reference"
        )
        draw_resistor(sheet, task, TRIP, (self.raw, cathode), ohms, why, watts=high**2 / ohms)
        told = (
            f"{show(level.volts.typical, 'V')}, {show(level.volts.low, 'V')} to "
            f"{show(level.volts.high, 'V')}"
        )
        level.draw(sheet, TRIP, (limit, cathode, nets.ground), told)
        seen = self._sized.sense.sees(nets)
        why = f"goes low on too much current: {self._sized.words}"
        self._comparator(sheet, limit, seen, self._net("SET"), why)
        awake = AWAKE * low
        upper = nearest(PULL * (awake / level.cathode - 1.0), series)
        at = level.cathode * (1.0 + upper / PULL)
        why = f"{show(level.cathode, 'V')} at {show(at, 'V')} of what feeds the supply"
        seat = self._net("LEVEL")
        draw_resistor(sheet, task, TRIP, (self.raw, seat), upper, why)
        draw_resistor(sheet, task, TRIP, (seat, nets.ground), PULL, why)
        held = "off" if self._comes_up_off else "on"
        why = f"low up to {show(at, 'V')}: until then the latch is held {held}"
        pulled = self._net("SET" if self._comes_up_off else "START")
        self._comparator(sheet, seat, cathode, pulled, why)

    def _comparator(self, sheet: Sheet, plus: str, minus: str, output: str, why: str) -> None:
        nets, entry = self._nets, self.task.catalogue[COMPARATOR]
        pins = {"plus": plus, "minus": minus, "output": output}
        pins |= {"supply": nets.raw, "ground": nets.ground}
        sheet.add("U", entry.kind, TRIP, pins, why, use=entry.name)

    @property
    def _comes_up_off(self) -> bool:
        overload = self.guard.output(self.task).overload
        return overload is not None and overload.at_power_up == "off"

    def _latch(self, sheet: Sheet) -> None:
        """Two gates that hold each other, what pulls them up, and the button."""
        nets = self._nets
        why = f"{show(FIVE / PULL, 'A')} for an open collector (common practice)"
        for net in ("SET", "START"):
            draw_resistor(sheet, self.task, LATCH, (nets.five, self._net(net)), PULL, why)
        told = "remembers an overload; while there is one the button does nothing"
        self._gate(sheet, "A", ("SET", "READY"), "TRIPPED", told)
        self._gate(sheet, "B", ("START", "TRIPPED"), "READY", "holds the other one")
        told = "switches the output on, at first and after a trip"
        entry = self.task.catalogue[BUTTON]
        pins = {"one": self._net("START"), "two": nets.ground}
        sheet.add("S", entry.kind, LATCH, pins, told, use=entry.name)

    def _gate(
        self, sheet: Sheet, unit: str, inputs: tuple[str, str], output: str, why: str
    ) -> None:
        nets, entry = self._nets, self.task.catalogue[GATE]
        pins = dict(zip(("a", "b", "output"), map(self._net, (*inputs, output)), strict=True))
        pins |= {"supply": nets.five, "ground": nets.ground}
        sheet.add("U", entry.kind, LATCH, pins, why, use=entry.name, unit=unit)
