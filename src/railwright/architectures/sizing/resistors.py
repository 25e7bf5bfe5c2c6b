"""Fixed resistors: the cheapest grade that is tight enough and takes the power."""

from __future__ import annotations

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.sizing.choice import of_kind, price_of, spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show

USUAL_TOLERANCE = 0.01
"""Where the need says nothing (common practice, no source)."""
LEADED = "axial"
"""Package of resistors that a hand solders most easily."""


def resistor(task: Task, power: float, tolerance: float) -> Entry:
    """A leaded film resistor for a power [W], as the derating policy allows it.

    Unserved where the catalogue has none.
    """
    found = [
        entry
        for entry in of_kind(task.catalogue, "resistor")
        if entry.package.startswith(LEADED)
        and "film" in entry.trade
        and tolerance_of(entry) <= tolerance * 1.001
        and task.bears(entry, "rated_power") >= power
    ]
    if not found:
        raise Unserved(
            f"no film resistor of {show(tolerance, '1')} takes {show(power, 'W')} "
            f"({task.derating.name})"
        )
    return min(found, key=lambda e: (spread_of(e, "rated_power").high, price_of(e)))


def tolerance_of(entry: Entry) -> float:
    """Half the width of its spread, as a share."""
    spread = spread_of(entry, "resistance")
    return spread.high / spread.typical - 1.0
