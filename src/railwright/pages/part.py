"""A part of the catalogue in words: each of its values, where it holds and where it is from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from railwright.catalogue.assumed import assumed_factors
from railwright.catalogue.entry import Entry, KnownValue, KnownWindow
from railwright.devices import kinds
from railwright.devices.device import Window
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


def window_rows(entry: Entry) -> list[Row]:
    """What it asks of parts outside, in the order in which the kind declares it."""
    declared = kinds()[entry.kind].windows
    return [
        Row(name, window_meaning(window), _bounds(known), known.at, known.source)
        for name, window in declared.items()
        if (known := entry.windows.get(name)) is not None
    ]


def window_meaning(window: Window) -> str:
    """What a window bounds, and where that sits.

    >>> window_meaning(Window("capacitance", ("switch", "ground"), beyond="coil"))
    'capacitance outside, from beyond the coil at switch to ground'
    >>> window_meaning(Window("inductance", ("switch",)))
    'inductance outside, at switch'
    """
    first, *others = window.pins
    start = f"beyond the {window.beyond} at {first}" if window.beyond else first
    place = f"from {start} to {others[0]}" if others else f"at {start}"
    instead = f"; or else {_words(window.or_else)}" if window.or_else else ""
    return f"{window.quantity} outside, {place}{instead}"


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


def _bounds(known: KnownWindow) -> str:
    """The window in words.

    >>> _bounds(KnownWindow(1e-6, None, "F", "sheet")), _bounds(KnownWindow(0.1, 5.0, "Ω", "sheet"))
    ('at least 1 µF', '100 mΩ to 5 Ω')
    """
    if known.minimum is None and known.maximum is not None:
        return f"at most {quantity(known.maximum, known.unit)}"
    least = quantity(known.bounds[0], known.unit)
    if known.maximum is None:
        return f"at least {least}"
    return f"{least} to {quantity(known.maximum, known.unit)}"


def _words(name: str) -> str:
    return name.replace("_", " ")
