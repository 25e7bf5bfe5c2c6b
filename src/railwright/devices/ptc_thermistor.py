"""Thermistor whose resistance rises steeply beyond a temperature: resettable fuse, heater."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import exp, soft_ramp
from railwright.devices.device import JUNCTION_VALUES, Number, Rating, Terms, Value
from railwright.devices.thermistor import Thermistor


class PtcThermistor(Thermistor):
    """Resistance by the temperature of its own body, which its own power heats.

    R = R25 (1 + exp(a (T - Ts))): flat while cold, twice as much at the switching temperature
    (so it is defined in IEC 60738-1, from memory), and beyond it rising by the share `a` per
    kelvin. The resistance of the hot part lies in parallel and bounds it; where a real one falls
    again, hotter still, it stays. The shape is common practice, no source.
    Faults and their shares: thermistors, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "ptc-thermistor"
    values = {
        "resistance": Value("Ω", "resistance while cold", least=1e-3),
        "switching_temperature": Value("°C", "where it has doubled", least=250.0, most=600.0),
        "steepness": Value("1/K", "relative rise per kelvin beyond it", least=0.01, most=1.0),
        "hot_resistance": Value("Ω", "greatest resistance, tripped", least=1.0),
        **JUNCTION_VALUES,
    }
    ratings = {
        "rated_voltage": Rating("V", "voltage", "thermistor", "voltage"),
        "rated_current": Rating("A", "current", "thermistor", "current", over="rms"),
        "junction_limit": Rating("°C", "junction", "thermistor", "junction"),
    }

    def constants(self, v: Any) -> dict[str, Number]:
        return {"cold_conductance": 1.0 / v.resistance, "hot_conductance": 1.0 / v.hot_resistance}

    def equations(self, t: Terms) -> None:
        temperature = t.v("junction")
        beyond = t.p.steepness * (temperature - t.p.switching_temperature)
        conductance = t.p.cold_conductance * exp(-soft_ramp(beyond, 1.0)) + t.p.hot_conductance
        self.carry(t, conductance)
