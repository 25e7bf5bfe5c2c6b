"""Fixed resistors: what they may lose in warm air, and for a moment.

Source: IEC 60115-1, from memory: the rated dissipation holds up to 70 °C of the air and falls in
a straight line to nil at the upper category temperature, 155 °C of film resistors; the voltage
at the rated dissipation is sqrt(P R), at most the limiting element voltage; the short-time overload
test puts 2.5 times that voltage on for 5 s, at most twice the limiting element voltage.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

RATED_AT = 343.15
"""K, of the air."""
UPPER = 428.15
"""K, upper category temperature of film resistors."""
OVERLOAD, OVERLOAD_LIMIT = 2.5, 2.0
"""Times the rated voltage, and at most times the limiting element voltage."""


def power_ratio(ambient: ArrayLike, upper: float = UPPER) -> NDArray[np.float64]:
    """Share of the rated dissipation that holds at ambients [K]; upper category temperature [K].

    ValueError where the upper temperature is not above that of the rating.

    >>> power_ratio([300.0, 385.65, 500.0]).tolist()
    [1.0, 0.5, 0.0]
    """
    if not upper > RATED_AT:
        raise ValueError(f"an upper temperature of {upper!r} K: wanted is one above {RATED_AT} K")
    share = (upper - np.asarray(ambient, dtype=np.float64)) / (upper - RATED_AT)
    return np.clip(share, 0.0, 1.0)


def rated_voltage(power: float, resistance: float, limiting: float = math.inf) -> float:
    """Voltage at which a resistor takes its rated dissipation [V], the limiting one at most.

    rated dissipation [W]; resistance [Ω]; limiting element voltage [V]. ValueError where one is
    not above nil.

    >>> rated_voltage(0.25, 1e4), rated_voltage(0.25, 1e6, 250.0)
    (50.0, 250.0)
    """
    if not (power > 0 and resistance > 0 and limiting > 0):
        raise ValueError(
            f"{power!r} W, {resistance!r} Ω, at most {limiting!r} V: wanted are all above 0"
        )
    return min(math.sqrt(power * resistance), limiting)


def overload_voltage(power: float, resistance: float, limiting: float = math.inf) -> float:
    """Voltage that a resistor stands for 5 s [V]. Arguments and ValueError as for `rated_voltage`.

    >>> overload_voltage(0.25, 1e4, 250.0), overload_voltage(0.25, 1e6, 250.0)
    (125.0, 500.0)
    """
    return min(OVERLOAD * rated_voltage(power, resistance, limiting), OVERLOAD_LIMIT * limiting)
