"""A part of the catalogue in words: each of its values, where it holds and where it is from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from railwright.catalogue.assumed import assumed_factors
from railwright.catalogue.entry import Entry, KnownValue
from railwright.devices import kinds
from railwright.pages.wording import quantity, told_apart


@dataclass(frozen=True)
class Row:
    """One value or rating of a part."""

    name: str
    meaning: str
    value: str
    at: str
    source: str
    """With what is assumed, where a limit is."""


def value_rows(entry: Entry) -> list[Row]:
    """What the equations use, in the order in which the kind declares it."""
    declared = kinds()[entry.kind].values
    return [
        _row(entry, name, value.meaning, _spread(entry.values[name]))
        for name, value in declared.items()
        if name in entry.values
    ]


def rating_rows(entry: Entry) -> list[Row]:
    """What the part may see at most, in the order in which the kind declares it."""
    rated = kinds()[entry.kind].ratings
    return [
        _row(entry, name, f"limits {_words(rating.bounds)}", _rating(entry.values[name]))
        for name, rating in rated.items()
        if name in entry.values
    ]


def unstated(entry: Entry) -> list[str]:
    """What nothing is known of, and what becomes of that."""
    return list(_unstated(entry))


def _unstated(entry: Entry) -> Iterator[str]:
    device = kinds()[entry.kind]
    for name, value in device.values.items():
        if name in entry.values:
            continue
        if value.default is not None:
            yield f"{_words(name)}, taken as {quantity(value.default, value.unit)}"
        else:
            yield f"{_words(name)}, what needs it is not proven"
    for name in device.ratings:
        if name not in entry.values:
            yield f"{_words(name)}, what needs it is not proven"


def terminals(entry: Entry) -> list[tuple[str, str]]:
    """Terminal and pin, in the order of the package: numbers first."""
    found = [(terminal, pin) for pin, terminal in entry.pins.items()]
    return sorted(found, key=lambda each: (not each[0].isdigit(), each[0].zfill(3)))


def _row(entry: Entry, name: str, meaning: str, value: str) -> Row:
    known = entry.values[name]
    source = known.source
    if known.assumed:
        source += f"; limits assumed: {assumed_factors(entry.kind, name).why}"
    return Row(name, meaning, value, known.at, source)


def _spread(known: KnownValue) -> str:
    """The value with its limits.

    >>> from railwright.quantity import Spread
    >>> _spread(KnownValue(Spread.limits(1.2, 1.25, 1.3), "V", "sheet"))
    '1.25 V (1.2 V to 1.3 V)'
    """
    spread, unit = known.spread, known.unit
    drift = f", drifts {quantity(spread.drift, '1/K')}" if spread.drift else ""
    if known.relative:
        return f"±{quantity(spread.high - 1.0, '1')} of what the design states{drift}"
    if spread.is_exact:
        return f"{quantity(spread.typical, unit)}{drift}"
    low, typical, high = told_apart([spread.low, spread.typical, spread.high], unit)
    return f"{typical} ({low} to {high}){drift}"


def _rating(known: KnownValue) -> str:
    return f"at most {quantity(known.spread.high, known.unit)}"


def _words(name: str) -> str:
    return name.replace("_", " ")
