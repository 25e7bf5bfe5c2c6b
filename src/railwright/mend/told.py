"""A diagnosis on the terminal: suspects with their probabilities, and the next reading."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from railwright.bench.reading import ALONE, Place
from railwright.mend.diagnosis import Diagnosis
from railwright.mend.predicted import LOADED, Supply
from railwright.pages.narrow import GAP, Narrow
from railwright.pages.wording import printable
from railwright.quantity import show

SHOWN = 8
"""Suspects that are listed."""
LEAST = 0.005
"""Probability below which a suspect is not listed."""
MOST_ALIKE = 6
SUSPECTED = 0.05
"""Probability of a short from which on a reading with power is asked for with a caution."""


class Suspicion(Narrow):
    """What is suspected after so many readings."""

    def __init__(self, found: Diagnosis, readings: int, supply: Supply) -> None:
        self.found, self.readings, self.supply = found, readings, supply

    def parts(self) -> Iterator[RenderableType]:
        ranked = [each for each in self.found.ranked[:SHOWN] if each.probability >= LEAST]
        table = Table.grid(padding=(0, GAP, 0, 0))
        for each in ranked:
            chance = f"{100.0 * each.probability:.0f} %"
            table.add_row(Text(chance, justify="right"), Text(printable(each.words)))
            if each.because:
                table.add_row("", Text(printable(each.because), style="dim"))
        yield Text(f"After {self.readings} reading{'s' * (self.readings != 1)}:", style="bold")
        yield table
        alike = [s.words for s in self.found.group[1:]]
        if alike:
            more = f" and {len(alike) - MOST_ALIKE} more" if len(alike) > MOST_ALIKE else ""
            told = ", ".join(alike[:MOST_ALIKE])
            yield Text(printable(f"No reading here tells the first from: {told}{more}."))
        if self.found.unjudged:
            yield Text(f"{self.found.unjudged} suspects could not be solved; they stay possible.")
        if self.found.next is None:
            yield Text("No further reading here would tell more.")
        else:
            bits = f"{self.found.information:.1f} bit"
            yield Text(printable(f"Read next: {self.found.next.told} ({bits} expected)."))
            for text in precautions(self.found, self.supply, self.found.next):
                yield Text(printable(text))


def precautions(found: Diagnosis, supply: Supply, place: Place) -> Iterator[str]:
    """What has to be done before a reading is taken, in sentences."""
    if place.quantity == "resistance":
        yield "Without power, capacitors discharged, by a meter whose test voltage is below 0.2 V."
        if place.under.endswith(ALONE):
            part = place.under.removesuffix(ALONE)
            yield f"The meter stands across {part} alone. Solder the lead in again afterwards."
        return
    if place.under == LOADED:
        for load in supply.loads:
            ohms, watts = show(load.ohms, "Ω", 2), show(load.watts, "W", 2)
            yield f"The load: {ohms} for at least {watts} from {load.plus} to {load.minus}."
    if found.shorted > SUSPECTED:
        yield (
            "Something may be shorted: feed it from a bench source whose current limit is set low, "
            "and raise the voltage from nothing."
        )
