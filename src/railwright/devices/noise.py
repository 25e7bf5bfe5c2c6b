"""Densities of the noise that parts make, and the values that state it; no kind of its own."""

from __future__ import annotations

from railwright.devices.arithmetic import BOLTZMANN, CHARGE
from railwright.devices.device import Number, Terms, Value

NOISE_VALUES = {
    "noise_voltage": Value("V/√Hz", "input noise far above its corner", least=0.0, dynamic=True),
    "noise_corner": Value("Hz", "below it that noise rises as 1/f", least=0.0, dynamic=True),
}


def shot_noise(current: Number) -> Number:
    """Density 2 q I of a current's shot noise [A²/Hz]; current >= 0 [A].

    Source: Schottky; Gray, Hurst, Lewis and Meyer, Analysis and Design of Analog Integrated
    Circuits, chapter 11.
    """
    return 2.0 * CHARGE * current


def thermal_noise(temperature: Number, resistance: Number) -> Number:
    """Density 4 k T R of a resistance's noise voltage [V²/Hz]; of its current, with 1/R for R.

    Source: Nyquist (1928), Thermal Agitation of Electric Charge in Conductors.
    """
    return 4.0 * BOLTZMANN * temperature * resistance


def input_noise(t: Terms, unknown: str) -> None:
    """State a part's noise voltage, as its values have it, in an equation of volts."""
    t.noise_in(unknown, t.p.noise_voltage * t.p.noise_voltage, t.p.noise_corner)
