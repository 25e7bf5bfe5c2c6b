"""Step-up switching regulator: means over its cycle, and cycle by cycle."""

from __future__ import annotations

from railwright.devices.device import Pin
from railwright.devices.indirect_regulator import IndirectRegulator, pins_of
from railwright.devices.switching_regulator import coil_and_diode, switch_faults


class StepUpRegulator(IndirectRegulator):
    """A switch from its pin to ground, with the coil from the input and the diode to the output.

    With the coil's far end at its mean, the voltages of `switching_means` are A = Vsw - Von and
    B = Vout + Vd - Vsw: Vout + Vd = (Vin - D Von) / (1 - D) in continuous conduction. Into an
    output below its input the current flows past the switch, and no limit holds it. Where the
    diode lies behind a coupling capacitor, with a second coil to ground, the output counts with
    what that capacitor holds, and the coils' sum as the current of both in parallel: D / (1 - D)
    times the input, above it or below, and nothing flows past the capacitor.
    Source: Erickson and Maksimovic, Fundamentals of Power Electronics, chapters 2, 3, 5, 7 and 11
    (means), 12 and 18 (control by the peak current).
    Faults and their shares: as for the step-down regulator (from memory).
    """

    kind = "step-up-regulator"
    pins = pins_of(Pin("supply"))
    links = coil_and_diode("anode", coupled=True)
    switch_ends = ("switch", "ground")
    diode_end = "cathode"
    sense = 1.0
    faults = switch_faults("switch", "ground")
    conducts = (("switch", "ground"),)
