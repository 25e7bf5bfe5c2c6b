"""What a fuse lets through before it opens, and what a semiconductor survives meanwhile.

All currents are direct ones, all in SI. Source of the fuse: as `devices.fuse`.
"""

from __future__ import annotations

import math

from railwright.architectures.sizing.choice import spread_of
from railwright.catalogue.entry import Entry


def withstood(crest: float, half_wave: float, seconds: float) -> float:
    """Integral of the squared current that a semiconductor survives within a time [A²s].

    crest: its surge current, of one half wave of a duration [A, s]. Up to that the integral of
    one half wave counts, half the square of its crest times its duration; in a longer time the
    surge current falls with its fourth root (curves of datasheets over the number of half waves,
    from memory).

    >>> withstood(100.0, 10e-3, 1e-3), withstood(100.0, 10e-3, 0.04)
    (50.0, 100.0)
    """
    return 0.5 * crest**2 * math.sqrt(half_wave * max(seconds, half_wave))


def opening(current: float, melts: float, integral: float) -> float:
    """Time after which a steady current opens a cold fuse [s]; infinite where it never does.

    melts: the least current that ever opens it [A]; integral: its melting integral [A²s].
    -tau ln(1 - (Im / i)²) with tau = integral / Im².

    >>> round(opening(10.0, 2.0, 8.0), 4)
    0.0816
    """
    if current <= melts:
        return math.inf
    share = (melts / current) ** 2
    return -integral / melts**2 * math.log1p(-share)


def let_through(fuse: Entry, current: float) -> tuple[float, float]:
    """What a fuse lets through at a steady current, and the time until it opens [A²s, s]."""
    melts, integral = (
        spread_of(fuse, name).high for name in ("melting_current", "melting_integral")
    )
    seconds = opening(current, melts, integral)
    return current**2 * seconds, seconds
