"""Sets of uniform numbers that fill the spread evenly, randomised independently of each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
SETS = 8
"""Independent randomisations, so that the spread between them shows the error of a mean."""


def quasi_random(quantities: int, samples: int, seed: int) -> Array:
    """Uniform numbers (quantity, sample): scrambled Sobol sets put one after the other.

    Source: Owen, Scrambling Sobol' and Niederreiter-Xing points, J. Complexity 14 (1998).
    """
    from scipy.stats import qmc

    if quantities == 0:
        return np.empty((0, samples))
    share = -(-samples // SETS)
    power = int(np.ceil(np.log2(share)))
    sets = [
        qmc.Sobol(quantities, seed=np.random.default_rng([seed, i])).random_base2(power)[:share]
        for i in range(SETS)
    ]
    return np.concatenate(sets)[:samples].T
