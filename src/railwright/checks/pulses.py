"""Pulses of heat: how warm a body gets by a power that changes faster than heat goes through it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def felt(times: Array, power: Array, through: float) -> Array:
    """The steady power that would make a body as warm as a course of it has (lane, instant).

    It warms as the square root of time, until heat is through it after `through` [s]: heat that
    enters a slab at one face (Carslaw and Jaeger, Conduction of Heat in Solids), with a corner in
    place of its last bend. times: (instant,) [s]; power: (lane, instant) above what there was
    before.
    """
    mean = 0.5 * (power[:, 1:] + power[:, :-1])
    since = np.maximum(times[1:, None] - times[None, :], 0.0)
    reached = np.minimum(np.sqrt(since / through), 1.0)
    found: Array = np.pad(mean @ (reached[:, :-1] - reached[:, 1:]).T, ((0, 0), (1, 0)))
    return found


def cooled(times: Array, square: Array, settles: Array | float) -> Array:
    """Greatest h of dh/dt = (square - h) / settles from h = 0, over lanes; settles: lanes [s]."""
    greatest = now = np.zeros(square.shape[0])
    for instant, step in enumerate(np.diff(times)):
        mean = 0.5 * (square[:, instant] + square[:, instant + 1])
        now = now - np.expm1(-step / settles) * (mean - now)
        greatest = np.maximum(greatest, now)
    return greatest
