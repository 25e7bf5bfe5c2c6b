"""Inductor."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import sqrt
from railwright.devices.device import (
    Device,
    Fault,
    Number,
    Pin,
    Rating,
    Terms,
    Unknown,
    Value,
)
from railwright.devices.noise import thermal_noise

FALL = 0.3  # share of the inductance lost at the saturation current: makers state 10 to 35 %
BEND = ((1.0 - FALL) ** (-2.0 / 3.0) - 1.0) ** 0.5
LOSS_FREQUENCY, LOSS_SWING = 1e5, 1.0  # Hz and A from top to bottom, at which core loss is stated


def saturating_flux(inductance: Number, bend: Number, current: Number) -> Number:
    """Flux linkage of a coil [V s]: inductance times current, bent where the core saturates."""
    bent = bend * current
    return inductance * current / sqrt(1.0 + bent * bent)


def inductance(t: Terms, current: Number) -> Number:
    """Slope of a coil's flux at a current [H], from its own terms."""
    bent = t.p.bend * current
    shrink = sqrt(1.0 + bent * bent)
    return t.p.inductance / (shrink * shrink * shrink)


class Inductor(Device):
    """Coil with its winding resistance: v = R i + d(flux)/dt (Faraday, Ohm).

    flux = L i / sqrt(1 + (i/Ik)^2), so the inductance d(flux)/di falls softly and is 30 % down
    at the saturation current; a shape chosen for its smoothness, common practice, no source.
    The core loss is that of a resistance across the coil (the parallel form of every textbook): a
    triangular swing D at the frequency f has 2 L D f across it, so that resistance is
    (2 L D f)² / P at the swing and frequency at which the loss P is stated. It covers their
    surroundings alone: real losses grow less with the frequency, and more with the swing.
    Faults and their shares: coils, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "inductor"
    pins = {"one": Pin("passive"), "two": Pin("passive")}
    values = {
        "inductance": Value("H", "inductance at no current", least=1e-12),
        "winding_resistance": Value("Ω", "resistance of the winding", least=1e-6),
        "saturation_current": Value("A", "current at which 30 % of it is lost", least=1e-6),
        "core_loss": Value(
            "W", "at 100 kHz, triangular swing of 1 A", default=0.0, least=0.0, dynamic=True
        ),
    }
    ratings = {
        "saturation_current": Rating("A", "current", "inductor", "saturation current"),
        "rated_current": Rating("A", "current", "inductor", "current", over="rms"),
    }
    unknowns = {"current": Unknown("A")}
    observes = {"current": "A", "voltage": "V", "power": "W", "inductance": "H"}
    faults = (
        Fault("open", 0.42),
        Fault("short", 0.42),
        Fault("drift", 0.16, moves=("inductance",)),
    )
    conducts = (("one", "two"),)
    symbol = "inductor"

    def constants(self, v: Any) -> dict[str, Number]:
        volts = 2.0 * v.inductance * LOSS_SWING * LOSS_FREQUENCY
        return {
            "bend": BEND / v.saturation_current,
            "core_conductance": v.core_loss / (volts * volts),
        }

    def equations(self, t: Terms) -> None:
        current = t.x("current")
        voltage = t.v("one") - t.v("two")
        lossy = t.p.core_conductance * voltage
        t.through("one", "two", current + lossy)
        t.zero("current", voltage - t.p.winding_resistance * current)
        t.flux("current", saturating_flux(t.p.inductance, t.p.bend, current))
        t.noise_in("current", thermal_noise(t.ambient, t.p.winding_resistance))
        t.noise("one", "two", thermal_noise(t.ambient, t.p.core_conductance))
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("power", t.p.winding_resistance * current * current + lossy * voltage)
        t.observe("inductance", inductance(t, current))
