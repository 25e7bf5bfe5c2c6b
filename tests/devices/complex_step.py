"""Slopes by complex step: the equations on complex numbers, whose rules are numpy's own.

f(x + i h d) = f(x) + i h d f'(x) - ..., so with a step h whose square is nothing beside any number
the imaginary part over h is the slope along d, without a difference that could cancel. Source:
Squire and Trapp, Using Complex Variables to Estimate Derivatives of Real Functions, SIAM Review
40, 1998 (from memory).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from railwright.engine.expression import EXP_LIMIT

STEP = 1e-100

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]


class ComplexStep:
    """A value over lanes with the imaginary step that it takes, and the size of its slope.

    The size is what the slope would be if none of the terms that make it up cancelled: rounding
    is in proportion to it.
    """

    __slots__ = ("size", "z")
    __array_ufunc__ = None

    def __init__(self, z: Complex, size: Array) -> None:
        self.z = z
        self.size = size

    @classmethod
    def along(cls, start: Any, way: Any) -> ComplexStep:
        """A number that moves from a start in proportion to a way."""
        return cls(start + 1j * STEP * way, np.abs(way))

    @property
    def slope(self) -> Array:
        """How fast the value moves."""
        return self.z.imag / STEP

    def __add__(self, other: Any) -> ComplexStep:
        other = as_step(other)
        return ComplexStep(self.z + other.z, self.size + other.size)

    __radd__ = __add__

    def __neg__(self) -> ComplexStep:
        return ComplexStep(-self.z, self.size)

    def __sub__(self, other: Any) -> ComplexStep:
        return self + -other

    def __rsub__(self, other: Any) -> ComplexStep:
        return -self + other

    def __mul__(self, other: Any) -> ComplexStep:
        other = as_step(other)
        size = self.size * np.abs(other.z.real) + other.size * np.abs(self.z.real)
        return ComplexStep(self.z * other.z, size)

    __rmul__ = __mul__

    def __truediv__(self, other: Any) -> ComplexStep:
        other = as_step(other)
        quotient = self.z / other.z
        size = (self.size + other.size * np.abs(quotient.real)) / np.abs(other.z.real)
        return ComplexStep(quotient, size)

    def __rtruediv__(self, other: Any) -> ComplexStep:
        return as_step(other) / self

    def exp(self) -> ComplexStep:
        """e to this, within the engine's limits."""
        z = np.exp(np.clip(self.z.real, -EXP_LIMIT, EXP_LIMIT) + 1j * self.z.imag)
        return ComplexStep(z, self.size * z.real)

    def log(self) -> ComplexStep:
        """Natural logarithm."""
        return ComplexStep(np.log(self.z), self.size / self.z.real)

    def sqrt(self) -> ComplexStep:
        """Square root."""
        z = np.sqrt(self.z)
        return ComplexStep(z, 0.5 * self.size / z.real)

    def sin(self) -> ComplexStep:
        """Sine; radians."""
        return ComplexStep(np.sin(self.z), self.size)

    def cos(self) -> ComplexStep:
        """Cosine; radians."""
        return ComplexStep(np.cos(self.z), self.size)

    def __abs__(self) -> ComplexStep:
        return ComplexStep(np.where(self.z.real >= 0.0, self.z, -self.z), self.size)

    def select(self, condition: Any, yes: Any, no: Any) -> ComplexStep:
        """`yes` where the real part of condition is >= 0, else `no`."""
        first, second = as_step(yes), as_step(no)
        test = as_step(condition).z.real >= 0.0
        return ComplexStep(
            np.where(test, first.z, second.z), np.where(test, first.size, second.size)
        )


def as_step(x: Any) -> ComplexStep:
    """A number as one that takes a step, of nil if it took none."""
    if isinstance(x, ComplexStep):
        return x
    return ComplexStep(np.asarray(x, np.complex128), np.zeros_like(x, np.float64))
