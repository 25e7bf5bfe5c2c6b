"""Step-down pre-regulator that stays a difference above an adjustable linear post-regulator.

A pnp transistor has its base at the output and its emitter, over R1, at the net between both; its
collector gives R2 the feedback: difference = Veb + Vfb R1/R2. The loop passes R2/R1 of the net
between on, more than a divider would.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.base_voltage import base_voltage
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.architectures.sizing.resistors import tolerance_of
from railwright.architectures.tracking import Tracking, TrackingStage
from railwright.catalogue.entry import Entry
from railwright.circuit.writer import NewTable
from railwright.quantity import Spread, show

SHIFT = "SHIFT"
"""Net at the transistor's emitter."""
WARMER = 15.0
"""K above the hottest air is a small transistor on the board (common practice, no source)."""


@dataclass(frozen=True)
class JunctionStage(TrackingStage):
    """A step-down stage whose feedback is a level shift from the output of what it feeds."""

    lower: ClassVar[float] = 1e3
    """R2: a milliampere through the transistor (common practice, no source)."""
    uppers: ClassVar[Sequence[float]] = (680.0, 1e3, 1.2e3, 1.5e3, 1.8e3, 2.2e3, 2.7e3, 3.3e3)
    """R1: from a volt and a half of difference to five."""

    @cached_property
    def shift(self) -> Entry:
        """The transistor."""
        return _shift(self.task, self.feed.high)

    @cached_property
    def difference(self) -> Spread:
        """At the limits of reference, resistors, transistor, warmth [V]."""
        reference, base = spread_of(self.entry, "reference"), self._base
        off = tolerance_of(self._grade)
        off = (1.0 + off) / (1.0 - off)
        ratio = self.upper / self.lower
        gain = 1.0 + 1.0 / spread_of(self.shift, "current_gain").low
        return Spread.limits(
            base.low + reference.low * ratio / off,
            base.typical + reference.typical * ratio,
            base.high + reference.high * ratio * off * gain,
        )

    @property
    def _base(self) -> Spread:
        """Voltage of its base at the current of R2, over the ambient [V]."""
        current = spread_of(self.entry, "reference").typical / self.lower
        ambient = self.task.need.surroundings.ambient
        return base_voltage(self.shift, current, ambient.min, ambient.max + WARMER)

    def draw_setting(
        self, sheet: Sheet, block: str, out: str, feedback: str
    ) -> tuple[NewTable, ...]:
        at = self.task.inner(SHIFT)

        def add(one: str, two: str, ohms: float, told: str) -> None:
            pins, value = {"one": one, "two": two}, show(ohms, "Ω", 4)
            sheet.add("R", "resistor", block, pins, told, use=self.resistor, resistance=value)

        add(out, at, self.upper, f"difference = Veb + {self.formula}")
        base = self.task.terminals(self.followed.name).plus
        pins = {"emitter": at, "base": base, "collector": feedback}
        told = "turns the difference above the output into a voltage against the return"
        sheet.add("Q", self.shift.kind, block, pins, told, use=self.shift.name)
        current = show(spread_of(self.entry, "reference").typical / self.lower, "A")
        add(feedback, self.feed.ground, self.lower, f"{current} through the transistor")
        return ()


class TrackingLinear(Tracking):
    """The difference is that of a transistor's junction and a resistor."""

    name = "tracking step-down with linear"
    gives_up = "two loops, one around the other; below a volt the first one no longer follows"
    way = JunctionStage


def _shift(task: Task, highest: float) -> Entry:
    """The cheapest small pnp transistor that stands the input [V]; Unserved where there is none."""
    found = [
        entry
        for entry in of_kind(task.catalogue, "bipolar-transistor")
        if entry.options.get("polarity") == "pnp"
        and "case" not in entry.pins
        and task.bears(entry, "collector_emitter_voltage") >= highest
    ]
    if not found:
        raise Unserved(f"no small pnp transistor of the catalogue stands {show(highest, 'V')}")
    return min(found, key=price_of)
