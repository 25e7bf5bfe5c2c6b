"""Life of aluminium electrolytic capacitors with liquid electrolyte, by the 10-degree rule.

The electrolyte dries out through the seal; ten kelvins less double the life. Sources: technical
notes of capacitor makers, which state good agreement from 70 to 90 °C and deviations below 60
and above 105 °C; that the rule is taken at the core, which the ripple current heats with its
square: application notes on the life of electrolytic capacitors (from memory). Below 40 °C no
further gain is counted, and seals age by themselves within 15 years (common practice, no source).
"""

import math
from collections.abc import Iterable

RATED_RISE = 5.0  # K, of the core by the rated ripple current; 105 °C types, from memory
COOLEST = 313.15  # K; below, the rule promises too much
DOUBLING = 10.0  # K
SEALS = 15 * 365.25 * 86400.0  # s; what seals last by themselves
_MAINS_SHARE = {0.0: 0.4, 200e-6: 0.5, 600e-6: 0.6, 2000e-6: 0.75, 4400e-6: 0.85}


def core_temperature(
    ambient: float, ripple: float, rated_ripple: float, rated_rise: float = RATED_RISE
) -> float:
    """Temperature of the core [K].

    ambient [K]; ripple and rated ripple current [A effective, at the same frequency]; rise of
    the core by the rated ripple current [K]. ValueError where a current or the rise makes no
    sense.

    >>> core_temperature(338.15, 0.5, 1.0)
    339.4
    """
    if not (ripple >= 0 and rated_ripple > 0 and rated_rise >= 0):
        raise ValueError(
            f"ripple {ripple!r} A, rated {rated_ripple!r} A, rise {rated_rise!r} K: wanted are "
            "0 or more, above 0, 0 or more"
        )
    return ambient + rated_rise * (ripple / rated_ripple) ** 2


def core_rise(ripple: float, resistance: float, thermal_resistance: float) -> float:
    """Rise of the core by the ripple current [K], from what it loses.

    ripple current [A effective]; equivalent series resistance [Ω] at its frequency and when
    warm; core to air [K/W].

    >>> core_rise(2.0, 0.05, 25.0)
    5.0
    """
    return ripple**2 * resistance * thermal_resistance


def mains_share(capacitance: float) -> float:
    """Share of the rated ripple current, of 100 kHz, that is allowed at 100 or 120 Hz [1].

    capacitance [F]. There the foil's oxide loses more than the electrolyte's resistance; the
    smaller the capacitor, the more. Frequency coefficients of low-impedance series, from memory.

    >>> mains_share(100e-6), mains_share(2200e-6)
    (0.4, 0.75)
    """
    least = max(limit for limit in _MAINS_SHARE if capacitance >= limit)
    return _MAINS_SHARE[least]


def rated_equivalent(ripples: Iterable[tuple[float, float]]) -> float:
    """The one ripple current that heats as several at different frequencies [A effective].

    ripples: for each its effective current [A] and the multiplier that the datasheet allows at
    its frequency [1]. ValueError where a multiplier is not above zero.

    >>> round(rated_equivalent([(0.8, 1.0), (0.9, 1.5)]), 6)
    1.0
    """
    squares = []
    for current, multiplier in ripples:
        if not multiplier > 0:
            raise ValueError(f"a multiplier of {multiplier!r}: wanted is one above 0")
        squares.append((current / multiplier) ** 2)
    return math.sqrt(sum(squares))


def life(rated_life: float, rated_core: float, core: float) -> float:
    """Expected life [in the unit of the rated life].

    rated life, at the core temperature `rated_core`; core temperature in use [K]. A life rated
    with ripple current has a core warmer than the rated ambient, see `core_temperature`; one
    rated without has the ambient. ValueError above the rated core: no life is known there.

    >>> life(2000.0, 378.15, 358.15)
    8000.0
    """
    if not 0 < core <= rated_core:
        raise ValueError(
            f"a core of {core!r} K: wanted is at most the rated {rated_core!r} K, above it no "
            "life is known"
        )
    return float(rated_life * 2 ** ((rated_core - max(core, COOLEST)) / DOUBLING))


def mixed_life(phases: Iterable[tuple[float, float]]) -> float:
    """Life where conditions take turns [in the unit of the lives].

    phases: for each its duration, all in one unit, and the life that it alone would allow. Each
    uses up its share: linear damage, as makers of supplies reckon. ValueError where a duration
    or a life makes no sense.

    >>> mixed_life([(8, 64000), (8, 32000), (8, 16000)])
    27428.571428571428
    """
    total = used = 0.0
    for duration, alone in phases:
        if not (duration >= 0 and alone > 0):
            raise ValueError(f"{duration!r} at a life of {alone!r}: wanted are 0 or more, above 0")
        total += duration
        used += duration / alone
    if not used > 0:
        raise ValueError("no phase lasts: wanted is at least one with a duration above 0")
    return total / used
