"""Low-dropout linear regulator of a voltage that a divider sets."""

from __future__ import annotations

from railwright.devices.arithmetic import step
from railwright.devices.device import Number, Pin, Terms, Value
from railwright.devices.low_dropout_regulator import LowDropoutRegulator


class AdjustableLowDropoutRegulator(LowDropoutRegulator):
    """Holds its reference voltage between feedback and ground pin.

    Vout = Vref (1 + R1/R2) + Ifb R1, with R1 from output to feedback. All else is as in the fixed
    one; what is stated for the reference is enlarged with the voltage. Source: datasheet of the
    1763 type (set formula and block diagram). Faults and their shares: linear regulators,
    MIL-HDBK-338 as commonly quoted (from memory).
    """

    kind = "adjustable-low-dropout-regulator"
    pins = {**LowDropoutRegulator.pins, "feedback": Pin("feedback")}
    values = {
        "reference": Value("V", "voltage held between feedback and ground", least=0.1),
        "feedback_current": Value("A", "current into the feedback pin", least=0.0),
        **{n: v for n, v in LowDropoutRegulator.values.items() if n != "output_voltage"},
    }
    sensed = "feedback"

    def held(self, t: Terms) -> Number:
        return t.p.reference

    def bias(self, t: Terms) -> Number:
        feedback = self.above(t, "feedback", "ground")
        current = t.p.feedback_current * step(feedback)
        self.through(t, "feedback", "ground", current)
        return feedback * current
