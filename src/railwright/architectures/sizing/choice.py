"""A part of the catalogue that was chosen, and what choosing shares."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from railwright.catalogue.entry import Entry
from railwright.catalogue.price import CLASSES
from railwright.quantity import Spread


@dataclass(frozen=True)
class Choice:
    """A part of the catalogue, and the reason for it: formula with numbers."""

    entry: Entry
    why: str


def of_kind(catalogue: Mapping[str, Entry], *kinds: str) -> Iterator[Entry]:
    """Parts of kinds, in the order of the catalogue."""
    return (entry for entry in catalogue.values() if entry.kind in kinds)


def spread_of(entry: Entry, value: str) -> Spread:
    """What is known of a value or a rating, limits included. KeyError where nothing is."""
    return entry.values[value].spread


def price_of(entry: Entry) -> int:
    """Place of its class of price; the dearest where nobody says."""
    return CLASSES.index(entry.price) if entry.price in CLASSES else len(CLASSES)
