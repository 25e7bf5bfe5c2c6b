"""A resistor against the inrush, that stays in the way."""

from __future__ import annotations

from dataclasses import dataclass

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.guards.inrush import (
    BLOCK,
    OWN,
    InTheWay,
    brought,
    needed,
    overloaded,
)
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import Spread, show
from railwright.standards.iec60063 import bracket

WOUND = "wirewound-resistor"
"""Kind of resistors that bear pulses."""


@dataclass(frozen=True)
class InrushResistor(InTheWay):
    """Where the supply does without what it drops, and it bears what an overload makes of it."""

    name = "resistor against the inrush"
    preference = 1

    def resistance(self, task: Task) -> tuple[float, float]:
        ohms, entry = self.chosen(task)
        own = spread_of(entry, "resistance")
        ends = Spread.tolerance(ohms, own.high / own.typical - 1.0)
        return ends.low, ends.high

    def chosen(self, task: Task) -> tuple[float, Entry]:
        """Its resistance [Ω], and the cheapest type that bears it."""
        wanted = needed(task, OWN + brought(task))
        if wanted <= 0.0:
            raise Unserved("what the loads bring wants none")
        found = []
        for entry in of_kind(task.catalogue, WOUND):
            own = spread_of(entry, "resistance")
            ohms = bracket(wanted * own.typical / own.low, task.need.parts.series)[1]
            watts = overloaded(task) ** 2 * ohms * own.high / own.typical
            if watts <= task.bears(entry, "rated_power"):
                found.append((ohms, entry))
        if not found:
            lasting = overloaded(task)
            raise Unserved(
                f"{show(wanted, 'Ω')} would take {show(lasting**2 * wanted, 'W')} at the "
                f"{show(lasting, 'A')} of an overload; no wirewound resistor does"
            )
        return min(found, key=lambda each: price_of(each[1]))

    def draw(self, task: Task, sheet: Sheet, ends: tuple[str, str], told: str) -> None:
        ohms, entry = self.chosen(task)
        lasting = overloaded(task)
        why = f"{told}; {show(lasting**2 * ohms, 'W')} at the {show(lasting, 'A')} of an overload"
        pins, value = {"one": ends[0], "two": ends[1]}, show(ohms, "Ω", 4)
        sheet.add("R", entry.kind, BLOCK, pins, why, use=entry.name, resistance=value)
