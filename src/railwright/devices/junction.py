"""What a p-n junction stores; no kind of its own."""

from __future__ import annotations

from railwright.devices.arithmetic import maximum, minimum, sqrt
from railwright.devices.device import Number

BUILT_IN = 0.7  # V; built-in potential of silicon and Schottky junctions, rounded, from memory
BEND = 0.5 * BUILT_IN
"""Where the depletion charge turns into its smooth continuation [V]."""


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
