"""Thermistors in the way of a current: their resistance, cold and as the current warms them.

Source: as `devices.ntc_thermistor`, R = R25 exp(B (1/T - 1/T25)); T - Ta = I² R / dissipation
factor.
"""

from __future__ import annotations

import math

from scipy.optimize import brentq

from railwright.architectures.sizing.choice import spread_of
from railwright.catalogue.entry import Entry
from railwright.devices.arithmetic import ROOM

HOTTEST = 1000.0
"""K, above any that is sought."""


def cold(resistance: float, beta: float, temperature: float) -> float:
    """Resistance of a body at a temperature [Ω].

    resistance at 25 °C [Ω]; beta, temperature [K].

    >>> round(cold(10.0, 3000.0, 348.15), 3)
    2.357
    """
    return resistance * math.exp(beta * (1.0 / temperature - 1.0 / ROOM))


def warmed(
    resistance: float, beta: float, to_air: float, current: float, ambient: float
) -> tuple[float, float]:
    """Temperature and resistance of a body that a current warms [K, Ω].

    resistance at 25 °C [Ω]; beta [K]; to_air [K/W]; current [A effective]; ambient [K].

    >>> round(warmed(10.0, 3000.0, 75.0, 0.5, 298.15)[1], 2)
    2.52
    """

    def left(temperature: float) -> float:
        return ambient + to_air * current**2 * cold(resistance, beta, temperature) - temperature

    found = float(brentq(left, ambient, max(HOTTEST, ambient + left(ambient) + 1.0)))
    return found, cold(resistance, beta, found)


def coldest(entry: Entry, ambient: float) -> float:
    """The most that one may have in air of a temperature [Ω], without a current."""
    beta = spread_of(entry, "beta")
    steep = beta.high if ambient < ROOM else beta.low
    return cold(spread_of(entry, "resistance").high, steep, ambient)


def hottest(entry: Entry, current: float, ambient: float) -> tuple[float, float]:
    """The highest temperature that a current makes of one, and the least resistance [K, Ω]."""
    resistance, beta = spread_of(entry, "resistance"), spread_of(entry, "beta")
    to_air = spread_of(entry, "junction_to_ambient").high
    warm, _ = warmed(resistance.high, beta.low, to_air, current, ambient)
    _, least = warmed(resistance.low, beta.high, to_air, current, ambient)
    return warm, least
