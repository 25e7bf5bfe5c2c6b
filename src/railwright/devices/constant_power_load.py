"""Constant-power load: a supply that feeds from this one."""

from __future__ import annotations

from typing import Any

from railwright.devices.arithmetic import positive
from railwright.devices.device import Number, Terms, Value
from railwright.devices.load import AnyLoad

CORNER = 0.02  # rounding of the passage, as a share of the squared least voltage


class ConstantPowerLoad(AnyLoad):
    """Takes a power from its least voltage upward: i = P/v (definition of power).

    Below that voltage it is the resistance that takes the power there, i = P v / Vmin², so that
    a supply can start into it; this stands for the undervoltage lockout and soft start of a
    converter (common practice, no source). It is alike in both directions, as behind a bridge.
    Its small-signal resistance is -v²/P where it holds its power: the source of Middlebrook's
    instability with an input filter. An operating point states what it takes in the mean over
    the cycles of the converter that it stands for, which are too fast to be followed.
    `capacitance` is what it has across its input. It is the surroundings, so it has no faults
    and no noise.
    """

    kind = "constant-power-load"
    values = {
        "least_voltage": Value("V", "from which on it takes its power", least=0.01),
        **AnyLoad.values,
    }
    inputs = {"power": 0.0}
    loads = ("power",)

    def constants(self, v: Any) -> dict[str, Number]:
        return {"per_square": 1.0 / (v.least_voltage * v.least_voltage)}

    def equations(self, t: Terms) -> None:
        voltage = t.v("plus") - t.v("minus")
        square = voltage * voltage * t.p.per_square
        current = t.p.power * t.p.per_square * voltage / (1.0 + positive(square - 1.0, CORNER))
        self.take(t, voltage, current)
