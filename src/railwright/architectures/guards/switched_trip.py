"""A trip that stays, which acts on a transistor between what feeds the supply and its regulator.

Of a p-channel transistor the source is on what feeds the supply; a small transistor draws its gate
down over a divider while the supply is to work. Source: common practice, no source; every value
has its own formula.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.guard import with_input
from railwright.architectures.guards.latch import AnyTrip, Latch, fed_by_input, raw_of
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import window_of
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.cooling import Cooling, coolings
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE
from railwright.architectures.small_parts import draw_capacitor, draw_resistor
from railwright.catalogue.entry import Entry
from railwright.circuit.writer import NewTable
from railwright.quantity import show
from railwright.standards.iec60063 import bracket, nearest

BLOCK = "switch"
UPPERS = 10e3, 11e3, 12e3, 13e3, 9.1e3, 8.2e3
"""Ω from gate to source, near which they are tried: turn it off in some ten microseconds (common
practice, no source)."""
USUAL_GATE = 0.8
"""Share of the gate voltage of the on-resistance from which on that counts, as in the check
`headroom.gate-drive`."""
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
class _Switch:
    """A p-channel transistor that carries what the supply takes."""

    task: Task
    entry: Entry
    current: float
    """A at most."""

    @property
    def on(self) -> float:
        """Resistance at most, hot [Ω]."""
        return (
            spread_of(self.entry, "on_resistance").high * spread_of(self.entry, "warm_factor").high
        )

    @property
    def loss(self) -> float:
        """While it is on [W]."""
        return self.current**2 * self.on

    @cached_property
    def divider(self) -> tuple[float, float]:
        """Ω from source to gate, and from there to what draws it down.

        Unserved where none keeps the gate's window.
        """
        low, high = raw_of(self.task)
        reserve, series = self.task.need.parts.reserve, self.task.need.parts.series
        published = spread_of(self.entry, "on_gate_voltage").typical
        wanted = USUAL_GATE * published
        may = self.task.bears(self.entry, "gate_source_voltage")
        off = 2.0 * (self.task.need.parts.resistor_tolerance or USUAL_TOLERANCE)
        for spare in (reserve, 0.0):
            for about in UPPERS:
                upper = nearest(about, series)
                least = upper * (high / may * (1.0 + off) - 1.0)
                lower = bracket(max(least, LEAST_LOWER), series)[1]
                if low * upper / (upper + lower) >= wanted + spare * published:
                    return upper, lower
        raise Unserved(
            f"its gate wants {show(wanted, 'V')} of {show(low, 'V')}, and may have "
            f"{show(may, 'V')} of {show(high, 'V')}"
        )

    @cached_property
    def cooling(self) -> Cooling:
        """What keeps it cool."""
        limit = self.task.hottest(self.entry)
        hottest = self.task.need.surroundings.ambient.max
        return coolings(self.task.catalogue, self.entry, self.loss, hottest, limit)[0]


LEAST_LOWER = 1e3
"""Ω of that at least: the small transistor carries no more than some milliamperes."""


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

    def _switch(self, task: Task) -> _Switch:
        """The cheapest transistor; Unserved where none carries and withstands what there is."""
        _, high = raw_of(task)
        current = self.sized(task).currents.high
        refused: list[Unserved] = []
        for entry in _transistors(task, "field-effect-transistor", "channel", "p"):
            switch = _Switch(task, entry, current)
            if high > task.bears(entry, "drain_source_voltage"):
                continue
            if current > task.bears(entry, "drain_current"):
                continue
            try:
                assert switch.divider
                assert switch.cooling
            except Unserved as unserved:
                refused.append(Unserved(f"{entry.name}: {unserved.reason}"))
                continue
            return switch
        if refused:
            raise refused[-1]
        raise Unserved(
            f"no p-channel transistor of the catalogue switches {show(current, 'A')} of "
            f"{show(high, 'V')}"
        )

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
            for entry in _transistors(task, "bipolar-transistor", "polarity", "npn")
            if "case" not in entry.pins and task.bears(entry, "collector_emitter_voltage") >= high
        ]
        if not found:
            raise Unserved(f"no small npn transistor of the catalogue stands {show(high, 'V')}")
        return found[0]


def _transistors(task: Task, kind: str, option: str, wanted: str) -> Sequence[Entry]:
    """Of a kind and polarity, the cheapest first."""
    found = [e for e in of_kind(task.catalogue, kind) if e.options.get(option) == wanted]
    return sorted(found, key=price_of)


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
