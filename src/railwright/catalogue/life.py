"""The life of a catalogue's electrolytic capacitors, by the limits that count against it."""

from __future__ import annotations

from railwright.catalogue.entry import Entry
from railwright.standards.electrolytic import RATED_RISE, core_temperature, life


def expected_life(entry: Entry, ambient: float, ripple: float) -> float:
    """Expected life [s] of a capacitor in air [K] with a ripple current [A effective, 100 kHz].

    ValueError where the part promises no life, or where its core gets hotter than it may.
    """
    stated = {
        name: entry.values[name].spread.low
        for name in ("rated_life", "rated_ripple", "rated_temperature")
        if name in entry.values
    }
    if entry.options.get("dielectric") != "electrolytic" or len(stated) < 3:
        raise ValueError(
            f"{entry.name} states no life: wanted is an aluminium electrolytic capacitor with "
            "rated_life, rated_ripple and rated_temperature"
        )
    hottest = stated["rated_temperature"] + RATED_RISE
    core = core_temperature(ambient, ripple, stated["rated_ripple"])
    return life(stated["rated_life"], hottest, core)
