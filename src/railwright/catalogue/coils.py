"""The inductors of a catalogue as coils to choose from, by the limits that count against them."""

from __future__ import annotations

from collections.abc import Mapping

from railwright.catalogue.entry import Entry
from railwright.standards.stages import Coil

NEEDED = ("inductance", "saturation_current", "rated_current", "winding_resistance")


def coils(entries: Mapping[str, Entry]) -> list[Coil]:
    """Coils for `stages.choose`, in the order of the catalogue.

    An inductor that leaves one of the four values unsaid is not among them: it could not be judged.
    """
    return [
        Coil(
            name=name,
            inductance=entry.values["inductance"].spread.low,
            saturation_current=entry.values["saturation_current"].spread.low,
            rated_current=entry.values["rated_current"].spread.low,
            resistance=entry.values["winding_resistance"].spread.high,
        )
        for name, entry in entries.items()
        if entry.kind == "inductor" and _says_all(entry)
    ]


def _says_all(entry: Entry) -> bool:
    """Whether every needed value is stated, and not only its spread."""
    return all(value in entry.values and not entry.values[value].relative for value in NEEDED)
