"""A catalogue part: data with provenance, no behaviour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from railwright.quantity import Spread


@dataclass(frozen=True, slots=True)
class KnownValue:
    """A value, its spread, and where both come from."""

    spread: Spread
    unit: str
    source: str
    at: str = ""
    assumed: bool = False
    """True where a limit is not published but taken from the table of assumed spreads."""
    relative: bool = False
    """True where the spread is that of the ratio to a value which the design has to state."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One part of the catalogue."""

    name: str
    kind: str
    trade: str
    package: str
    pins: Mapping[str, str]
    """Pin name -> terminal of the package."""
    options: Mapping[str, str]
    values: Mapping[str, KnownValue]
    """Values and ratings together; a rating is exact."""
    warning: str = ""
    price: str = ""
    """One of `price.CLASSES`; empty where nobody says."""
