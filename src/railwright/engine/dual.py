"""Numbers that carry their slopes: the reference path's derivatives, on plain numpy.

A value is an array over lanes; its slopes are kept per unknown, only those that are not nil.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.engine.expression import EXP_LIMIT

Array = NDArray[np.float64]


class Dual:
    """A value over lanes and its slopes by unknown (row -> array over lanes)."""

    __slots__ = ("slopes", "value")
    __array_ufunc__ = None

    def __init__(self, value: Any, slopes: dict[int, Any] | None = None) -> None:
        self.value = value
        self.slopes: dict[int, Any] = slopes or {}

    def _chained(self, value: Any, slope: Any) -> Dual:
        return Dual(value, {k: s * slope for k, s in self.slopes.items()})

    def __add__(self, other: Any) -> Dual:
        if not isinstance(other, Dual):
            return Dual(self.value + other, self.slopes)
        slopes = dict(self.slopes)
        for k, s in other.slopes.items():
            slopes[k] = slopes[k] + s if k in slopes else s
        return Dual(self.value + other.value, slopes)

    __radd__ = __add__

    def __neg__(self) -> Dual:
        return Dual(-self.value, {k: -s for k, s in self.slopes.items()})

    def __sub__(self, other: Any) -> Dual:
        return self.__add__(-other)

    def __rsub__(self, other: Any) -> Dual:
        return self.__neg__().__add__(other)

    def __mul__(self, other: Any) -> Dual:
        if not isinstance(other, Dual):
            return self._chained(self.value * other, other)
        left = self._chained(self.value * other.value, other.value)
        return left + other._chained(0.0, self.value)

    __rmul__ = __mul__

    def __truediv__(self, other: Any) -> Dual:
        if not isinstance(other, Dual):
            return self._chained(self.value / other, 1.0 / other)
        return self * other._reciprocal()

    def __rtruediv__(self, other: Any) -> Dual:
        return self._reciprocal().__mul__(other)

    def _reciprocal(self) -> Dual:
        inverse = 1.0 / self.value
        return self._chained(inverse, -inverse * inverse)

    def exp(self) -> Dual:
        """e to this, within the engine's limits."""
        value = np.exp(np.clip(self.value, -EXP_LIMIT, EXP_LIMIT))
        return self._chained(value, value)

    def log(self) -> Dual:
        """Natural logarithm."""
        return self._chained(np.log(self.value), 1.0 / self.value)

    def sqrt(self) -> Dual:
        """Square root."""
        value = np.sqrt(self.value)
        return self._chained(value, 0.5 / value)

    def sin(self) -> Dual:
        """Sine; radians."""
        return self._chained(np.sin(self.value), np.cos(self.value))

    def cos(self) -> Dual:
        """Cosine; radians."""
        return self._chained(np.cos(self.value), -np.sin(self.value))

    def __abs__(self) -> Dual:
        return self._chained(np.abs(self.value), np.where(self.value >= 0, 1.0, -1.0))

    def select(self, condition: Any, yes: Any, no: Any) -> Dual:
        """`yes` where condition >= 0, else `no`."""
        test = np.asarray(condition.value if isinstance(condition, Dual) else condition) >= 0
        yes = yes if isinstance(yes, Dual) else Dual(yes)
        no = no if isinstance(no, Dual) else Dual(no)
        slopes = {
            k: np.where(test, yes.slopes.get(k, 0.0), no.slopes.get(k, 0.0))
            for k in {**yes.slopes, **no.slopes}
        }
        return Dual(np.where(test, yes.value, no.value), slopes)
