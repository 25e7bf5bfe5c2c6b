"""Charge pump that inverts: two capacitors and four clocked switches.

Source: datasheets of the 7660 type, application information. Its frequency is that at which the
capacitor is moved to and fro, half of the oscillator's.
"""

import math


def output_resistance(
    switches: float, frequency: float, flying: float, flying_esr: float, reservoir_esr: float
) -> float:
    """Output resistance as every datasheet gives it, in the first order [Ω].

    2 R + 1/(f C1) + 4 ESR1 + ESR2. switches: on-resistance of all four, added up [Ω]; frequency
    [Hz]; flying: capacitance that is moved [F]; series resistances of both capacitors [Ω]. The
    exact one is never more, see `devices.charge_pump_inverter`.

    >>> output_resistance(23.0, 5e3, 10e-6, 0.0, 0.0)
    66.0
    """
    return 2.0 * switches + 1.0 / (frequency * flying) + 4.0 * flying_esr + reservoir_esr


def ripple(current: float, frequency: float, reservoir: float, reservoir_esr: float) -> float:
    """Peak to peak at its output [V]: I (1/(2 f C2) + 2 ESR2); all in SI.

    >>> round(ripple(10e-3, 5e3, 10e-6, 1.0), 6)
    0.12
    """
    return current * (1.0 / (2.0 * frequency * reservoir) + 2.0 * reservoir_esr)


def flying_current(current: float, frequency: float, flying: float, resistance: float) -> float:
    """Effective value of the current to and fro in the capacitor that is moved [A].

    Twice the load in the mean of either half, falling with the time constant R C: with h halves
    of the cycle in time constants, 2 I sqrt(h/2 coth(h/2)). resistance: of the two switches that
    are closed and of the capacitor [Ω]; all in SI. Source: the exponential of R and C.

    >>> slow, fast = (flying_current(10e-3, 5e3, farads, 12.5) for farads in (1e-3, 1e-7))
    >>> round(slow, 4), round(fast, 4)
    (0.02, 0.1265)
    """
    halves = 0.5 / (frequency * resistance * flying)
    return 2.0 * current * math.sqrt(0.5 * halves / math.tanh(0.5 * halves))
