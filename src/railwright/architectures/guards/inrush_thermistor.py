"""A thermistor against the inrush, whose resistance falls as the supply warms it.

It is chosen for what is left of it when the supply is switched off and on again at once, hot; and
the supply has to start on what it has in the coldest air.
"""

from __future__ import annotations

from dataclasses import dataclass

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.guards.in_the_way import drawn
from railwright.architectures.guards.inrush import (
    BLOCK,
    OWN,
    InTheWay,
    brought,
    needed,
    overloaded,
)
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.choice import of_kind, price_of
from railwright.architectures.sizing.thermistors import coldest, hottest
from railwright.catalogue.entry import Entry
from railwright.quantity import show

LIMITERS = "NTC inrush"
"""How the trade calls those that are made for it."""


@dataclass(frozen=True)
class InrushThermistor(InTheWay):
    """Where no resistor bears an overload, or drops too much."""

    name = "thermistor against the inrush"
    preference = 2

    def resistance(self, task: Task) -> tuple[float, float]:
        entry, air = self.chosen(task), task.need.surroundings.ambient
        return hottest(entry, drawn(task), air.max)[1], coldest(entry, air.min)

    def chosen(self, task: Task) -> Entry:
        """The cheapest one that has enough left, hot; of these the least in the cold."""
        wanted, air = needed(task, OWN + brought(task)), task.need.surroundings.ambient
        most = 0.0
        found = []
        for entry in of_kind(task.catalogue, "ntc-thermistor"):
            if not entry.name.startswith(LIMITERS):
                continue
            if overloaded(task) > task.bears(entry, "rated_current"):
                continue
            warm, least = hottest(entry, drawn(task), air.max)
            most = max(most, least)
            if least >= wanted and warm <= task.hottest(entry):
                found.append(entry)
        if not found:
            raise Unserved(
                f"switched on again while it is hot, {show(wanted, 'Ω')} are wanted; of the "
                f"thermistors that bear {show(overloaded(task), 'A')} at most {show(most, 'Ω')} "
                "are left then"
            )
        return min(found, key=lambda each: (price_of(each), coldest(each, air.min)))

    def draw(self, task: Task, sheet: Sheet, ends: tuple[str, str], told: str) -> None:
        entry, current = self.chosen(task), drawn(task)
        least, most = self.resistance(task)
        why = (
            f"{told}; {show(most, 'Ω')} at most in the coldest air, {show(least, 'Ω')} at least "
            f"when {show(current, 'A')} have warmed it and the source is connected again at once "
            "(R25 exp(B (1/T - 1/T25)), IEC 60539-1)"
        )
        pins = {"one": ends[0], "two": ends[1]}
        sheet.add("R", entry.kind, BLOCK, pins, why, use=entry.name)
