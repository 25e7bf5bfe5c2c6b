"""What a p-n junction stores, and how its breakdown warms; no kind of its own."""

from __future__ import annotations

from railwright.devices.arithmetic import ROOM, maximum, minimum, positive, sqrt
from railwright.devices.device import Number

BUILT_IN = 0.7  # V; built-in potential of silicon and Schottky junctions, rounded, from memory
BEND = 0.5 * BUILT_IN
"""Where the depletion charge turns into its smooth continuation [V]."""


LEAST_GROWTH = 0.2  # where the linear law would end at no breakdown; long after any real part


def breakdown_growth(coefficient: Number, temperature: Number) -> Number:
    """Breakdown voltage over that at 25 °C: linear in temperature, but never near nil.

    coefficient [1/K]; temperature [K]. Every datasheet of zener diodes states it so.
    """
    change = 1.0 + coefficient * (temperature - ROOM)
    return LEAST_GROWTH + positive(change - LEAST_GROWTH, 1e-3)


def depletion_charge(voltage: Number, capacitance: Number, tested: Number = 0.0) -> Number:
    """Charge of a junction's depletion layer at a forward voltage [C].

    C(v) = C0 / sqrt(1 - v/phi): an abrupt junction. Source: Sze, Physics of Semiconductor
    Devices, chapter on p-n junctions. From half of phi on the capacitance goes on in a straight
    line (Sedra and Smith, Microelectronic Circuits, state about 2 C0 for all forward voltages).
    capacitance [F] is that at the reverse voltage `tested` [V].
    """
    at_nil = capacitance * sqrt(1.0 + tested / BUILT_IN)
    below = minimum(voltage, BEND)
    beyond = maximum(voltage - BEND, 0.0)
    at_bend = at_nil * 2.0**0.5
    rise = at_bend / (2.0 * (BUILT_IN - BEND))
    depleted = 2.0 * BUILT_IN * at_nil * (1.0 - sqrt(1.0 - below / BUILT_IN))
    return depleted + (at_bend + 0.5 * rise * beyond) * beyond
