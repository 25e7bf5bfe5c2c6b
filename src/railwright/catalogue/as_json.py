"""A part as plain data for machines; `docs/json.md` describes every field."""

from __future__ import annotations

from railwright.catalogue.entry import Entry, KnownValue, KnownWindow
from railwright.devices import kinds
from railwright.devices.device import Window
from railwright.quantity import celsius

FORMAT = 1
"""Counts up when a field goes, or changes its meaning; not when one is added."""


def as_json(entry: Entry) -> dict[str, object]:
    """The part in plain dicts and texts. SI units, but absolute temperatures in °C."""
    device = kinds()[entry.kind]
    return {
        "format": FORMAT,
        "name": entry.name,
        "kind": entry.kind,
        "trade": entry.trade,
        "package": entry.package,
        "pins": dict(entry.pins),
        "options": dict(entry.options),
        "warning": entry.warning,
        "price": entry.price,
        "values": {n: _value(v) for n, v in entry.values.items() if n in device.values},
        "ratings": {n: _value(v) for n, v in entry.values.items() if n in device.ratings},
        "windows": {n: _window(w, device.windows[n]) for n, w in entry.windows.items()},
    }


def _window(known: KnownWindow, window: Window) -> dict[str, object]:
    return {
        "min": known.minimum,
        "max": known.maximum,
        "unit": known.unit,
        "of": window.quantity,
        "pins": list(window.pins),
        "beyond": window.beyond,
        "or_else": window.or_else,
        "at": known.at,
        "from": known.source,
    }


def _value(known: KnownValue) -> dict[str, object]:
    spread = known.spread
    low, typical, high = (
        celsius(number) if known.unit == "°C" and not known.relative else number
        for number in (spread.low, spread.typical, spread.high)
    )
    return {
        "low": low,
        "typical": typical,
        "high": high,
        "drift": spread.drift,
        "unit": "1" if known.relative else known.unit,
        "at": known.at,
        "from": known.source,
        "assumed": known.assumed,
        "relative": known.relative,
    }
