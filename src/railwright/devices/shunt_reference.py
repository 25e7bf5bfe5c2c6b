"""Adjustable shunt reference (431 type)."""

from __future__ import annotations

from math import pi
from typing import Any

from railwright.devices.arithmetic import positive, step
from railwright.devices.device import (
    CASE,
    JUNCTION,
    JUNCTION_OBSERVES,
    JUNCTION_VALUES,
    Device,
    Fault,
    Number,
    Pin,
    Rating,
    Terms,
    Unknown,
    Value,
    Window,
    dissipate,
)
from railwright.devices.noise import NOISE_VALUES, input_noise

CORNER = 1e-3  # V
CURRENT_CORNER = 1e-7  # A
OHM = 1.0  # Ω


class ShuntReference(Device):
    """Sinks cathode current where its reference pin exceeds the reference voltage.

    I = (Vr - Vref - c Vka) / z, down to its saturation voltage; set to V = Vref (1 + R1/R2) +
    Iref R1. Below its minimum current the reference voltage is not kept: here it is, and the
    current shows what is wanting. Source: datasheet of the 431 type (set formula, dynamic
    impedance, change with the cathode voltage). In time its transconductance has one pole, from
    the dynamic resistance and from the frequency at which the gain into the test load is 1. Such
    a part rings with a capacitor across it, from the smallest up to one whose series resistance,
    or the dynamic resistance with a large one, damps it: the window that datasheets forbid.
    Faults and their shares: zener references, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "shunt-reference"
    pins = {
        "cathode": Pin("cathode"),
        "anode": Pin("anode"),
        "reference": Pin("input"),
        **CASE,
    }
    values = {
        "reference_voltage": Value("V", "reference to anode, cathode tied to it", least=0.1),
        "reference_current": Value("A", "current into the reference pin", least=0.0),
        "minimum_current": Value("A", "least cathode current that keeps regulation", least=0.0),
        "dynamic_resistance": Value("Ω", "slope, reference tied to cathode", least=1e-3),
        "cathode_voltage_effect": Value("V/V", "reference voltage per volt of cathode voltage"),
        "saturation_voltage": Value("V", "lowest cathode voltage", least=0.1),
        "off_current": Value("A", "cathode current while off", least=0.0),
        "unity_gain_frequency": Value(
            "Hz", "where the gain into the test load is 1", least=1e3, dynamic=True
        ),
        "unity_gain_load": Value("Ω", "that test load", least=1.0, dynamic=True),
        **NOISE_VALUES,
        **JUNCTION_VALUES,
    }
    ratings = {
        "cathode_current": Rating("A", "current", "zener", "current above nominal"),
        "cathode_voltage_maximum": Rating("V", "cathode_voltage", "diode", "reverse voltage"),
        "rated_power": Rating("W", "power", "zener", "power"),
        "junction_limit": Rating("°C", "junction", "linear ic", "junction"),
    }
    windows = {
        "small_capacitance": Window(
            "capacitance", ("cathode", "anode"), or_else="large_capacitance"
        ),
        "large_capacitance": Window(
            "capacitance", ("cathode", "anode"), or_else="small_capacitance"
        ),
    }
    unknowns = {"state": Unknown("A"), **JUNCTION}
    observes = {
        "current": "A",
        "minimum_current": "A",
        "cathode_voltage": "V",
        "reference_voltage": "V",
        **JUNCTION_OBSERVES,
    }
    faults = (
        Fault("open", 0.35, ("cathode",)),
        Fault("short", 0.35, ("cathode", "anode")),
        Fault("drift", 0.3, moves=("reference_voltage",)),
    )
    conducts = (("cathode", "anode"), ("reference", "anode"))
    polar = (("cathode", "anode"),)
    symbol = "shunt-reference"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"tied_effect": v.cathode_voltage_effect * v.reference_voltage}

    def equations(self, t: Terms) -> None:
        across = t.v("cathode") - t.v("anode")
        reference = t.v("reference") - t.v("anode")
        state = t.x("state")
        regulated = positive(state, CURRENT_CORNER)
        held = t.p.reference_voltage + t.p.cathode_voltage_effect * across - t.p.tied_effect
        excess = t.signal("error", reference - held)
        spare = across - t.p.saturation_voltage
        wanted = excess - positive(excess - spare, CORNER)
        t.zero(
            "state",
            wanted - regulated * t.p.dynamic_resistance / t.gain - (state - regulated) * OHM,
        )
        # Cut off, its state follows within that frequency's time constant: it does not wind up.
        slowness = (t.p.unity_gain_load - OHM) * regulated + OHM * state
        t.flux("state", slowness / (2.0 * pi * t.p.unity_gain_frequency))
        input_noise(t, "state")
        current = regulated + t.p.off_current * step(across)
        taken = t.p.reference_current * step(reference)
        t.through("cathode", "anode", current)
        t.through("reference", "anode", taken)
        dissipate(t, across * current + reference * taken)
        t.observe("current", current)
        t.observe("minimum_current", t.p.minimum_current)
        t.observe("cathode_voltage", across)
        t.observe("reference_voltage", reference)
