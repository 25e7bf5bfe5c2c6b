"""A catalogue part: data with provenance, no behaviour."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf

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
class KnownWindow:
    """Bounds within which a quantity of a part outside has to lie, and where they come from.

    What is bounded, and where it sits, says the kind (`devices.device.Window`).
    """

    minimum: float | None
    """In `unit`; None where only the other bound is published."""
    maximum: float | None
    unit: str
    source: str
    at: str = ""

    @property
    def bounds(self) -> tuple[float, float]:
        """Least and greatest; nil and infinite where there is no such bound."""
        least = 0.0 if self.minimum is None else self.minimum
        return least, inf if self.maximum is None else self.maximum


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
    windows: Mapping[str, KnownWindow]
    """What its datasheet asks of parts outside."""
    warning: str = ""
    price: str = ""
    """One of `price.CLASSES`; empty where nobody says."""
