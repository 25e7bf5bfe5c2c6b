"""A trip that stays, which acts on a transistor between what feeds the supply and its regulator.

Of a p-channel transistor the source is on what feeds the supply; a small transistor draws its gate
down over a divider while the supply is to work. Source: common practice, no source; every value
has its own formula.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.aside import Aside, raw_of
from railwright.architectures.guards.at_pins import hold_at_pins
from railwright.architectures.guards.guard import with_input
from railwright.architectures.guards.latch import AnyTrip, Latch, fed_by_input
from railwright.architectures.guards.p_channel import (
    LEAST_LOWER,
    UPPERS,
    PChannel,
    transistors,
)
from railwright.architectures.regulator_parts import draw_cooling
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.resistors import USUAL_TOLERANCE
from railwright.architectures.sketched import behind_reservoir, pins_of
from railwright.architectures.small_parts import draw_resistor
from railwright.catalogue.entry import Entry
from railwright.quantity import show
from railwright.standards.iec60063 import bracket, nearest

BLOCK = "switch"
OVERDRIVE = 10.0
"""Times the base current that the least gain needs (common practice, no source)."""
MOST_LOST = 0.5
"""V in it behind a transformer, for which a reservoir leaves room (common practice, no source)."""
BASE = 0.7
"""V from base to emitter of a small transistor, about."""


@dataclass(frozen=True)
class _Gate:
    """What draws the gate of a p-channel transistor down [Ω]."""

    upper: float
    """From source to gate."""
    lower: float
    """From there to what draws it down."""
    raw: tuple[float, float]
    """V of the source, least and most."""
    zener: Entry | None = None
    """Beside the upper one."""

    @property
    def share(self) -> float:
        return self.upper / (self.upper + self.lower)

    @property
    def clamped(self) -> tuple[float, float]:
        """V that a zener diode alone leaves the gate, least and most, at what flows through it."""
        assert self.zener is not None
        volts = spread_of(self.zener, "zener_voltage")
        beyond = self.raw[1] / self.lower - spread_of(self.zener, "test_current").typical
        slope = spread_of(self.zener, "dynamic_resistance").high
        # what leaks below the bend takes the gate down long before it is let go
        return volts.low - SOFT, volts.high + max(beyond, 0.0) * slope

    @property
    def volts(self) -> tuple[float, float]:
        """V at the gate while it is on, least and most."""
        least, most = (self.share * volts for volts in self.raw)
        return least, most if self.zener is None else min(most, self.clamped[1])


@dataclass(frozen=True)
class _Switch(PChannel):
    """One that carries what the supply takes, its gate drawn down over a divider."""

    @cached_property
    def gate(self) -> _Gate:
        """What draws its gate down; Unserved where nothing keeps the gate's window.

        A divider alone, or one with a zener diode from gate to source where what feeds it moves by
        more than the window is wide.
        """
        (low, high), may, series = self.fed, self.most, self.task.need.parts.series
        off = 2.0 * (self.task.need.parts.resistor_tolerance or USUAL_TOLERANCE)
        for least in self.gates():
            for about in UPPERS:
                upper = nearest(about, series)
                lower = upper * (high / may * (1.0 + off) - 1.0)
                lower = bracket(max(lower, LEAST_LOWER), series)[1]
                if low * upper / (upper + lower) >= least:
                    return _Gate(upper, lower, self.fed)
            lower = UPPERS[0] * (low / least / (1.0 + off) - 1.0)
            if lower < LEAST_LOWER:
                continue
            lower = bracket(lower, series)[0]
            for zener in sorted(of_kind(self.task.catalogue, "zener"), key=price_of):
                found = _Gate(nearest(UPPERS[0], series), lower, self.fed, zener)
                if found.clamped[0] >= least and found.clamped[1] <= may:
                    return found
        raise self.gateless


SOFT = 0.5
"""V below its voltage at which a zener diode still draws some of what a divider gives (common
practice, no source)."""


@dataclass(frozen=True)
class SwitchedTrip(AnyTrip):
    """What it switches has no pin for that."""

    name = "trip with a switch"
    preference = 1

    def inside(self, task: Task) -> Task:
        inside, source = super().inside(task), task.need.input
        if source.kind == "ac":  # the reservoir, and so the transistor, is not known yet
            return replace(inside, between=inside.between + MOST_LOST)
        switch = self._switch(task, raw_of(task))
        return with_input(inside, replace(source, resistance=source.resistance + switch.on))

    def around(self, task: Task, sketch: Sketch) -> Sketch:
        raw, ground = _reservoir(sketch)
        aside = Aside.of(task, sketch)
        latch, sheet = Latch(self, task, aside, raw, ground), Sheet.of(sketch.parts)
        switched, behind = self.net(task, "SWITCHED"), behind_reservoir(sketch, raw)
        for ref, pin in behind:
            sheet.join(ref, pin, switched)
        latch.draw(sheet)
        self._draw(task, sheet, latch, switched)
        refs = {ref for ref, _ in behind}
        hold_at_pins(sheet, task, BLOCK, sketch, refs, (switched, ground), aside.raw[1])
        return replace(sketch, parts=tuple(sheet.parts))

    def _switch(self, task: Task, raw: tuple[float, float]) -> _Switch:
        """The cheapest transistor; Unserved where none carries and withstands what there is.

        raw: V that it switches, least and most. Behind a transformer it may lose `MOST_LOST`.
        """
        _, high = raw
        current = self.sized(task).currents.high
        refused: list[Unserved] = []
        for entry in transistors(task, "field-effect-transistor", "channel", "p"):
            switch = _Switch(task, entry, current, raw)
            if high > task.bears(entry, "drain_source_voltage"):
                continue
            if current > task.bears(entry, "drain_current"):
                continue
            if task.need.input.kind == "ac" and current * switch.on > MOST_LOST:
                lost = f"{show(current * switch.on, 'V')} would be lost in it"
                refused.append(Unserved(f"{entry.name}: {lost}; {show(MOST_LOST, 'V')} may be"))
                continue
            try:
                assert switch.gate
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
        high = latch.aside.raw[1]
        switch = self._switch(task, latch.aside.raw)
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
        own = switch.gate
        least, most = own.volts
        why = f"{show(least, 'V')} to {show(most, 'V')} at the gate while it is on"
        draw_resistor(sheet, task, BLOCK, (latch.raw, gate), own.upper, why)
        if own.zener is not None:
            pins = {"anode": gate, "cathode": latch.raw}
            told = f"no more than {show(most, 'V')} of {show(high, 'V')} at the gate"
            sheet.add("D", "zener", BLOCK, pins, told, use=own.zener.name)
        across = high * (1.0 - own.share) if own.zener is None else high
        draw_resistor(
            sheet, task, BLOCK, (gate, drawn), own.lower, why, watts=across**2 / own.lower
        )
        current = across / own.lower
        driver = self._driver(task, high)
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

    def _driver(self, task: Task, high: float) -> Entry:
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
        if "switch" in pins_of(part):
            raise Unserved("the pulses of a converter want their capacitor behind the switch")
    for part in sketch.parts:
        pins = pins_of(part)
        if part["kind"] == "capacitor" and pins["plus"] in fed:
            return pins["plus"], pins["minus"]
    raise Unserved("no capacitor is on what feeds the supply")
