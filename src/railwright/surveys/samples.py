"""Sets of uniform numbers that fill the spread evenly, randomised independently of each other."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
SETS = 8
"""Independent randomisations, so that the spread between them shows the error of a mean."""


@lru_cache(maxsize=4)
def quasi_random(quantities: int, samples: int, seed: int) -> Array:
    """Uniform numbers (quantity, sample): scrambled Sobol sets put one after the other.

    Source: Owen, Scrambling Sobol' and Niederreiter-Xing points, J. Complexity 14 (1998).
    """
    from scipy.stats import qmc

    if quantities == 0 or samples == 0:
        return np.empty((quantities, samples))
    share = -(-samples // SETS)
    power = int(np.ceil(np.log2(share)))
    sets = [
        qmc.Sobol(quantities, seed=np.random.default_rng([seed, i])).random_base2(power)[:share]
        for i in range(SETS)
    ]
    drawn: Array = np.concatenate(sets)[:samples].T
    drawn.flags.writeable = False  # whoever asks again gets the same
    return drawn


def distinct_rows(rows: NDArray[Any]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First row of each kind, and for every row the number of its kind; compared bit by bit."""
    rows = np.ascontiguousarray(rows)
    if not rows.shape[1]:
        return np.zeros(min(1, len(rows)), np.intp), np.zeros(len(rows), np.intp)
    keys = rows.view([("", np.void, rows.shape[1] * rows.itemsize)]).ravel()
    _, first, kind = np.unique(keys, return_index=True, return_inverse=True)
    return first, kind.ravel()
