"""Wirewound resistor."""

from __future__ import annotations

from railwright.devices.device import Device, Fault, Rating, Terms, Unknown, Value
from railwright.devices.noise import thermal_noise
from railwright.devices.ohmic import OHMIC_OBSERVES, OHMIC_PINS
from railwright.standards.iec60115 import UPPER


class WirewoundResistor(Device):
    """Resistance wire on a rod, a coil as well: v = R i + L di/dt (Ohm, Faraday).

    Its thermal noise is that of the air's temperature (Nyquist); wire has no excess noise.
    Faults and their shares: wirewound resistors, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "wirewound-resistor"
    pins = OHMIC_PINS
    values = {
        "resistance": Value("Ω", "resistance", least=1e-6),
        "inductance": Value("H", "of its winding", least=1e-12, dynamic=True),
    }
    ratings = {
        "rated_power": Rating("W", "power", "resistor", "power", nil_at=UPPER),
        "rated_voltage": Rating("V", "voltage", "resistor", "voltage"),
    }
    unknowns = {"current": Unknown("A")}
    observes = OHMIC_OBSERVES
    faults = (
        Fault("open", 0.65),
        Fault("drift", 0.26, moves=("resistance",)),
        Fault("short", 0.09),
    )
    conducts = (("one", "two"),)
    symbol = "resistor"

    def equations(self, t: Terms) -> None:
        current = t.x("current")
        voltage = t.v("one") - t.v("two")
        t.through("one", "two", current)
        t.zero("current", voltage - t.p.resistance * current)
        t.flux("current", t.p.inductance * current)
        t.noise_in("current", thermal_noise(t.ambient, t.p.resistance))
        t.observe("power", t.p.resistance * current * current)
        t.observe("voltage", voltage)
        t.observe("current", current)
