"""Fixed three-terminal linear regulator, positive."""

from __future__ import annotations

from railwright.devices.arithmetic import step
from railwright.devices.device import Pin, Rating, Terms, Value
from railwright.devices.linear_regulator import (
    REGULATOR_OBSERVES,
    REGULATOR_PINS,
    REGULATOR_RATINGS,
    REGULATOR_VALUES,
    LinearRegulator,
    capacitor_windows,
)


class FixedRegulator(LinearRegulator):
    """Holds its output voltage against the ground pin; its own current leaves at that pin.

    Source: datasheet of the 78xx type (block diagram). Faults and their shares: linear
    regulators, MIL-HDBK-338 as commonly quoted (from memory).
    """

    kind = "fixed-regulator"
    pins = {**REGULATOR_PINS, "ground": Pin("ground")}
    values = {
        "output_voltage": Value("V", "voltage held between output and ground", least=0.1),
        "quiescent_current": Value("A", "current out of the ground pin", least=0.0),
        "supply_minimum": Value("V", "least input voltage that works", default=0.0),
        **REGULATOR_VALUES,
    }
    ratings = {
        **REGULATOR_RATINGS,
        "supply_maximum": Rating("V", "supply_voltage", "regulator", "input voltage"),
    }
    windows = capacitor_windows("ground")
    observes = {**REGULATOR_OBSERVES, "supply_voltage": "V"}

    def equations(self, t: Terms) -> None:
        supply = self.above(t, "input", "ground")
        current, _ = self.pass_current(t, "ground", t.p.output_voltage)
        self.carry(t, "ground", current, t.p.quiescent_current * step(supply))
        t.observe("supply_voltage", supply)
