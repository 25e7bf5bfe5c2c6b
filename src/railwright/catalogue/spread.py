"""From the limits that a source publishes to the spread that the surveys draw from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from railwright.catalogue.assumed import assumed_spread
from railwright.catalogue.entry import KnownValue
from railwright.devices.device import Device, Value
from railwright.quantity import QuantityError, Spread, parse

NUMBERS = ("min", "typical", "max", "exact")
KEYS = (*NUMBERS, "unit", "tolerance", "drift", "at", "from")
FORMS = (
    "exact; min, typical and max; min and max; typical with a tolerance or with at most one "
    "limit; a tolerance alone, for a value that the design states"
)


class RowError(ValueError):
    """A row that cannot be used: what was found and what is wanted."""


@dataclass(frozen=True, slots=True)
class Published:
    """The numbers of one row, in SI units, as far as they are published."""

    minimum: float | None
    typical: float | None
    maximum: float | None
    exact: float | None
    tolerance: float | None
    drift: float

    @property
    def numbers(self) -> tuple[float | None, ...]:
        """Least, typical, greatest, exact number and tolerance, each as far as published."""
        return self.minimum, self.typical, self.maximum, self.exact, self.tolerance

    @property
    def forms(self) -> frozenset[str]:
        """Names of those that are published."""
        names = (*NUMBERS, "tolerance")
        return frozenset(n for n, x in zip(names, self.numbers, strict=True) if x is not None)


def known_value(device: Device, name: str, row: Mapping[str, Any]) -> KnownValue:
    """One row of the catalogue, for a value or rating of a kind. RowError where it is no use.

    What is a rating and a value at once, such as a rated voltage, may be stated as `max` alone.
    """
    source = row.get("from")
    if not isinstance(source, str) or not source.strip():
        raise RowError(f"found {source!r} for from, wanted is the source of the value, as a text")
    unit = (device.values.get(name) or device.ratings[name]).unit
    published = _published(unit, row)
    at = _condition(row.get("at", ""))
    if name in device.ratings and (name not in device.values or published.forms == {"max"}):
        return KnownValue(_rating(published), unit, source, at)
    declared = device.values[name]
    spread, assumed = _spread(device.kind, name, declared.signed, published)
    relative = published.forms == {"tolerance"}
    if not relative:
        _within(declared, spread)
    return KnownValue(spread, unit, source, at, assumed, relative)


def _published(unit: str, row: Mapping[str, Any]) -> Published:
    prefixed = row.get("unit", "")
    if not isinstance(prefixed, str):
        raise RowError(f"found {prefixed!r} for unit, wanted is a text, as {unit!r}")
    minimum, typical, maximum, exact = (
        None if key not in row else _number(row[key], prefixed, unit) for key in NUMBERS
    )
    tolerance = _ratio(row["tolerance"], "1") if "tolerance" in row else None
    drift = _ratio(row["drift"], "1/K") if "drift" in row else 0.0
    return Published(minimum, typical, maximum, exact, tolerance, drift)


def _number(found: object, prefixed: str, unit: str) -> float:
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise RowError(f"found {found!r}, wanted is a plain number, with its unit under unit")
    try:
        return parse(f"{found!r} {prefixed}".strip() if prefixed else found, unit)
    except QuantityError as error:
        raise RowError(str(error)) from error


def _ratio(found: object, unit: str) -> float:
    try:
        return parse(found, unit)
    except QuantityError as error:
        raise RowError(str(error)) from error


def _rating(published: Published) -> Spread:
    limits = [n for n in (published.minimum, published.maximum) if n is not None]
    if len(published.forms) != 1 or len(limits) != 1:
        raise RowError(f"found {_listed(published.forms)}, wanted is max alone: it is a rating")
    return Spread.exact(limits[0])


def _spread(kind: str, name: str, signed: bool, published: Published) -> tuple[Spread, bool]:
    """The spread, and whether a limit of it is assumed."""
    try:
        return _known_spread(kind, name, signed, published)
    except QuantityError as error:
        raise RowError(str(error)) from error


def _known_spread(kind: str, name: str, signed: bool, published: Published) -> tuple[Spread, bool]:
    drift = published.drift
    match published.numbers:
        case (None, None, None, float(exact), None):
            return Spread(exact, exact, exact, "exact", drift), False
        case (None, typical, None, None, float(tolerance)):
            return Spread.tolerance(1.0 if typical is None else typical, tolerance, drift), False
        case (float(low), None, float(high), None, None):
            return Spread(low, (low + high) / 2, high, "uniform", drift), False
        case (float(low), float(typical), float(high), None, None):
            return Spread.limits(low, typical, high, drift), False
        case (None, _, float(most), None, None) if signed:
            return Spread.limits(-most, 0.0, most, drift), False
        case (None, float(typical), None, None, None) if signed:
            assumed = assumed_spread(kind, name, typical)
            most = max(-assumed.low, assumed.high)
            return Spread.limits(-most, 0.0, most, drift), True
        case (low, float(typical), high, None, None):
            assumed = assumed_spread(kind, name, typical)
            least = assumed.low if low is None else low
            most = assumed.high if high is None else high
            return Spread.limits(least, typical, most, drift), True
    raise RowError(f"found {_listed(published.forms)}, wanted is {FORMS}")


def _within(declared: Value, spread: Spread) -> None:
    if declared.least is not None and spread.low < declared.least:
        raise RowError(f"found {spread.low:g} {declared.unit}, at least {declared.least:g} exists")
    if declared.most is not None and spread.high > declared.most:
        raise RowError(f"found {spread.high:g} {declared.unit}, at most {declared.most:g} exists")


def _condition(found: object) -> str:
    if isinstance(found, str):
        return found
    if isinstance(found, Mapping) and all(isinstance(text, str) for text in found.values()):
        return ", ".join(f"{name.replace('_', ' ')} {text}" for name, text in found.items())
    raise RowError(f"found {found!r} for at, wanted is a text or a table of texts")


def _listed(forms: frozenset[str]) -> str:
    return " and ".join(sorted(forms)) or "no number"
