"""Functions for device equations that work on floats, arrays, dual numbers and traced expressions.

Every curve here has a continuous slope, since the solvers walk along slopes.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from railwright.devices.device import Number

BOLTZMANN = 1.380649e-23  # J/K, exact since the SI of 2019
CHARGE = 1.602176634e-19  # C, exact since the SI of 2019
ROOM = 298.15  # K; datasheets state values at 25 °C
KNEE = 1e-2  # A; where `junction_curve` turns from walking in volts to walking in amperes
COLDEST = 100.0  # K; see `in_use`
SILICON_GAP = 1.12  # eV near 300 K; Sze, Physics of Semiconductor Devices


def _call(name: str, x: Any) -> Number:
    own = getattr(x, name, None)
    return own() if own is not None else getattr(np, name)(x)


def exp(x: Number) -> Number:
    """e to the x."""
    return _call("exp", x)


def log(x: Number) -> Number:
    """Natural logarithm; x > 0."""
    return _call("log", x)


def sqrt(x: Number) -> Number:
    """Square root; x >= 0."""
    return _call("sqrt", x)


def sin(x: Number) -> Number:
    """Sine of an angle in radians."""
    return _call("sin", x)


def cos(x: Number) -> Number:
    """Cosine of an angle in radians."""
    return _call("cos", x)


def where(condition: Number, yes: Number, no: Number) -> Number:
    """`yes` where condition >= 0, else `no` (lane by lane)."""
    for x in (condition, yes, no):
        own = getattr(x, "select", None)
        if own is not None:
            return own(condition, yes, no)
    return np.where(np.asarray(condition) >= 0, yes, no)


def minimum(a: Number, b: Number) -> Number:
    """The smaller one."""
    return where(b - a, a, b)


def maximum(a: Number, b: Number) -> Number:
    """The larger one."""
    return where(a - b, a, b)


def positive(x: Number, corner: float) -> Number:
    """max(x, 0) with a rounded corner of the given width, in x's unit.

    The plain form (x + sqrt(x^2 + c^2)) / 2 would leave nothing but rounding far below nil.
    """
    size = abs(x)
    return 0.5 * (x + size) + 0.5 * corner * corner / (sqrt(x * x + corner * corner) + size)


def soft_ramp(x: Number, width: Number) -> Number:
    """width log(1 + e^(x/width)): x well above nil, an exponential tail below, in x's unit."""
    return 0.5 * (x + abs(x)) + width * log(1.0 + exp(-abs(x) / width))


def clipped(x: Number, low: Number, high: Number, corner: float) -> Number:
    """x held between low and high, with rounded corners; exact to rounding near either."""
    return low + positive(x - low, corner) - positive(x - high, corner)


def limited(x: Number, most: Number) -> Number:
    """x while small, never beyond plus or minus `most` > 0: x / sqrt(1 + (x/most)^2)."""
    share = x / most
    return x / sqrt(1.0 + share * share)


def step(x: Number) -> Number:
    """0 below 0, 1 above 1, exactly; between them 3 x^2 - 2 x^3, whose slope is continuous."""
    inside = minimum(maximum(x, 0.0), 1.0)
    return inside * inside * (3.0 - 2.0 * inside)


def in_use(temperature: Number) -> Number:
    """A temperature kept above 100 K, where no junction works: solvers guess odd ones [K]."""
    return COLDEST + positive(temperature - COLDEST, 0.1)


def thermal_voltage(temperature: Number) -> Number:
    """k T / q [V]; temperature in kelvin."""
    return in_use(temperature) * (BOLTZMANN / CHARGE)


def saturation_current(
    at_room: Number, temperature: Number, ideality: Number, gap: Number = SILICON_GAP
) -> Number:
    """Saturation current of a junction at a temperature [A], from its value at 25 °C.

    I(T) = I25 (T/T0)^(3/n) exp((Eg/n) (1/(k T0) - 1/(k T))). Source: Sze, Physics of
    Semiconductor Devices, chapter on p-n junctions (proportionality of n_i squared).
    """
    kelvins = in_use(temperature)
    gap_kelvin = gap * CHARGE / BOLTZMANN
    warming = 3.0 * log(kelvins / ROOM) + gap_kelvin * (1.0 / ROOM - 1.0 / kelvins)
    return at_room * exp(warming / ideality)


def junction_curve(s: Number, saturation: Number, slope: Number) -> tuple[Number, Number]:
    """Voltage and current of a p-n junction as functions of a running coordinate s [V].

    The exponential law i = Is (exp(v/slope) - 1), walked along the curve: s is the voltage
    while the current is small and grows with the current where it is large. Neither
    coordinate explodes when s does, so that a solver needs no limits of its own.
    """
    knee = slope * log(1.0 + KNEE / saturation)
    beyond = s - knee
    below = minimum(s, knee)
    small = saturation * (exp(below / slope) - 1.0)
    large = KNEE + (KNEE + saturation) / slope * maximum(beyond, 0.0)
    current = where(beyond, large, small)
    voltage = where(beyond, slope * log(1.0 + large / saturation), s)
    return voltage, current
