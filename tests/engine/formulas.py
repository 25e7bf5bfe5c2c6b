"""Random formulas that run on any kind of number."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from railwright.devices import arithmetic

UNKNOWNS, DEPTH = 4, 6
Formula = Callable[[list[Any]], Any]
CONSTANTS = (0.0, 1.0, -1.0, 2.5, 0.3)
"""Nil and one often, since those are what simplifications look for."""


def where(condition: Any, yes: Any, no: Any) -> Any:
    """`arithmetic.where`, for complex numbers by the sign of the real part."""
    if np.iscomplexobj(condition) or np.iscomplexobj(yes) or np.iscomplexobj(no):
        return np.where(np.real(condition) >= 0, yes, no)
    return arithmetic.where(condition, yes, no)


def absolute(x: Any) -> Any:
    return where(x, x, -x) if np.iscomplexobj(x) else abs(x)


UNARY: tuple[Callable[[Any], Any], ...] = (
    lambda a: -a,
    lambda a: arithmetic.exp(a / (1.0 + a * a)),
    lambda a: arithmetic.sin(a),
    lambda a: arithmetic.cos(1.5 * a),
    lambda a: arithmetic.log(1.0 + a * a),
    lambda a: arithmetic.sqrt(1.0 + a * a),
    absolute,
)
BINARY: tuple[Callable[[Any, Any], Any], ...] = (
    lambda a, b: a + b,
    lambda a, b: a - b,
    lambda a, b: a * b,
    lambda a, b: a / (2.0 + b * b),
    lambda a, b: where(a - b, a, b),
    lambda a, b: where(a, b, 1.0 - b),
)


def random_formula(rng: np.random.Generator, depth: int = DEPTH) -> Formula:
    """A formula of a few unknowns, as a function that runs on any kind of number."""
    if depth == 0 or rng.random() < 0.1:
        if rng.random() < 0.35:
            constant = float(rng.choice(CONSTANTS))
            return lambda x: constant
        index = int(rng.integers(UNKNOWNS))
        return lambda x: x[index]
    if rng.random() < 0.3:
        unary, inner = UNARY[rng.integers(len(UNARY))], random_formula(rng, depth - 1)
        return lambda x: unary(inner(x))
    binary = BINARY[rng.integers(len(BINARY))]
    left, right = random_formula(rng, depth - 1), random_formula(rng, depth - 1)
    return lambda x: binary(left(x), right(x))
