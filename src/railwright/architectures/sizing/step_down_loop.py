"""Loop of a step-down stage whose regulator has its compensation inside.

Continuous conduction, voltage mode: T = gain (1 + s/wz)/(1 + s/wp) x Vin x (share of the divider)
x (1 + s r C)/(1 + s (L/R + (r + rL) C) + s² L C). Source: Erickson and Maksimovic, Fundamentals of
Power Electronics, chapters 8 and 9.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.complexfloating]
FREQUENCIES = np.geomspace(10.0, 1e6, 1000)
"""Where loops are looked at [Hz]."""


@dataclass(frozen=True)
class Filter:
    """Coil and capacitor behind a switch, with the load; all in SI."""

    inductance: float
    winding: float
    """Ω in series with the coil, the switch's included."""
    capacitance: float
    esr: float
    load: float
    """Ω."""


@dataclass(frozen=True)
class Compensation:
    """An error amplifier: duty per volt of error [1/V], its pole and zero [Hz]."""

    gain: float
    pole: float
    zero: float


def phase_margin(
    amplifier: Compensation, source: float, share: float, stage: Filter, lead: float = 0.0
) -> float:
    """Phase that is left where the loop's gain has fallen to one for good [°].

    source: volts that the switch puts on the coil per duty [V]; share: of the output at the
    feedback pin; lead: the upper leg of the divider times a capacitor across it [s], which adds a
    zero there and a pole at 1/share of its frequency. Infinite where the gain is below one
    throughout.

    >>> stage = Filter(68e-6, 0.2, 470e-6, 0.04, 3.3)
    >>> round(phase_margin(Compensation(500.0, 80.0, 2e3), 24.0, 0.246, stage))
    52
    >>> round(phase_margin(Compensation(500.0, 80.0, 2e3), 24.0, 0.1, stage))
    31
    >>> round(phase_margin(Compensation(500.0, 80.0, 2e3), 24.0, 0.1, stage, 10e-6))
    56
    """
    s = 2j * math.pi * FREQUENCIES
    leads = (1 + s / (2 * math.pi * amplifier.zero)) * (1 + s * stage.esr * stage.capacitance)
    damping = stage.inductance / stage.load + (stage.esr + stage.winding) * stage.capacitance
    rings = 1 + s * damping + s**2 * stage.inductance * stage.capacitance
    lag = 1 + s / (2 * math.pi * amplifier.pole)
    divided = share * (1 + s * lead) / (1 + s * lead * share)
    return left(amplifier.gain * source * divided * leads / (lag * rings))


def left(loop: Array) -> float:
    """Phase that is left where a loop's gain has fallen to one for good [°]; at `FREQUENCIES`.

    Infinite where the gain is below one throughout.
    """
    above = np.flatnonzero(np.abs(loop) > 1.0)
    if not above.size:
        return math.inf
    last = above[-1]
    turns = np.angle(loop[1 : last + 1] / loop[:last])
    return float(180.0 + np.degrees(np.angle(loop[0]) + turns.sum()))
