"""Filament lamp."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import exp, log, positive
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

RESISTIVITY = 1.213  # power of the temperature by which that of tungsten rises
COLDEST = 0.02  # share of the rated temperature below which a filament is never
CORNER = 1e-3


class Lamp(Device):
    """Tungsten filament: cold it has a fifteenth of its resistance, and takes the inrush.

    R = Rr (T/Tr)^1.213, the resistivity of tungsten from 300 K to 3000 K within 3 % (table of
    Jones and Langmuir, 1927, as in handbooks of physics). It loses its heat by radiation, P =
    Pr (T⁴ - Ta⁴) / (Tr⁴ - Ta⁴) (law of Stefan and Boltzmann; grey, and without the gas, whose
    shares nearly cancel each other). `rise` is its temperature above the air, over the rated
    one. In time its heat capacity holds it back; an operating point is the settled lamp.
    The filament's heat is followed with the currents, not with the temperatures of the other
    parts: it takes fractions of a second. Noise: thermal, of the hot filament (Nyquist).
    Faults and their shares: lamps, MIL-HDBK-338B (from memory).
    """

    kind = "lamp"
    pins = {"one": Pin("passive"), "two": Pin("passive")}
    values = {
        "rated_voltage": Value("V", "at which its power is stated", least=0.1),
        "rated_power": Value("W", "at that voltage", least=1e-3),
        "filament": Value("K", "temperature of the filament there", least=1000.0, most=3600.0),
        "filament_heat": Value("J/K", "heat capacity of it", least=0.0, dynamic=True),
    }
    ratings = {"voltage_maximum": Rating("V", "voltage")}
    unknowns = {"rise": Unknown("1", start=0.9)}
    observes = {
        "current": "A",
        "voltage": "V",
        "power": "W",
        "resistance": "Ω",
        "temperature": "°C",
    }
    faults = (Fault("open", 0.67), Fault("drift", 0.33, moves=("rated_power",)))
    conducts = (("one", "two"),)
    symbol = "lamp"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"rated_conductance": v.rated_power / (v.rated_voltage * v.rated_voltage)}

    def equations(self, t: Terms) -> None:
        voltage = t.v("one") - t.v("two")
        air, rise = t.ambient / t.p.filament, t.x("rise")
        hot = COLDEST + positive(air + rise - COLDEST, CORNER)
        conductance = t.p.rated_conductance * exp(-RESISTIVITY * log(hot))
        current = voltage * conductance
        kelvins = hot * t.p.filament
        # Colder than cold, where solvers look as well, the loss goes on with some slope.
        radiated = (_fourth(hot) - _fourth(air)) / (1.0 - _fourth(air)) + (air + rise - hot)
        t.zero("rise", voltage * current - t.p.rated_power * radiated)
        t.flux("rise", t.p.filament_heat * t.p.filament * rise)
        t.through("one", "two", current)
        t.noise("one", "two", thermal_noise(kelvins, conductance))
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("power", voltage * current)
        t.observe("resistance", 1.0 / conductance)
        t.observe("temperature", kelvins)


def _fourth(x: Number) -> Number:
    square = x * x
    return square * square
