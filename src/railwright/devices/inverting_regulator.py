"""Inverting switching regulator: means over its cycle, and cycle by cycle."""

from __future__ import annotations

from railwright.devices.device import Pin
from railwright.devices.indirect_regulator import IndirectRegulator, pins_of
from railwright.devices.switching_regulator import coil_and_diode, switch_faults


class InvertingRegulator(IndirectRegulator):
    """A switch from the input to its pin, with the coil to ground and the diode from the output.

    The output lies below ground, and the feedback pin is held below ground by the reference. The
    voltages of `switching_means` are A = Vin - Von - Vsw and B = Vsw - Vout + Vd:
    Vd - Vout = D (Vin - Von) / (1 - D) in continuous conduction.
    Source: Erickson and Maksimovic, Fundamentals of Power Electronics, chapters 2, 3, 5, 7 and 11
    (means), 12 and 18 (control by the peak current).
    Faults and their shares: as for the step-down regulator (from memory).
    """

    kind = "inverting-regulator"
    pins = pins_of(Pin("power-input"))
    links = coil_and_diode("cathode")
    switch_ends = ("input", "switch")
    diode_end = "anode"
    sense = -1.0
    faults = switch_faults("input", "switch")
    conducts = (("input", "switch"),)
