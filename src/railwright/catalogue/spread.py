"""From the limits that a source publishes to the spread that the surveys draw from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from railwright.catalogue.assumed import assumed_spread
from railwright.catalogue.entry import KnownValue, KnownWindow
from railwright.devices.device import Device, Value, Window
from railwright.quantity import UNITS, QuantityError, Spread, parse

NUMBERS = ("min", "typical", "max", "exact")
KEYS = (*NUMBERS, "unit", "tolerance", "drift", "at", "from")
FORMS = (
    "exact; min, typical and max; min and max; typical with a tolerance or with at most one "
    "limit; a tolerance alone, for a value that the design states"
)

T = TypeVar("T")


class RowError(ValueError):
    """A row that cannot be used: what was found and what is wanted, and under which key."""

    def __init__(self, text: str, key: str = "") -> None:
        super().__init__(text)
        self.key = key
        """Empty where the row as a whole is meant."""


class RowErrors(ValueError):
    """All mistakes of one row."""

    def __init__(self, mistakes: list[RowError]) -> None:
        super().__init__("; ".join(map(str, mistakes)))
        self.mistakes = tuple(mistakes)


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
    """One row of the catalogue, for a value or rating of a kind. RowErrors where it is no use.

    What is a rating and a value at once, such as a rated voltage, may be stated as `max` alone.
    """
    unit = (device.values.get(name) or device.ratings[name]).unit
    return _of_row(unit, row, lambda *read: _known(device, name, *read))


def known_window(window: Window, row: Mapping[str, Any]) -> KnownWindow:
    """One row of the catalogue, for a window of a kind. RowErrors where it is no use."""
    return _of_row(window.unit, row, lambda *read: _window(window, *read))


def _of_row(unit: str, row: Mapping[str, Any], make: Callable[[Published, str, str], T]) -> T:
    """What is made of a row's numbers, source and condition."""
    mistakes: list[RowError] = []
    source = _tried(mistakes, _source, row.get("from"))
    at = _tried(mistakes, _condition, row.get("at", ""))
    published = _published(unit, row, mistakes)
    if published is None or source is None or at is None:
        raise RowErrors(mistakes)
    try:
        return make(published, source, at)
    except RowError as error:
        raise RowErrors([error]) from error


def _tried(mistakes: list[RowError], read: Callable[..., T], *given: object) -> T | None:
    """What is read, or None with the mistake noted."""
    try:
        return read(*given)
    except RowError as error:
        mistakes.append(error)
        return None


def _known(device: Device, name: str, published: Published, source: str, at: str) -> KnownValue:
    unit = (device.values.get(name) or device.ratings[name]).unit
    if name in device.ratings and (name not in device.values or published.forms == {"max"}):
        return KnownValue(_rating(published), unit, source, at)
    declared = device.values[name]
    spread, assumed = _spread(device.kind, name, declared.signed, published)
    relative = published.forms == {"tolerance"}
    if not relative:
        _within(declared, spread)
    return KnownValue(spread, unit, source, at, assumed, relative)


def _window(window: Window, published: Published, source: str, at: str) -> KnownWindow:
    low, high = published.minimum, published.maximum
    if published.drift or not published.forms or not published.forms <= {"min", "max"}:
        raise RowError(
            f"found {_listed(published.forms)}, wanted is min, max or both: it bounds a "
            f"{window.quantity} outside the part"
        )
    if low is not None and high is not None and low > high:
        raise RowError(f"found min {low:g} {window.unit} above max {high:g} {window.unit}")
    for key, bound in (("min", low), ("max", high)):
        if bound is not None and bound < 0:
            raise RowError(f"found {bound:g} {window.unit}, wanted is more than nil", key)
    return KnownWindow(low, high, window.unit, source, at)


def _source(found: object) -> str:
    if isinstance(found, str) and found.strip():
        return found
    if found is None:
        raise RowError('its source is missing. Write from = "...", or from = "from memory"')
    raise RowError(f"found {found!r}, wanted is the source of the value, as a text", "from")


def _published(unit: str, row: Mapping[str, Any], mistakes: list[RowError]) -> Published | None:
    """The numbers of a row, or None with the mistakes noted."""
    before = len(mistakes)
    prefixed = _tried(mistakes, _unit, row, unit)
    minimum, typical, maximum, exact = (
        None if prefixed is None else _tried(mistakes, _number, row, key, prefixed, unit)
        for key in NUMBERS
    )
    tolerance = _tried(mistakes, _ratio, row, "tolerance", "1")
    drift = _tried(mistakes, _ratio, row, "drift", "1/K")
    if len(mistakes) > before:
        return None
    return Published(minimum, typical, maximum, exact, tolerance, drift or 0.0)


def _unit(row: Mapping[str, Any], unit: str) -> str:
    """The unit of a row's numbers, prefix included; empty where they are plain ratios."""
    found = row.get("unit", "")
    if not isinstance(found, str):
        raise RowError(f"found {found!r} for unit, wanted is a text, as {unit!r}", "unit")
    if not found and unit != "1" and any(isinstance(row.get(key), int | float) for key in NUMBERS):
        raise RowError(f'its unit is missing. Write unit = "{UNITS[unit].plain}"')
    try:
        if found:
            parse(f"1 {found}", unit)
    except QuantityError as error:
        raise RowError(str(error), "unit") from error
    return found


def _number(row: Mapping[str, Any], key: str, prefixed: str, unit: str) -> float | None:
    found = row.get(key)
    if found is None:
        return None
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise RowError(f"found {found!r}, wanted is a plain number, with its unit under unit", key)
    try:
        return parse(f"{found!r} {prefixed}" if prefixed else found, unit)
    except QuantityError as error:
        raise RowError(str(error), key) from error


def _ratio(row: Mapping[str, Any], key: str, unit: str) -> float | None:
    try:
        return parse(row[key], unit) if key in row else None
    except QuantityError as error:
        raise RowError(str(error), key) from error


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
    raise RowError(f"found {found!r} for at, wanted is a text or a table of texts", "at")


def _listed(forms: frozenset[str]) -> str:
    return " and ".join(sorted(forms)) or "no number"
