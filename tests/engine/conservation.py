"""What no course in time may lose: charge and energy, from outputs close to one another."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import cumulative_simpson

Array = NDArray[np.float64]


def lost(times: Array, flow: Array, stored: Array) -> Array:
    """By how much what is stored (..., time) differs from what flowed in (..., time) until then.

    Over the largest amount stored or moved; the flow is integrated by Simpson's rule.
    """
    moved = cumulative_simpson(flow, x=times, initial=0.0)
    whole = np.maximum(np.abs(stored).max(axis=-1), np.abs(moved).max(axis=-1))
    return np.asarray((stored - stored[..., :1] - moved) / whole[..., None])


def imbalance(powers: Array) -> Array:
    """Sum of the powers (part, ...) that all parts take, over the sum of their sizes.

    Nil by Tellegen's theorem, whatever the parts are.
    """
    size = np.maximum(np.abs(powers).sum(axis=0), np.finfo(float).tiny)
    return np.asarray(powers.sum(axis=0) / size)
