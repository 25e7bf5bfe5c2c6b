"""Ferrite bead."""

from __future__ import annotations

from math import pi
from typing import Any

from railwright.devices.arithmetic import maximum, sqrt
from railwright.devices.device import Device, Fault, Number, Rating, Terms, Unknown, Value
from railwright.devices.inductor import BEND, saturating_flux
from railwright.devices.noise import thermal_noise
from railwright.devices.ohmic import OHMIC_OBSERVES, OHMIC_PINS

STATED_AT = 100e6  # Hz; where makers state the impedance
LEAST_GAP = 0.05  # of 1 - (crossover/resonance)^2; no bead has the two so close together


class FerriteBead(Device):
    """Inductance, loss and capacitance side by side; the conductor's resistance by the inductance.

    1/Z = 1/Rp + 1/(j w L) + j w C, the usual equivalent circuit. The three follow from three
    readings of a published curve: |Z| at 100 MHz, the frequency at which Z peaks,
    1/(2 pi sqrt(L C)), and that at which resistance and reactance cross, where the admittance has
    an angle of 45 degrees (Ohm's law). The inductance falls with the current like that of
    `inductor`; the loss stays, though that of a real one falls as well.
    Faults and their shares: coils, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "ferrite-bead"
    pins = OHMIC_PINS
    values = {
        "impedance": Value("Ω", "at 100 MHz, without direct current", least=1e-3),
        "resonance": Value("Hz", "where the impedance peaks", least=1e6),
        "crossover": Value("Hz", "where resistance and reactance are equal", least=1e5),
        "winding_resistance": Value("Ω", "to direct current", least=1e-6),
        "saturation_current": Value("A", "where 30 % of the inductance is lost", least=1e-6),
    }
    ratings = {"rated_current": Rating("A", "current", "inductor", "current", over="rms")}
    unknowns = {"coil": Unknown("A")}
    observes = OHMIC_OBSERVES
    faults = (Fault("open", 0.42), Fault("short", 0.42), Fault("drift", 0.16, moves=("impedance",)))
    conducts = (("one", "two"),)
    symbol = "ferrite-bead"

    def constants(self, v: Any) -> dict[str, Number]:
        peak, cross, stated = 2.0 * pi * v.resonance, 2.0 * pi * v.crossover, 2.0 * pi * STATED_AT
        # Loss and reactance of 1 H whose loss crosses and whose capacitance resonates as stated.
        loss = maximum(1.0 - (cross / peak) * (cross / peak), LEAST_GAP) / cross
        reactive = stated / (peak * peak) - 1.0 / stated
        inductance = v.impedance * sqrt(loss * loss + reactive * reactive)
        return {
            "inductance": inductance,
            "loss": loss / inductance,
            "capacitance": 1.0 / (peak * peak * inductance),
            "bend": BEND / v.saturation_current,
        }

    def equations(self, t: Terms) -> None:
        coil = t.x("coil")
        voltage = t.v("one") - t.v("two")
        lossy = t.p.loss * voltage
        t.through("one", "two", coil + lossy)
        t.charge("one", "two", t.p.capacitance * voltage, parasitic=True)
        t.zero("coil", voltage - t.p.winding_resistance * coil)
        t.flux("coil", saturating_flux(t.p.inductance, t.p.bend, coil))
        t.noise("one", "two", thermal_noise(t.ambient, t.p.loss))
        t.noise_in("coil", thermal_noise(t.ambient, t.p.winding_resistance))
        t.observe("voltage", voltage)
        t.observe("current", coil + lossy)
        t.observe("power", t.p.winding_resistance * coil * coil + lossy * voltage)
