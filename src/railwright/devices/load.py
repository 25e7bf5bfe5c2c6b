"""Load: what a supply feeds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from railwright.devices.arithmetic import maximum, step
from railwright.devices.device import Device, Number, Pin, Rating, Terms, Value

LEAST_VOLTAGE = 1e-3  # V; a resistive load is never set for less
START, WIDTH = 0.1, 0.2  # V; an electronic load draws its full current from the sum upward


class AnyLoad(Device):
    """What all loads state; no kind of its own."""

    pins = {"plus": Pin("power-input"), "minus": Pin("ground")}
    values: ClassVar[Mapping[str, Value]] = {
        "capacitance": Value("F", "across its input", default=0.0, least=0.0, dynamic=True)
    }
    ratings = {"never_above": Rating("V", "voltage")}
    observes: ClassVar[Mapping[str, str]] = {"current": "A", "voltage": "V", "power": "W"}
    conducts = (("plus", "minus"),)
    symbol = "load"
    surroundings = True

    @staticmethod
    def take(t: Terms, voltage: Number, current: Number) -> None:
        """State what it takes at its voltage, its input's capacitance included."""
        t.through("plus", "minus", current)
        t.charge("plus", "minus", t.p.capacitance * voltage)
        t.observe("current", current)
        t.observe("voltage", voltage)
        t.observe("power", voltage * current)


class Load(AnyLoad):
    """Takes a current: constant, or that of a resistance which takes it at a set voltage.

    A constant-current load gives way below 0.3 V and takes nothing below 0.1 V, like an
    electronic load at its lowest voltage (common practice, no source); it never gives current.
    `capacitance` is what it has across its input. It is the surroundings, so it has no faults
    and no noise.
    """

    kind = "load"
    inputs = {"current": 0.0, "voltage": 1.0}
    loads = ("current",)
    options = {"style": ("resistive", "constant-current")}

    def constants(self, v: Any) -> dict[str, Number]:
        return {"per_volt": 1.0 / maximum(v.voltage, LEAST_VOLTAGE)}

    def equations(self, t: Terms) -> None:
        voltage = t.v("plus") - t.v("minus")
        if t.option("style") == "resistive":
            current = t.p.current * t.p.per_volt * voltage
        else:
            current = t.p.current * step((voltage - START) / WIDTH)
        self.take(t, voltage, current)
