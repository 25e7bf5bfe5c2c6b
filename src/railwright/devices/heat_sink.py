"""Heat sink."""

from __future__ import annotations

from typing import Any

from railwright.devices.device import Device, Number, Pin, Terms, Value


class HeatSink(Device):
    """Carries heat from a face to the air: watts = kelvins / R; stores joules = C times kelvins.

    Source: the thermal resistance model of JESD51-1. A sink does not fail by itself (common
    practice, no source).
    """

    kind = "heat-sink"
    pins = {"face": Pin("thermal"), "air": Pin("thermal")}
    values = {
        "resistance": Value("K/W", "thermal resistance, face to air", least=1e-3),
        "heat_capacity": Value("J/K", "of its metal", default=0.0, least=0.0, dynamic=True),
    }
    observes = {"heat": "W", "rise": "K", "face": "°C"}
    symbol = "heat-sink"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"conductance": 1.0 / v.resistance}

    def equations(self, t: Terms) -> None:
        rise = t.v("face") - t.v("air")
        heat = rise * t.p.conductance
        t.through("face", "air", heat)
        t.heat("face", t.p.heat_capacity * t.v("face"))
        t.observe("heat", heat)
        t.observe("rise", rise)
        t.observe("face", t.v("face"))
