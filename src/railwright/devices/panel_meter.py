"""Panel meter: a digital voltmeter and ammeter with a supply of its own."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import step
from railwright.devices.device import Device, Fault, Number, Pin, Rating, Terms, Value
from railwright.devices.integrated import (
    SUPPLY_OBSERVES,
    SUPPLY_PINS,
    SUPPLY_VALUES,
    draw_supply,
    supply_voltage,
)
from railwright.devices.noise import thermal_noise

AWAKE = 0.1  # V; over which it begins to show


class PanelMeter(Device):
    """Shows the voltage at `input` and the current that returns through its shunt to `ground`.

    One common pin serves its supply and both measurements: the input's resistance leads there
    (Ohm's law), and the shunt lies between the load's return, at `shunt`, and it. So the supply
    sees the meter's own current too, the shunt does not, and the shunt's burden lifts the load's
    minus above ground. What is shown has an error in proportion and one of the zero, and nothing
    is shown below the least supply. Its rounding to counts is in the limits of those errors.
    Its current is the same at any supply from about a volt on (`integrated.draw_supply`), none
    backwards. Noise: thermal, of the shunt and of the input's resistance (Nyquist).
    Shares of the faults: from memory.
    """

    kind = "panel-meter"
    pins = {
        **SUPPLY_PINS,
        "input": Pin("input", optional=True),
        "shunt": Pin("passive", optional=True),
    }
    values = {
        **SUPPLY_VALUES,
        "input_resistance": Value("Ω", "input to common", least=1.0),
        "shunt_resistance": Value("Ω", "of the built-in shunt", least=1e-6),
        "voltage_error": Value("1", "of the shown voltage, in proportion", signed=True),
        "voltage_offset": Value("V", "of the shown voltage, at nil", signed=True),
        "current_error": Value("1", "of the shown current, in proportion", signed=True),
        "current_offset": Value("A", "of the shown current, at nil", signed=True),
    }
    ratings = {
        "supply_maximum": Rating("V", "supply_voltage"),
        "input_maximum": Rating("V", "input_voltage"),
        "current_maximum": Rating("A", "current"),
    }
    observes = {
        "input_voltage": "V",
        "current": "A",
        "burden": "V",
        "shown_voltage": "V",
        "shown_current": "A",
        **SUPPLY_OBSERVES,
    }
    faults = (
        Fault("open", 0.3, ("supply",)),
        Fault("drift", 0.4),
        Fault("open", 0.2, ("shunt",)),
        Fault("short", 0.1, ("supply", "ground")),
    )
    conducts = (("supply", "ground"), ("input", "ground"), ("shunt", "ground"))
    symbol = "panel-meter"

    def constants(self, v: Any) -> dict[str, Number]:
        return {
            "input_conductance": 1.0 / v.input_resistance,
            "shunt_conductance": 1.0 / v.shunt_resistance,
        }

    def equations(self, t: Terms) -> None:
        awake = step((supply_voltage(t) - t.p.supply_minimum) / AWAKE + 1.0)
        power = draw_supply(t)
        volts, shown = 0.0, 0.0
        if t.connected("input"):
            volts, _, taken = _branch(t, "input", t.p.input_conductance)
            shown = awake * (volts * (1.0 + t.p.voltage_error) + t.p.voltage_offset)
            power = power + taken
        t.observe("input_voltage", volts)
        t.observe("shown_voltage", shown)
        burden, current, shown = 0.0, 0.0, 0.0
        if t.connected("shunt"):
            burden, current, taken = _branch(t, "shunt", t.p.shunt_conductance)
            shown = awake * (current * (1.0 + t.p.current_error) + t.p.current_offset)
            power = power + taken
        t.observe("burden", burden)
        t.observe("current", current)
        t.observe("shown_current", shown)
        t.observe("power", power)


def _branch(t: Terms, pin: str, conductance: Number) -> tuple[Number, Number, Number]:
    """State a resistance from a pin to ground; its voltage [V], current [A] and power [W]."""
    voltage = t.v(pin) - t.v("ground")
    current = voltage * conductance
    t.through(pin, "ground", current)
    t.noise(pin, "ground", thermal_noise(t.ambient, conductance))
    return voltage, current, voltage * current
