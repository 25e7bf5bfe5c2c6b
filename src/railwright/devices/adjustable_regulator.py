"""Adjustable three-terminal linear regulator, positive."""

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


class AdjustableRegulator(LinearRegulator):
    """Holds its reference voltage between output and adjust pin.

    Vout = Vref (1 + R2/R1) + Iadj R2. All of its own current leaves at the output, hence its
    minimum load. Source: datasheet of the 317 type (equations and block diagram). Faults and
    their shares: linear regulators, MIL-HDBK-338 as commonly quoted (from memory).
    """

    kind = "adjustable-regulator"
    pins = {**REGULATOR_PINS, "adjust": Pin("adjust")}
    values = {
        "reference": Value("V", "voltage held between output and adjust pin", least=0.1),
        "adjust_current": Value("A", "current out of the adjust pin", least=0.0),
        **REGULATOR_VALUES,
    }
    ratings = {
        **REGULATOR_RATINGS,
        "difference_maximum": Rating("V", "across", "regulator", "input-output voltage"),
    }
    windows = capacitor_windows()
    observes = {**REGULATOR_OBSERVES}

    def equations(self, t: Terms) -> None:
        current, _ = self.pass_current(t, "adjust", t.p.reference)
        aside = t.p.adjust_current * step(self.above(t, "input", "adjust"))
        self.carry(t, "adjust", current, aside)
