"""Sets of uniform numbers that fill the spread evenly, randomised independently of each other."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
SETS = 8
"""Independent randomisations, so that the spread between them shows the error of a mean."""
COMMON = 8
"""Power of two of the points of a set that is kept: scrambling is dear, points are not."""


def quasi_random(quantities: int, samples: int, seed: int) -> Array:
    """Uniform numbers (quantity, sample): scrambled Sobol sets put one after the other.

    Source: Owen, Scrambling Sobol' and Niederreiter-Xing points, J. Complexity 14 (1998).
    """
    if quantities == 0 or samples == 0:
        return np.empty((quantities, samples))
    share = -(-samples // SETS)
    power = max(COMMON, int(np.ceil(np.log2(share))))
    sets = [points[:share] for points in _sets(quantities, power, seed)]
    return np.concatenate(sets)[:samples].T


@lru_cache(maxsize=4)
def _sets(quantities: int, power: int, seed: int) -> list[Array]:
    """Sets of 2^power points (point, quantity); the first of a longer set are a shorter one."""
    from scipy.stats import qmc

    return [
        qmc.Sobol(quantities, seed=np.random.default_rng([seed, i])).random_base2(power)
        for i in range(SETS)
    ]


def distinct_rows(rows: NDArray[Any]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First row of each kind, and for every row the number of its kind; compared bit by bit."""
    rows = np.ascontiguousarray(rows)
    size = rows.shape[1] * rows.itemsize
    if not size:
        return np.zeros(min(1, len(rows)), np.intp), np.zeros(len(rows), np.intp)
    if size % 8 == 0:
        # Sums of bits are sorted faster than rows; that equal ones mean equal rows is looked at.
        words = rows.view(np.uint64)
        _, first, kind = np.unique(
            words @ _weights(size // 8), return_index=True, return_inverse=True
        )
        if np.array_equal(words[first][kind.ravel()], words):
            return first, kind.ravel()
    keys = rows.view([("", np.void, size)]).ravel()
    _, first, kind = np.unique(keys, return_index=True, return_inverse=True)
    return first, kind.ravel()


@lru_cache(maxsize=8)
def _weights(count: int) -> NDArray[np.uint64]:
    """Odd numbers, so that no bit of a word is lost in a sum."""
    drawn = np.random.default_rng(0).integers(0, 2**63, count, np.uint64)
    return drawn * np.uint64(2) + np.uint64(1)
