"""Transient suppressor, for one polarity or for both."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import (
    exp,
    junction_curve,
    log,
    maximum,
    saturation_current,
    thermal_voltage,
)
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
    dissipate,
)
from railwright.devices.junction import breakdown_growth, depletion_charge
from railwright.devices.noise import shot_noise
from railwright.devices.zener import FORWARD_SATURATION, SHARPEST, TRANSIT_TIME

LEAST_LEAKAGE = 1e-15  # A
LEAST_OHMIC = 1e-3  # of breakdown voltage over clamping current


class Suppressor(Device):
    """Junction that breaks down at a stated voltage and stands the current of a surge.

    Breakdown: an exponential knee through the leakage at the stand-off voltage and the test
    current at the breakdown voltage, in series with a resistance that leads on to the clamping
    voltage; the three points every datasheet of suppressors states, the shape between them is
    common practice, no source. What a surge heats is in the clamping voltage already. Forward, one
    for one polarity is a silicon junction (Shockley's law); one for both breaks down alike either
    way, and its capacitance is taken as constant. Noise: shot noise of both currents.
    Faults and their shares: as of zener diodes, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "suppressor"
    pins = {"anode": Pin("anode"), "cathode": Pin("cathode"), **CASE}
    options = {"polarity": ("unidirectional", "bidirectional")}
    values = {
        "standoff_voltage": Value("V", "where it leaks no more than stated", least=0.5),
        "leakage": Value("A", "at the stand-off voltage", least=0.0),
        "breakdown_voltage": Value("V", "at the test current, 25 °C", least=1.0),
        "test_current": Value("A", "current at which that voltage is stated", least=1e-6),
        "clamping_voltage": Value("V", "at the clamping current", least=1.0),
        "clamping_current": Value("A", "peak of the stated surge", least=0.01),
        "temperature_coefficient": Value("1/K", "relative change of the breakdown per kelvin"),
        "junction_capacitance": Value("F", "capacitance at nil volts", least=0.0, dynamic=True),
        **JUNCTION_VALUES,
    }
    ratings = {
        "standoff_voltage": Rating("V", "voltage", "transient suppressor", "voltage", lasting=True),
        "rated_power": Rating("W", "power", "transient suppressor", "power"),
        "junction_limit": Rating("°C", "junction", "transient suppressor", "junction"),
    }
    unknowns = {"walk": Unknown("V"), "breakdown": Unknown("V"), **JUNCTION}
    observes = {"current": "A", "voltage": "V", **JUNCTION_OBSERVES}
    faults = (
        Fault("short", 0.35),
        Fault("open", 0.45),
        Fault(
            "drift",
            0.20,
            moves=(
                "standoff_voltage",
                "breakdown_voltage",
                "clamping_voltage",
            ),
        ),
    )
    conducts = (("cathode", "anode"),)
    symbol = "suppressor"

    def constants(self, v: Any) -> dict[str, Number]:
        least = v.breakdown_voltage / SHARPEST
        decades = log(v.test_current / maximum(v.leakage, LEAST_LEAKAGE))
        rise = maximum(v.breakdown_voltage - v.standoff_voltage, least)
        slope = maximum(rise / maximum(decades, 1.0), least)
        surge = maximum(v.clamping_current, 2.0 * v.test_current)
        ohmic = v.clamping_voltage - v.breakdown_voltage - slope * log(surge / v.test_current)
        ohmic = maximum(ohmic, LEAST_OHMIC * v.breakdown_voltage) / (surge - v.test_current)
        inner = maximum(v.breakdown_voltage - ohmic * v.test_current, 0.5 * v.breakdown_voltage)
        return {
            "knee_slope": slope,
            "knee_current": v.test_current / (exp(inner / slope) - 1.0),
            "ohmic": ohmic,
        }

    def equations(self, t: Terms) -> None:
        temperature = t.v("junction")
        voltage = t.v("cathode") - t.v("anode")
        growth = breakdown_growth(t.p.temperature_coefficient, temperature)
        broken, back = junction_curve(t.x("breakdown"), t.p.knee_current, t.p.knee_slope)
        t.zero("breakdown", voltage - broken * growth - back * t.p.ohmic)
        if t.option("polarity") == "bidirectional":
            leak = t.p.knee_current
            forward, ahead = junction_curve(t.x("walk"), leak, t.p.knee_slope)
            forward = forward * growth
            charge = -t.p.junction_capacitance * voltage
        else:
            leak = saturation_current(FORWARD_SATURATION, temperature, 1.0)
            forward, ahead = junction_curve(t.x("walk"), leak, thermal_voltage(temperature))
            charge = depletion_charge(-voltage, t.p.junction_capacitance) + TRANSIT_TIME * ahead
        t.zero("walk", -voltage - forward - ahead * t.p.ohmic)
        t.charge("anode", "cathode", charge, parasitic=True)
        t.noise("anode", "cathode", shot_noise(ahead + back + 2.0 * (leak + t.p.knee_current)))
        current = back - ahead
        t.through("cathode", "anode", current)
        dissipate(t, voltage * current)
        t.observe("current", current)
        t.observe("voltage", voltage)
