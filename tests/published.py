"""Outside numbers for tests: each with its inputs, its tolerance and its published source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

FILE = Path(__file__).parent / "data" / "published.yaml"
LOOSEST = 0.2
"""Largest tolerance, as a share of the value: what is wider would hold for nearly anything."""
KEYS = {"id", "family", "inputs", "expected", "tolerance", "unit", "source"}


class UnfitRow(ValueError):
    """A row that could not fail a test, or whose number comes from nowhere."""


@dataclass(frozen=True)
class Row:
    """One published number."""

    id: str
    family: str
    inputs: Mapping[str, Any]
    expected: float
    tolerance: float
    """Absolute, in the unit."""
    unit: str
    source: str

    @property
    def expected_within_its_tolerance(self) -> Any:
        """What a computed value is to equal."""
        return pytest.approx(self.expected, rel=0.0, abs=self.tolerance)

    def __str__(self) -> str:
        return self.id


def row_of(table: Mapping[str, Any]) -> Row:
    """A row from its table; UnfitRow where it is of no use."""
    name = table.get("id", "a row without id")
    if table.keys() != KEYS:
        raise UnfitRow(f"{name}: wanted are the keys {', '.join(sorted(KEYS))}")
    if len(str(table["source"]).split()) < 2:
        raise UnfitRow(f"{name}: found {table['source']!r}, wanted is a source that can be found")
    expected = float(table["expected"])
    tolerance = _absolute(name, expected, table["tolerance"])
    if not 0.0 < tolerance <= LOOSEST * abs(expected):
        raise UnfitRow(
            f"{name}: a tolerance of {tolerance:g} on {expected:g}; wanted is more than nil and "
            f"at most a {round(1 / LOOSEST)}th of the value"
        )
    known = {key: table[key] for key in ("id", "family", "inputs", "unit", "source")}
    return Row(expected=expected, tolerance=tolerance, **known)


def _absolute(name: str, expected: float, stated: Any) -> float:
    match stated:
        case {"relative": share, **rest} if not rest:
            return float(share) * abs(expected)
        case {"absolute": amount, **rest} if not rest:
            return float(amount)
    raise UnfitRow(f"{name}: found {stated!r}, wanted is a relative or an absolute tolerance")


@cache
def every_row(file: Path = FILE) -> tuple[Row, ...]:
    """All rows of a file."""
    rows = tuple(row_of(table) for table in yaml.safe_load(file.read_text(encoding="utf-8")))
    twice = {row.id for row in rows if sum(other.id == row.id for other in rows) > 1}
    if twice:
        raise UnfitRow(f"more than one row is called {', '.join(sorted(twice))}")
    return rows


def published(family: str) -> list[Row]:
    """The rows of a family. UnfitRow where there is none."""
    rows = [row for row in every_row() if row.family == family]
    if not rows:
        raise UnfitRow(f"no row is of the family {family!r}")
    return rows
