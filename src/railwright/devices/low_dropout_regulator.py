"""Low-dropout linear regulator of a fixed voltage, with a PNP or field-effect pass element."""

from __future__ import annotations

from typing import ClassVar

from railwright.devices.arithmetic import positive, soft_ramp, step
from railwright.devices.device import Number, Pin, Rating, Terms, Value
from railwright.devices.enable import (
    ENABLE_OBSERVES,
    ENABLE_VALUES,
    enabled,
    observe_enable,
    own_current,
)
from railwright.devices.linear_regulator import (
    IDLE,
    REGULATOR_OBSERVES,
    REGULATOR_PINS,
    REGULATOR_RATINGS,
    REGULATOR_VALUES,
    LinearRegulator,
    capacitor_windows,
)

REVERSE_DROP = 0.6  # V; of a junction that conducts backwards (common practice, no source)
REVERSE_WIDTH = 0.04  # V; over which it begins to: some 1.5 thermal voltages


class LowDropoutRegulator(LinearRegulator):
    """The pass element is a switch's resistance away from the input when it is driven full on.

    The dropout rises in proportion to the current. The own current leaves at the ground pin: a
    PNP pass element adds the load current over its gain, and at the dropout all that its driver
    gives; a field-effect one adds neither. Where the output is held above the input, the body
    diode or the collector junction leads back, unless the part blocks. The loop's output
    impedance and supply rejection are those of `LinearRegulator`. Disabled, it passes nothing.
    Source: Rincon-Mora, Analog IC Design with Low-Dropout Regulators, chapters 1 and 4, and
    datasheets of the 2940 and 2950 types. Faults and their shares: linear regulators,
    MIL-HDBK-338 as commonly quoted (from memory).
    """

    kind = "low-dropout-regulator"
    pins = {
        **REGULATOR_PINS,
        "ground": Pin("ground"),
        "disable": Pin("enable", optional=True),
    }
    options = {"enable_active": ("high", "low")}
    values = {
        "output_voltage": Value("V", "voltage held between output and ground", least=0.1),
        **ENABLE_VALUES,
        "load_share": Value("1", "own current that is added per output current", least=0.0),
        "dropout_own_current": Value("A", "own current that is added at the dropout", least=0.0),
        "reverse_conductance": Value(
            "A/V",
            "from output back to input beyond a junction's drop; nil where it blocks",
            default=0.0,
            least=0.0,
        ),
        "supply_minimum": Value("V", "least input voltage that works", default=0.0),
        **REGULATOR_VALUES,
    }
    inputs = {"enable_inverted": 0.0}
    ratings = {
        **REGULATOR_RATINGS,
        "supply_maximum": Rating("V", "supply_voltage", "regulator", "input voltage"),
        "enable_maximum": Rating("V", "enable_level", "regulator", "input voltage"),
    }
    windows = capacitor_windows("ground")
    observes = {
        **REGULATOR_OBSERVES,
        **ENABLE_OBSERVES,
        "supply_voltage": "V",
        "own_current": "A",
        "reverse_current": "A",
    }

    bleed = 1e-6
    sensed: ClassVar[str] = "output"
    """The pin that is held against ground."""

    def held(self, t: Terms) -> Number:
        """The voltage at which that pin is held [V]."""
        return t.p.output_voltage

    def bias(self, t: Terms) -> Number:
        """State the current into that pin; its power [W]."""
        return 0.0

    def equations(self, t: Terms) -> None:
        working = enabled(t)
        current, dropped = self.pass_current(t, "ground", self.held(t), self.sensed, working)
        backwards = self.above(t, "output", "input") - REVERSE_DROP
        back = t.p.reverse_conductance * soft_ramp(backwards, REVERSE_WIDTH)
        supply = self.above(t, "input", "ground")
        drive = t.p.load_share * positive(current, IDLE) + t.p.dropout_own_current * dropped
        own = (own_current(t, working) + working * drive) * step(supply)
        self.carry(t, "ground", current - back, own, self.bias(t))
        observe_enable(t)
        t.observe("supply_voltage", supply)
        t.observe("own_current", own)
        t.observe("reverse_current", back)
