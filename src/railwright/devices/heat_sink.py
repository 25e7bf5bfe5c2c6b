"""Heat sink."""

from __future__ import annotations

from typing import Any

from railwright.devices.device import Device, Number, Pin, Terms, Value


class HeatSink(Device):
    """Carries heat from a face to the air: watts = kelvins / R.

    Source: the thermal resistance model of JESD51-1. A sink does not fail by itself (common
    practice, no source).
    """

    kind = "heat-sink"
    pins = {"face": Pin("thermal"), "air": Pin("thermal")}
    values = {"resistance": Value("K/W", "thermal resistance, face to air", least=1e-3)}
    observes = {"heat": "W", "rise": "K", "face": "°C"}
    symbol = "heat-sink"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"conductance": 1.0 / v.resistance}

    def equations(self, t: Terms) -> None:
        rise = t.v("face") - t.v("air")
        heat = rise * t.p.conductance
        t.through("face", "air", heat)
        t.observe("heat", heat)
        t.observe("rise", rise)
        t.observe("face", t.v("face"))
