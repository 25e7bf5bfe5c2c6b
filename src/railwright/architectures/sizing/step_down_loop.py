"""Loop of a step-down stage whose regulator has its compensation inside.

Continuous conduction, voltage mode: T = gain (1 + s/wz)/(1 + s/wp) x Vin x (share of the divider)
x (1 + s r C)/(1 + s (L/R + (r + rL) C) + s² L C). Source: Erickson and Maksimovic, Fundamentals of
Power Electronics, chapters 8 and 9.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.complexfloating]
Gains = NDArray[np.float64]
Of = Any
"""A complex number, or an array of such."""
FREQUENCIES = np.geomspace(10.0, 1e6, 400)
"""Where loops are looked at [Hz]: so near that no resonance of a quality of 20 turns unseen."""
STEPS = 2
"""By which a crossing between two of them is found; on logarithmic axes a gain is nearly straight
there."""


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
    amplifier: Compensation,
    source: float,
    share: float,
    stage: Filter,
    lead: float = 0.0,
    lag: float = 0.0,
) -> float:
    """Phase that is left where the loop's gain has fallen to one for good [°].

    source: volts that the switch puts on the coil per duty [V]; share: of the output at the
    feedback pin; lead: the upper leg of the divider times a capacitor across it [s], which adds a
    zero there and a pole at 1/share of its frequency; lag: time constant of an amplifier between
    the output and the pin [s]. Infinite where the gain is below one throughout.

    >>> stage = Filter(68e-6, 0.2, 470e-6, 0.04, 3.3)
    >>> round(phase_margin(Compensation(500.0, 80.0, 2e3), 24.0, 0.246, stage))
    52
    >>> round(phase_margin(Compensation(500.0, 80.0, 2e3), 24.0, 0.1, stage))
    31
    >>> round(phase_margin(Compensation(500.0, 80.0, 2e3), 24.0, 0.1, stage, 10e-6))
    57
    >>> round(phase_margin(Compensation(500.0, 80.0, 2e3), 24.0, 0.1, stage, lag=1e-6))
    28
    """
    damping = stage.inductance / stage.load + (stage.esr + stage.winding) * stage.capacitance

    def loop(s: Of) -> Of:
        leads = (1 + s / (2 * math.pi * amplifier.zero)) * (1 + s * stage.esr * stage.capacitance)
        rings = 1 + s * damping + s**2 * stage.inductance * stage.capacitance
        lags = (1 + s / (2 * math.pi * amplifier.pole)) * (1 + s * lag)
        divided = share * (1 + s * lead) / (1 + s * lead * share)
        return amplifier.gain * source * divided * leads / (lags * rings)

    return left(loop)


def alternating(
    amplifier: Compensation, clock: float, seen: float, slopes: tuple[float, float]
) -> float:
    """What a cycle leaves of a disturbance of the coil's current that swings to and fro.

    The ripple itself moves the duty: an ampere through the series resistance of the capacitor is
    `seen` at the feedback pin [Ω] and takes k = gain x pole/zero x seen off the duty, beside a
    ramp of one per period. So the switch ends at a peak current less a slope of f/k, which is
    current mode with that slope: (m2 - f/k) / (m1 + f/k). clock: f [Hz]; slopes: m1 while the
    switch is on, m2 while it is off [A/s]. From 1 on cycles do not stay alike. Source: Erickson
    and Maksimovic, Fundamentals of Power Electronics, chapter 12 (current mode).

    >>> amplifier = Compensation(500.0, 80.0, 2e3)
    >>> round(alternating(amplifier, 150e3, 0.1, (50e3, 75e3)), 3)
    0.0
    >>> round(alternating(amplifier, 150e3, 0.2, (50e3, 75e3)), 3)
    0.429
    """
    k = amplifier.gain * amplifier.pole / amplifier.zero * seen
    rises, falls = (k * slope for slope in slopes)
    return (falls - clock) / (rises + clock)


def left(loop: Callable[[Of], Of]) -> float:
    """Phase that is left where a loop's gain has fallen to one for good [°].

    loop: of s = jω, one or several. Infinite where the gain is below one throughout.
    """
    seen: Array = loop(2j * math.pi * FREQUENCIES)
    above = np.flatnonzero(np.abs(seen) > 1.0)
    if not above.size:
        return math.inf
    last = above[-1]
    turned = np.angle(seen[0]) + np.angle(seen[1 : last + 1] / seen[:last]).sum()
    if last + 1 < FREQUENCIES.size:
        turned += np.angle(
            _crossing(loop, last, np.log(np.abs(seen[last : last + 2]))) / seen[last]
        )
    return float(180.0 + np.degrees(turned))


def _crossing(loop: Callable[[Of], Of], last: int, gains: Gains) -> complex:
    """The loop where its gain is one, by regula falsi between a frequency and the next.

    gains: there, as logarithms.
    """
    ends = np.log(FREQUENCIES[last : last + 2])
    for _ in range(STEPS):
        place = ends[0] - gains[0] * (ends[1] - ends[0]) / (gains[1] - gains[0])
        found = complex(loop(2j * math.pi * math.exp(place)))
        side = int(abs(found) <= 1.0)
        ends[side], gains[side] = place, math.log(abs(found))
    return found
