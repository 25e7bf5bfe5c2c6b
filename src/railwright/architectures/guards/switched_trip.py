"""A trip that stays, which acts on a transistor between what feeds the supply and its regulator.

Of a p-channel transistor the source is on what feeds the supply; a small transistor draws its gate
down over a divider while the supply is to work. Source: common practice, no source; every value
has its own formula.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import with_input
from railwright.architectures.guards.latch import AnyTrip, Latch, fed_by_input, raw_of
from railwright.architectures.guards.p_channel import (
    PChannel,
    none_carries,
    p_channels,
    transistors,
)
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import window_of
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.small_parts import draw_capacitor, draw_resistor
from railwright.catalogue.entry import Entry
from railwright.circuit.writer import NewTable
from railwright.quantity import show
from railwright.standards.iec60063 import bracket

BLOCK = "switch"
OVERDRIVE = 10.0
"""Times the base current that the least gain needs (common practice, no source)."""
BASE = 0.7
"""V from base to emitter of a small transistor, about."""
BYPASS = 100e-9
"""F, ceramic, at the pins of what is switched (common practice, no source)."""
LEFT = 2.0
"""Times the capacitance wanted is that of a ceramic one, of which voltage and warmth leave half
(common practice, no source)."""


@dataclass(frozen=True)
class SwitchedTrip(AnyTrip):
    """What it switches has no pin for that."""

    name = "trip with a switch"
    preference = 1

    def inside(self, task: Task) -> Task:
        inside, switch = super().inside(task), self._switch(task)
        source = inside.need.input
        return with_input(inside, replace(source, resistance=source.resistance + switch.on))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        raw, ground = _reservoir(sketch)
        latch, sheet = Latch(self, task, raw, ground), Sheet.of(sketch.parts)
        switched, behind = self.net(task, "SWITCHED"), _behind(sketch, raw)
        for ref, pin in behind:
            sheet.join(ref, pin, switched)
        latch.draw(sheet)
        self._draw(task, sheet, latch, switched)
        held = LEFT * _wanted(task, sketch, {ref for ref, _ in behind})
        why = f"at least {show(held, 'F')} at the pins of what is switched (datasheet)"
        ends, of = (switched, ground), ("class-2", held)
        draw_capacitor(sheet, task, BLOCK, ends, of, raw_of(task)[1], why)
        return replace(sketch, parts=tuple(sheet.parts))

    def _switch(self, task: Task) -> PChannel:
        """The cheapest transistor; Unserved where none carries and withstands what there is."""
        fed, current = raw_of(task), self.sized(task).currents.high
        refused: list[Unserved] = []
        for entry in p_channels(task, current, fed[1]):
            switch = PChannel(task, entry, current, fed)
            try:
                assert switch.divider
                assert switch.cooling
            except Unserved as unserved:
                refused.append(Unserved(f"{entry.name}: {unserved.reason}"))
                continue
            return switch
        raise refused[-1] if refused else none_carries(current, fed[1])

    def _draw(self, task: Task, sheet: Sheet, latch: Latch, switched: str) -> None:
        """The transistor, and what drives it."""
        switch, (low, high) = self._switch(task), raw_of(task)
        entry, cooling = switch.entry, switch.cooling
        gate, drawn, base = (self.net(task, name) for name in ("GATE", "DRAWN", "DRIVE_BASE"))
        tab, sink = self.net(task, "SWITCH_TAB"), self.net(task, "SWITCH_SINK")
        case = {"case": tab} if cooling.sink is not None else {}
        pins = {"source": latch.raw, "drain": switched, "gate": gate} | case
        why = (
            f"{show(switch.current, 'A')} in at most {show(switch.on, 'Ω')}, hot: "
            f"{show(switch.loss, 'W')}; {cooling.why}"
        )
        sheet.add("Q", entry.kind, BLOCK, pins, why, use=entry.name)
        draw_cooling(sheet, cooling, tab, sink, BLOCK)
        upper, lower = switch.divider
        share = upper / (upper + lower)
        why = f"{show(low * share, 'V')} to {show(high * share, 'V')} at the gate while it is on"
        draw_resistor(sheet, task, BLOCK, (latch.raw, gate), upper, why)
        watts = (high * (1.0 - share)) ** 2 / lower
        draw_resistor(sheet, task, BLOCK, (gate, drawn), lower, why, watts=watts)
        current = high / (upper + lower)
        driver = self._driver(task, current)
        gain = spread_of(driver, "current_gain").low
        ohms = (latch.five.low - BASE) / (OVERDRIVE * current / gain)
        ohms = bracket(ohms, task.need.parts.series)[0]
        why = (
            f"{show(OVERDRIVE, '1')} times what {show(current, 'A')} and a gain of {gain:.0f} want"
        )
        draw_resistor(sheet, task, BLOCK, (latch.working(sheet), base), ohms, why)
        pins = {"collector": drawn, "base": base, "emitter": latch.ground}
        told = "draws the gate down while the supply is to work"
        sheet.add("Q", driver.kind, BLOCK, pins, told, use=driver.name)

    def _driver(self, task: Task, current: float) -> Entry:
        _, high = raw_of(task)
        found = [
            entry
            for entry in transistors(task, "bipolar-transistor", "polarity", "npn")
            if "case" not in entry.pins and task.bears(entry, "collector_emitter_voltage") >= high
        ]
        if not found:
            raise Unserved(f"no small npn transistor of the catalogue stands {show(high, 'V')}")
        return found[0]


def _reservoir(sketch: Sketch) -> tuple[str, str]:
    """Nets of the capacitor behind fuse and diode; Unserved where a converter works from it."""
    fed = fed_by_input(sketch)
    for part in sketch.parts:
        if "switch" in _pins(part):
            raise Unserved("the pulses of a converter want their capacitor behind the switch")
    for part in sketch.parts:
        pins = _pins(part)
        if part["kind"] == "capacitor" and pins["plus"] in fed:
            return pins["plus"], pins["minus"]
    raise Unserved("no capacitor is on what feeds the supply")


def _behind(sketch: Sketch, raw: str) -> list[tuple[str, str]]:
    """Refs and pins on a net that belong to what is switched: all but the input's own parts."""
    return [
        (str(part["ref"]), pin)
        for part in sketch.parts
        if part["block"] != "input"
        for pin, net in _pins(part).items()
        if net == raw
    ]


def _wanted(task: Task, sketch: Sketch, refs: set[str]) -> float:
    """Capacitance that parts ask for at their input [F]."""
    entries = [task.catalogue[str(p["use"])] for p in sketch.parts if str(p["ref"]) in refs]
    return max([BYPASS, *(window_of(entry, "input_capacitance")[0] for entry in entries)])


def _pins(part: NewTable) -> Mapping[str, str]:
    pins = part["pins"]
    assert isinstance(pins, Mapping)
    return pins
