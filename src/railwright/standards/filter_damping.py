"""Damping of a filter of a coil and a capacitor by a second capacitor with a resistor in series.

The second one, n times the first, lies beside it; its resistor takes the energy in which coil and
first capacitor would ring. For each n one resistance makes the greatest impedance of the filter as
small as it can be. Source: Erickson and Maksimovic, Fundamentals of Power Electronics, section
17.4.1, equations 17.33 to 17.38 (after Middlebrook 1978).
"""

from __future__ import annotations

import math


def characteristic(inductance: float, capacitance: float) -> float:
    """Impedance at which coil and capacitor ring [Ω]: sqrt(L / C); in H and F.

    >>> round(characteristic(330e-6, 470e-6), 2)
    0.84
    """
    return math.sqrt(inductance / capacitance)


def times_for(peak: float) -> float:
    """How many times the first capacitance the second has to be for a greatest impedance.

    peak: that impedance over the characteristic one.

    >>> round(times_for(1.0 / 0.837931), 3)
    2.519
    """
    return (1.0 + math.sqrt(1.0 + 4.0 * peak**2)) / peak**2


def least_peak(times: float) -> float:
    """Greatest impedance over the characteristic one, with the best resistance.

    >>> round(0.837931 * least_peak(2.519129), 4)
    1.0
    """
    return math.sqrt(2.0 * (2.0 + times)) / times


def best_resistance(times: float) -> float:
    """The best resistance in series with the second capacitor, over the characteristic impedance.

    >>> round(0.837931 * best_resistance(2.519129), 3)
    0.666
    """
    return math.sqrt((2.0 + times) * (4.0 + 3.0 * times) / (2.0 * times**2 * (4.0 + times)))
