"""A trip that stays, which acts on a transistor between what feeds the supply and its regulator.

Of a p-channel transistor the source is on what feeds the supply; a small transistor draws its gate
down over a divider while the supply is to work. Of a rail below another one an n-channel transistor
is in the lower lead, and a small one holds its gate down while the supply is to be off. Source:
common practice, no source; every value has its own formula.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from railwright.architectures.architecture import Sketch, Task, Unserved
from railwright.architectures.guards.aside import raw_of
from railwright.architectures.guards.at_pins import hold_at_pins
from railwright.architectures.guards.guard import with_input
from railwright.architectures.guards.in_the_way import lies_below
from railwright.architectures.guards.latch import AnyTrip, Latch
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
    def across(self) -> float:
        """V across the lower one, most."""
        return self.raw[1] * (1.0 - self.share) if self.zener is None else self.raw[1]

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
        for part in sketch.parts:
            if "switch" in pins_of(part):
                raise Unserved("the pulses of a converter want their capacitor behind the switch")
        latch, sheet = self.latch(task, sketch), Sheet.of(sketch.parts)
        below = lies_below(task, self.output(task))
        fed, far = (latch.ground, latch.raw) if below else (latch.raw, latch.ground)
        switched, behind = self.net(task, "SWITCHED"), behind_reservoir(sketch, fed)
        for ref, pin in behind:
            sheet.join(ref, pin, switched)
        latch.draw(sheet)
        switch = self._switch(task, latch.aside.raw)
        (self._draw_lower if below else self._draw_upper)(sheet, latch, switch, switched)
        refs, ends = {ref for ref, _ in behind}, (far, switched) if below else (switched, far)
        hold_at_pins(sheet, task, BLOCK, sketch, refs, ends, latch.aside.raw[1])
        return replace(sketch, parts=tuple(sheet.parts))

    def _switch(self, task: Task, raw: tuple[float, float]) -> _Switch:
        """The cheapest transistor; Unserved where none carries and withstands what there is.

        raw: V that it switches, least and most. Behind a transformer it may lose `MOST_LOST`.
        """
        _, high = raw
        current = self.sized(task).currents.high
        channel = "n" if lies_below(task, self.output(task)) else "p"
        refused: list[Unserved] = []
        for entry in transistors(task, "field-effect-transistor", "channel", channel):
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
            f"no {channel}-channel transistor of the catalogue switches {show(current, 'A')} of "
            f"{show(high, 'V')}"
        )

    def _draw_upper(self, sheet: Sheet, latch: Latch, switch: _Switch, switched: str) -> None:
        """A p-channel transistor, whose gate a small one draws down while the supply works."""
        own, drawn = switch.gate, self.net(latch.task, "DRAWN")
        self._draw_switch(sheet, latch, switch, switched, (latch.raw, drawn))
        told = "draws the gate down while the supply is to work"
        self._draw_driver(sheet, latch, own, (drawn, latch.working(sheet)), told)

    def _draw_lower(self, sheet: Sheet, latch: Latch, switch: _Switch, switched: str) -> None:
        """An n-channel transistor in the lower lead, whose gate a small one holds down after a
        trip."""
        gate = self.net(latch.task, "GATE")
        self._draw_switch(sheet, latch, switch, switched, (latch.ground, latch.raw))
        told = "holds the gate down while the supply is to be off"
        self._draw_driver(sheet, latch, switch.gate, (gate, latch.tripped), told)

    def _draw_switch(
        self,
        sheet: Sheet,
        latch: Latch,
        switch: _Switch,
        switched: str,
        ends: tuple[str, str],
    ) -> None:
        """The transistor and what its gate is drawn by; ends: source, and the divider's far end."""
        task, own, cooling = latch.task, switch.gate, switch.cooling
        source, far = ends
        gate, high = self.net(task, "GATE"), latch.aside.raw[1]
        tab, sink = self.net(task, "SWITCH_TAB"), self.net(task, "SWITCH_SINK")
        case = {"case": tab} if cooling.sink is not None else {}
        pins = {"source": source, "drain": switched, "gate": gate} | case
        why = (
            f"{show(switch.current, 'A')} in at most {show(switch.on, 'Ω')}, hot: "
            f"{show(switch.loss, 'W')}; {cooling.why}"
        )
        sheet.add("Q", switch.entry.kind, BLOCK, pins, why, use=switch.entry.name)
        draw_cooling(sheet, cooling, tab, sink, BLOCK)
        least, most = own.volts
        why = f"{show(least, 'V')} to {show(most, 'V')} at the gate while it is on"
        draw_resistor(sheet, task, BLOCK, (source, gate), own.upper, why)
        if own.zener is not None:
            lower = source == latch.ground
            pins = (
                {"anode": source, "cathode": gate} if lower else {"anode": gate, "cathode": source}
            )
            told = f"no more than {show(most, 'V')} of {show(high, 'V')} at the gate"
            sheet.add("D", "zener", BLOCK, pins, told, use=own.zener.name)
        watts = own.across**2 / own.lower
        draw_resistor(sheet, task, BLOCK, (gate, far), own.lower, why, watts=watts)

    def _draw_driver(
        self, sheet: Sheet, latch: Latch, own: _Gate, nets: tuple[str, str], why: str
    ) -> None:
        """The small transistor; nets: its collector, and what of the latch drives it."""
        task, base = latch.task, self.net(latch.task, "DRIVE_BASE")
        collector, driven = nets
        current = own.across / own.lower
        driver = self._driver(task, latch.aside.raw[1])
        gain = spread_of(driver, "current_gain").low
        ohms = (latch.five.low - BASE) / (OVERDRIVE * current / gain)
        ohms = bracket(ohms, task.need.parts.series)[0]
        told = (
            f"{show(OVERDRIVE, '1')} times what {show(current, 'A')} and a gain of {gain:.0f} want"
        )
        draw_resistor(sheet, task, BLOCK, (driven, base), ohms, told)
        pins = {"collector": collector, "base": base, "emitter": latch.ground}
        sheet.add("Q", driver.kind, BLOCK, pins, why, use=driver.name)

    def _driver(self, task: Task, high: float) -> Entry:
        found = [
            entry
            for entry in transistors(task, "bipolar-transistor", "polarity", "npn")
            if "case" not in entry.pins and task.bears(entry, "collector_emitter_voltage") >= high
        ]
        if not found:
            raise Unserved(f"no small npn transistor of the catalogue stands {show(high, 'V')}")
        return found[0]
