"""Spreads that are assumed where nobody publishes limits of a value."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from railwright.quantity import Spread

ASSUMED = Path(__file__).with_name("assumed.toml")


@dataclass(frozen=True, slots=True)
class AssumedFactors:
    """Lowest and highest value as factors on the typical one, and why."""

    low: float
    high: float
    why: str


@cache
def table() -> Mapping[str, AssumedFactors]:
    """Factors by value name, or by kind and value name with a point between; "" is the rest."""
    text = ASSUMED.read_text(encoding="utf-8")
    return {
        value: AssumedFactors(row["low"], row["high"], row["why"])
        for row in tomllib.loads(text).values()
        for value in row["values"]
    }


def assumed_factors(kind: str, value: str) -> AssumedFactors:
    """The row of the table of assumed spreads for a kind's value."""
    rows = table()
    return rows.get(f"{kind}.{value}") or rows.get(value) or rows[""]


def assumed_spread(kind: str, value: str, typical: float) -> Spread:
    """The assumed spread of a value, by its kind and name, around its typical number.

    >>> assumed_spread("fixed-regulator", "dropout", 2.0)
    Spread(low=1.4, typical=2.0, high=2.6, shape='triangular', drift=0.0)
    """
    factors = assumed_factors(kind, value)
    low, high = sorted((factors.low * typical, factors.high * typical))
    return Spread.exact(typical) if low == high else Spread.limits(low, typical, high)
