"""The value of a part as a design file gives it: a text, or a table with its spread."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from railwright.circuit.forms import Form, Quantity
from railwright.circuit.tables import read_keys
from railwright.devices.device import Value, Window
from railwright.files.complaints import Complaints
from railwright.files.locate import KeyPath
from railwright.quantity import QuantityError, Spread, show

_TOLERANCE = Quantity("1", least=0.0, most=1.0)
_DRIFT = Quantity("1/K", least=0.0, most=1.0)


@dataclass(frozen=True)
class GivenWindow:
    """Bounds of a part outside, in SI; None where the file has no such bound."""

    minimum: float | None = None
    maximum: float | None = None


@dataclass(frozen=True)
class WindowForm(Form):
    """A table of min, max or both."""

    window: Window

    @property
    def quantity(self) -> Quantity:
        """One bound."""
        return Quantity(self.window.unit, 0.0, farthest(self.window.unit))

    @property
    def example(self) -> str:
        return f"{{ min = {self.quantity.example} }}"

    @property
    def blank(self) -> GivenWindow:
        return GivenWindow()

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> GivenWindow:
        forms = dict.fromkeys(("min", "max"), self.quantity)
        read = read_keys(found, path, complaints, forms, ())
        if found == {}:
            complaints.value(path, "found no bound. Write min, max or both.")
        low, high = read.get("min"), read.get("max")
        if low is not None and high is not None and low > high:
            texts = [f"{key} {show(read[key], self.window.unit)}" for key in ("min", "max")]
            complaints.value(path, f"found {', '.join(texts)}. Wanted is min <= max.")
        return GivenWindow(low, high)


_FARTHEST = {"V": 1e6, "A": 1e6, "W": 1e6, "F": 1e3, "H": 1e3, "°C": 2000.0, "K/W": 1e6}


def farthest(unit: str) -> float:
    """A magnitude far beyond any part's, in a unit (common practice, no source)."""
    return _FARTHEST.get(unit, 1e15)


@dataclass(frozen=True)
class Given:
    """A value in SI, and what the file says of its spread."""

    typical: float
    spread: Spread | None = None
    """None where the file says nothing of it."""
    drift: float | None = None
    """Greatest relative change per kelvin [1/K]; None where the file says nothing of it."""


@dataclass(frozen=True)
class GivenForm(Form):
    """A text; or a table of typical and tolerance, or of min, typical and max; drift beside.

    Of a value that occurs with both signs, such as an offset, a text is the greatest magnitude,
    and so is a `max` that stands alone.
    """

    value: Value

    @property
    def quantity(self) -> Quantity:
        """One number of this value, within what is physically possible."""
        far = farthest(self.value.unit)
        least = -far if self.value.least is None else self.value.least
        return Quantity(self.value.unit, least, far if self.value.most is None else self.value.most)

    @property
    def example(self) -> str:
        return self.quantity.example

    @property
    def blank(self) -> Given:
        return Given(math.nan)

    def read(self, found: object, path: KeyPath, complaints: Complaints) -> Given:
        if not isinstance(found, dict):
            typical = self.quantity.read(found, path, complaints)
            return self._either_sign(typical) if self.value.signed else Given(typical)
        limits = dict.fromkeys(("min", "typical", "max"), self.quantity)
        forms = {**limits, "tolerance": _TOLERANCE, "drift": _DRIFT}
        read = read_keys(found, path, complaints, forms, ())
        if any(math.isnan(number) for number in read.values()) or found.keys() - read.keys():
            return self.blank
        try:
            return self._spread(read)
        except QuantityError as error:
            complaints.value(path, str(error))
            return self.blank

    def _either_sign(self, most: float, drift: float | None = None) -> Given:
        if math.isnan(most):
            return self.blank
        size = abs(most)
        return Given(0.0, Spread.limits(-size, 0.0, size, drift or 0.0), drift)

    def _spread(self, read: Mapping[str, float]) -> Given:
        """What a table without mistakes in its numbers says; QuantityError where it is at odds."""
        numbers, drift = read.keys() - {"drift"}, read.get("drift")
        if numbers == {"typical"}:
            return Given(read["typical"], None, drift)
        if numbers == {"max"} and self.value.signed:
            return self._either_sign(read["max"], drift)
        if numbers == {"typical", "tolerance"}:
            spread = Spread.tolerance(read["typical"], read["tolerance"], drift or 0.0)
        elif numbers == {"min", "typical", "max"}:
            self._ordered(read, "min", "typical", "max")
            spread = Spread.limits(read["min"], read["typical"], read["max"], drift or 0.0)
        elif numbers == {"min", "max"}:
            self._ordered(read, "min", "max")
            middle = (read["min"] + read["max"]) / 2
            spread = Spread(read["min"], middle, read["max"], "uniform", drift or 0.0)
        else:
            raise QuantityError(
                f"found {', '.join(sorted(numbers)) or 'no value'}. Write typical and tolerance, "
                "or min and max, with typical between them if it is known."
            )
        self._possible(spread)
        return Given(spread.typical, spread, drift)

    def _ordered(self, read: Mapping[str, float], *keys: str) -> None:
        texts = [f"{key} {show(read[key], self.value.unit)}" for key in keys]
        if sorted(read[key] for key in keys) != [read[key] for key in keys]:
            raise QuantityError(f"found {', '.join(texts)}. Wanted is {' <= '.join(keys)}.")

    def _possible(self, spread: Spread) -> None:
        for limit in (spread.low, spread.high):
            why = self.quantity.refusal(limit)
            if why:
                found = show(limit, self.value.unit)
                raise QuantityError(f"the spread reaches {found}, out of range: {why}.")
