"""Zener diode."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import (
    ROOM,
    exp,
    junction_curve,
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
from railwright.devices.noise import NOISE_VALUES, input_noise, shot_noise

FORWARD_SATURATION = 0.01 / (exp(0.75 / thermal_voltage(ROOM)) - 1.0)
"""A at 25 °C; 0.75 V at 10 mA, silicon (from memory); only a reversed part sees it."""
SOFT_SHARE = 0.5  # share of the dynamic resistance that falls with the current (from memory)
TRANSIT_TIME = 1e-7  # s, forward (from memory); only a reversed part sees it
SHARPEST = 500.0  # the knee is never narrower than the zener voltage divided by this


class Zener(Device):
    """Silicon junction that breaks down at a stated voltage.

    Forward: Shockley's law (Sze, Physics of Semiconductor Devices). Breakdown: an exponential
    knee in series with a resistance, both laid through the stated voltage and dynamic
    resistance at the test current; an approximation, no source. The temperature coefficient
    acts at the junction. It stores the charge of its depletion layer and of its forward
    current. Its breakdown makes a noise voltage that is stated as measured at the test current:
    avalanches make more than shot noise (Gray, Hurst, Lewis and Meyer, Analysis and Design of
    Analog Integrated Circuits, chapter 11).
    """

    kind = "zener"
    pins = {"anode": Pin("anode"), "cathode": Pin("cathode"), **CASE}
    values = {
        "zener_voltage": Value("V", "breakdown voltage at the test current, 25 °C", least=1.0),
        "test_current": Value("A", "current at which the voltage is stated", least=1e-5),
        "dynamic_resistance": Value("Ω", "slope at the test current", least=0.01),
        "temperature_coefficient": Value("1/K", "relative change of the voltage per kelvin"),
        "junction_capacitance": Value("F", "capacitance at nil volts", least=0.0, dynamic=True),
        **NOISE_VALUES,
        **JUNCTION_VALUES,
    }
    ratings = {
        "rated_power": Rating("W", "power", "zener", "power"),
        "rated_current": Rating("A", "current", "zener", "current above nominal", over="mean"),
        "junction_limit": Rating("°C", "junction", "zener", "junction"),
    }
    unknowns = {"walk": Unknown("V"), "breakdown": Unknown("V"), **JUNCTION}
    observes = {"current": "A", "cathode_voltage": "V", **JUNCTION_OBSERVES}
    faults = (
        Fault("short", 0.35),
        Fault("open", 0.45),
        Fault("drift", 0.20, moves=("zener_voltage",)),
    )
    conducts = (("cathode", "anode"),)
    symbol = "zener"

    def constants(self, v: Any) -> dict[str, Number]:
        soft = maximum(
            SOFT_SHARE * v.dynamic_resistance * v.test_current, v.zener_voltage / SHARPEST
        )
        ohmic = maximum(v.dynamic_resistance - soft / v.test_current, 0.1 * v.dynamic_resistance)
        inner = v.zener_voltage - ohmic * v.test_current
        return {
            "knee_slope": soft,
            "knee_current": v.test_current / (exp(inner / soft) - 1.0),
            "ohmic": ohmic,
        }

    def equations(self, t: Terms) -> None:
        temperature = t.v("junction")
        reverse = t.v("cathode") - t.v("anode")
        saturation = saturation_current(FORWARD_SATURATION, temperature, 1.0)
        forward, ahead = junction_curve(t.x("walk"), saturation, thermal_voltage(temperature))
        broken, back = junction_curve(t.x("breakdown"), t.p.knee_current, t.p.knee_slope)
        growth = breakdown_growth(t.p.temperature_coefficient, temperature)
        t.zero("walk", -reverse - forward - ahead * t.p.ohmic)
        t.zero("breakdown", reverse - broken * growth - back * t.p.ohmic)
        charge = depletion_charge(-reverse, t.p.junction_capacitance) + TRANSIT_TIME * ahead
        t.charge("anode", "cathode", charge, parasitic=True)
        t.noise("anode", "cathode", shot_noise(ahead + 2.0 * saturation))
        input_noise(t, "breakdown")
        current = back - ahead
        t.through("cathode", "anode", current)
        dissipate(t, reverse * current)
        t.observe("current", current)
        t.observe("cathode_voltage", reverse)
