"""Wire, trace or lead."""

from __future__ import annotations

from typing import Any, ClassVar

from railwright.devices.device import Device, Fault, Number, Pin, Rating, Terms, Value
from railwright.devices.noise import thermal_noise


class Wire(Device):
    """A conductor with the resistance that it has: i = v / R (Ohm's law).

    That a wire fails open only is common practice, no source.
    """

    kind = "wire"
    pins = {"one": Pin("passive"), "two": Pin("passive")}
    values = {"resistance": Value("Ω", "resistance from end to end", least=1e-6)}
    ratings = {"rated_current": Rating("A", "current", "wire", "current")}
    observes = {"current": "A", "voltage": "V", "power": "W"}
    faults: ClassVar[tuple[Fault, ...]] = (Fault("open", 1.0),)
    conducts = (("one", "two"),)
    symbol = "wire"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"conductance": 1.0 / v.resistance}

    def equations(self, t: Terms) -> None:
        voltage = t.v("one") - t.v("two")
        current = voltage * t.p.conductance
        t.through("one", "two", current)
        t.noise("one", "two", thermal_noise(t.ambient, t.p.conductance))
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("power", voltage * current)
