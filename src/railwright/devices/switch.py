"""Switch and push button."""

from __future__ import annotations

from typing import Any

from railwright.devices.device import Device, Fault, Number, Rating, Terms, Value
from railwright.devices.ohmic import OHMIC_OBSERVES, OHMIC_PINS, conduct

OPEN_CONDUCTANCE = 1e-10  # S; 10 GΩ, usual insulation of a clean contact (from memory)


class Switch(Device):
    """A contact: i = v / R when closed, insulation when open (Ohm's law).

    `operated` 1 is pushed or switched; a contact whose rest is closed opens then.
    Faults and their shares: switches, RAC FMD-97 as commonly quoted (from memory).
    """

    kind = "switch"
    pins = OHMIC_PINS
    values = {"contact_resistance": Value("Ω", "resistance of the closed contact", least=1e-6)}
    inputs = {"operated": 0.0}
    options = {"rest": ("open", "closed")}
    ratings = {
        "rated_current": Rating("A", "current", "switch", "current", over="rms"),
        "rated_voltage": Rating("V", "voltage", "switch", "voltage"),
    }
    observes = OHMIC_OBSERVES
    faults = (
        Fault("open", 0.65),
        Fault("short", 0.16),
        Fault("drift", 0.19, moves=("contact_resistance",)),
    )
    conducts = (("one", "two"),)
    symbol = "switch"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"contact_conductance": 1.0 / v.contact_resistance}

    def equations(self, t: Terms) -> None:
        rests_closed = t.option("rest") == "closed"
        closed = 1.0 - t.p.operated if rests_closed else t.p.operated
        conduct(t, OPEN_CONDUCTANCE + closed * t.p.contact_conductance)
