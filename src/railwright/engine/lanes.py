"""Parameter arrays of any shape, as the lanes that analyses run on, and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from railwright.engine.model import Name

Shape = tuple[int, ...]


def flattened(values: Mapping[Name, ArrayLike]) -> tuple[dict[Name, NDArray[np.float64]], Shape]:
    """Values of one common shape, broadcast as numpy does, as arrays (lane); and that shape.

    Raises ValueError where shapes do not fit each other.

    >>> lanes, shape = flattened({("R", "resistance"): [[1.0], [2.0]], ("V", "voltage"): [3, 4, 5]})
    >>> shape, lanes["R", "resistance"].tolist()
    ((2, 3), [1.0, 1.0, 1.0, 2.0, 2.0, 2.0])
    """
    arrays = {name: np.asarray(value, float) for name, value in values.items()}
    try:
        shape = np.broadcast_shapes(*(a.shape for a in arrays.values()))
    except ValueError:
        told = ", ".join(f"{' '.join(name)} {a.shape}" for name, a in arrays.items())
        raise ValueError(f"these shapes do not fit each other: {told}") from None
    return {name: np.broadcast_to(a, shape).reshape(-1).copy() for name, a in arrays.items()}, shape


def shaped(result: NDArray[Any], shape: Shape) -> NDArray[Any]:
    """A result (lane, ...) in the shape that the values had; further axes stay behind it.

    >>> shaped(np.arange(6.0), (2, 3)).tolist()
    [[0.0, 1.0, 2.0], [3.0, 4.0, 5.0]]
    """
    if result.shape[0] != math.prod(shape):
        raise ValueError(f"a result of {result.shape[0]} lanes does not have the shape {shape}")
    return result.reshape(*shape, *result.shape[1:])
