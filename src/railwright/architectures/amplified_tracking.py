"""The same with an amplifier that sets the difference: it does not move with warmth.

A differential amplifier of four resistors, R1 from the net between and from the output, R2 to the
return and from its own output: difference = Vfb R1/R2. It is supplied from the net between, which
is always above what it has to give.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import ClassVar

from railwright.architectures.architecture import Unserved
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import capacitor
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.resistors import resistor, tolerance_of
from railwright.architectures.tracking import Tracking, TrackingStage
from railwright.catalogue.entry import Entry
from railwright.circuit.writer import NewTable
from railwright.devices.arithmetic import ROOM
from railwright.quantity import Spread, show

ABOVE, BELOW = "DIFF_PLUS", "DIFF_MINUS"
"""Nets at the inputs of the amplifier."""
MATCHED = 1e-3
"""Resistors of the amplifier: with those of a per cent it would take a share of the output itself
for a difference."""
AT_PINS = 100e-9
"""F at its supply (common practice, no source)."""


@dataclass(frozen=True)
class AmplifiedStage(TrackingStage):
    """A step-down stage whose feedback an amplifier makes of the difference."""

    lower: ClassVar[float] = 10e3
    """R2: its bias currents hardly count (common practice, no source)."""
    uppers: ClassVar[Sequence[float]] = (15e3, 18e3, 20e3, 22e3, 24e3, 27e3, 30e3, 33e3, 39e3)
    """R1: from about two volts of difference to five."""

    @cached_property
    def difference(self) -> Spread:
        """At the limits of reference, resistors and amplifier, at both ends of the output [V]."""
        reference, ratio = spread_of(self.entry, "reference"), self.upper / self.lower
        off = tolerance_of(self._matched)
        off = (1.0 + off) / (1.0 - off)
        volts = self.followed.voltage
        ends = [
            above(pin, ratio * one, ratio * other, out) - out
            for pin in (reference.low, reference.high)
            for one, other in product((1.0 / off, off), repeat=2)
            for out in (volts.min, volts.max)
        ]
        moved = (1.0 + ratio) * self._offset(volts.max + max(ends))
        return Spread.limits(min(ends) - moved, reference.typical * ratio, max(ends) + moved)

    @property
    def lag(self) -> float:
        hertz = spread_of(self.amplifier, "unity_gain_frequency").typical
        return (1.0 + self.share) / (2.0 * math.pi * hertz)

    @cached_property
    def amplifier(self) -> Entry:
        """The cheapest whose inputs and output go to the return and which is fast enough.

        Unserved where there is none.
        """
        top = self.followed.voltage.max + spread_of(self.entry, "reference").high * (
            self.upper / self.lower
        )
        clock = spread_of(self.entry, "frequency").typical
        found = [
            entry
            for entry in of_kind(self.task.catalogue, "operational-amplifier")
            if self._works(entry)
            and self.task.bears(entry, "supply_maximum") >= top
            and spread_of(entry, "unity_gain_frequency").typical >= clock * (1.0 + self.share)
        ]
        if not found:
            raise Unserved(
                f"no amplifier of the catalogue that works from its return on stands "
                f"{show(top, 'V')} and reaches {show(clock, 'Hz')} with a gain of "
                f"{show(1.0 + self.share, '1')}"
            )
        return min(found, key=price_of)

    def _works(self, entry: Entry) -> bool:
        """Whether inputs and output are within its supply, the least that it is given."""
        pin, ratio = spread_of(self.entry, "reference"), self.upper / self.lower
        supply = (self.followed.voltage.min + pin.low * ratio) * self.task.kept
        inputs = supply / (1.0 + ratio)
        return (
            spread_of(entry, "input_range_low").high <= 0.0
            and inputs <= supply - spread_of(entry, "input_range_high").high
            and pin.high <= supply - spread_of(entry, "swing_high").high
            and supply >= spread_of(entry, "supply_minimum").high
        )

    def _offset(self, supply: float) -> float:
        """Greatest error at its inputs, with a supply [V]."""
        entry, ambient = self.amplifier, self.task.need.surroundings.ambient
        worst = {
            name: max(abs(spread_of(entry, name).low), abs(spread_of(entry, name).high))
            for name in ("offset", "offset_drift", "common_mode_error", "supply_error")
            if name in entry.values
        }
        inputs = supply / (1.0 + self.upper / self.lower)
        ohms = self.upper * self.lower / (self.upper + self.lower)
        return (
            worst["offset"]
            + worst.get("offset_drift", 0.0) * max(ROOM - ambient.min, ambient.max - ROOM)
            + worst["common_mode_error"]
            * abs(inputs - spread_of(entry, "test_common_mode").typical)
            + worst.get("supply_error", 0.0) * abs(supply - spread_of(entry, "test_supply").typical)
            + spread_of(entry, "offset_current").high * ohms
        )

    @property
    def _matched(self) -> Entry:
        return resistor(self.task, 0.0, MATCHED)

    def draw_setting(
        self, sheet: Sheet, block: str, out: str, feedback: str
    ) -> tuple[NewTable, ...]:
        task, ground = self.task, self.feed.ground
        plus, minus = task.inner(ABOVE), task.inner(BELOW)
        rail = task.terminals(self.followed.name).plus
        use = self._matched.name

        def add(one: str, two: str, ohms: float, told: str) -> None:
            pins, value = {"one": one, "two": two}, show(ohms, "Ω", 4)
            sheet.add("R", "resistor", block, pins, told, use=use, resistance=value)

        add(out, plus, self.upper, f"difference = {self.formula}")
        add(plus, ground, self.lower, f"as the other {show(self.lower, 'Ω')}")
        add(rail, minus, self.upper, f"as the other {show(self.upper, 'Ω')}")
        add(minus, feedback, self.lower, "its own share of the output is taken away with it")
        pins = {"plus": plus, "minus": minus, "output": feedback, "supply": out, "ground": ground}
        hertz = 1.0 / (2.0 * math.pi * self.lag)
        why = (
            f"the difference above the output as a voltage against the return, up to "
            f"{show(hertz, 'Hz')}; {show(self._offset(self.legs.high), 'V')} off at its inputs "
            "at most"
        )
        sheet.add("U", self.amplifier.kind, block, pins, why, use=self.amplifier.name)
        at_pins = capacitor(
            task, "class-2", AT_PINS, self.legs.high, "at its supply (common practice)"
        )
        ends = {"plus": out, "minus": ground}
        sheet.add("C", "capacitor", block, ends, at_pins.why, use=at_pins.entry.name)
        return ()


def above(pin: float, one: float, other: float, output: float) -> float:
    """What a differential amplifier holds above an output [V]: at its plus input `one` is R1/R2.

    Its output is (V/(1 + one)) (1 + 1/other) - output/other (any textbook), and is held at `pin`.

    >>> round(above(1.2, 2.5, 2.5, 10.0), 6)
    13.0
    """
    return (pin + output / other) * (1.0 + one) / (1.0 + 1.0 / other)


class AmplifiedTracking(Tracking):
    """The difference is that of four resistors."""

    name = "tracking step-down with linear, difference set by an amplifier"
    gives_up = "four matched resistors; two loops, one around the other"
    way = AmplifiedStage
