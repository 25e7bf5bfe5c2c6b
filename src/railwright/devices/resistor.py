"""Resistor."""

from __future__ import annotations

from typing import Any

from railwright.devices.device import Device, Fault, Number, Rating, Terms, Value
from railwright.devices.ohmic import EXCESS_NOISE, OHMIC_OBSERVES, OHMIC_PINS, conduct
from railwright.standards.iec60115 import UPPER


class Resistor(Device):
    """Fixed resistor: i = v / R (Ohm's law), with the thermal noise of the air's temperature.

    Film, and carbon the more, adds the excess noise that grows with the voltage across
    (`ohmic.conduct`).
    Faults and their shares: film resistors, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "resistor"
    pins = OHMIC_PINS
    values = {"resistance": Value("Ω", "resistance", least=1e-6), **EXCESS_NOISE}
    ratings = {
        "rated_power": Rating("W", "power", "resistor", "power", nil_at=UPPER),
        "rated_voltage": Rating("V", "voltage", "resistor", "voltage"),
    }
    observes = OHMIC_OBSERVES
    faults = (
        Fault("open", 0.59),
        Fault("short", 0.05),
        Fault("drift", 0.36, moves=("resistance",)),
    )
    conducts = (("one", "two"),)
    symbol = "resistor"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"conductance": 1.0 / v.resistance}

    def equations(self, t: Terms) -> None:
        conduct(t, t.p.conductance, t.p.excess_noise)
