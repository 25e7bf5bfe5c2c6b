"""Insulating pad, washer or layer of grease between a tab and a sink."""

from __future__ import annotations

from typing import Any

from railwright.devices.device import Device, Fault, Number, Pin, Terms, Value


class Insulator(Device):
    """Carries heat from one side to the other: watts = kelvins / R.

    Source: the thermal resistance model of JESD51-1. That a pad dries out or loses pressure is
    its way to fail: common practice, no source.
    """

    kind = "insulator"
    pins = {"one": Pin("thermal"), "two": Pin("thermal")}
    values = {"resistance": Value("K/W", "thermal resistance, side to side", least=1e-3)}
    observes = {"heat": "W", "rise": "K"}
    faults = (Fault("drift", 1.0, moves=("resistance",)),)
    symbol = "insulator"

    def constants(self, v: Any) -> dict[str, Number]:
        return {"conductance": 1.0 / v.resistance}

    def equations(self, t: Terms) -> None:
        rise = t.v("one") - t.v("two")
        heat = rise * t.p.conductance
        t.through("one", "two", heat)
        t.observe("heat", heat)
        t.observe("rise", rise)
