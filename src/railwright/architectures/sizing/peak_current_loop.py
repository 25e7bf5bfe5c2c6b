"""Loop of a step-up or inverting stage in peak current mode, compensation inside the regulator.

The amplified error commands the coil's peak, as a share of its limit. The output follows with one
pole, a zero of the capacitor and one in the right half plane, with D' = 1 - D:
step-up: dV/dI = D' R / 2, pole 2 / (R C), zero D'^2 R / L;
inverting: dV/dI = D' R / (1 + D), pole (1 + D) / (R C), zero D'^2 R / (D L).
Continuous conduction, a resistive load, the ripple and the slope of the ramp small beside the peak.
Source: Erickson and Maksimovic, Fundamentals of Power Electronics, chapters 8 (zeros) and 12 (table
of the simple model).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from railwright.architectures.sizing.step_down_loop import Compensation, Of, left


@dataclass(frozen=True)
class Indirect:
    """A stage that fills its coil and then empties it; all in SI."""

    style: Literal["step-up", "inverting"]
    duty: float
    inductance: float
    capacitance: float
    esr: float
    load: float
    """Ω."""

    @property
    def slope(self) -> float:
        """Output over the coil's current, at rest [Ω]."""
        less = 1.0 - self.duty
        return less * self.load / (2.0 if self.style == "step-up" else 1.0 + self.duty)

    @property
    def pole(self) -> float:
        """Hz.

        >>> stage = Indirect("step-up", 0.5, 100e-6, 470e-6, 0.05, 48.0)
        >>> round(stage.pole, 1), round(stage.right_zero)
        (14.1, 19099)
        """
        times = 2.0 if self.style == "step-up" else 1.0 + self.duty
        return times / (2.0 * math.pi * self.load * self.capacitance)

    @property
    def right_zero(self) -> float:
        """Zero in the right half plane [Hz]."""
        zero = (1.0 - self.duty) ** 2 * self.load / (2.0 * math.pi * self.inductance)
        return zero if self.style == "step-up" else zero / self.duty


def phase_margin(amplifier: Compensation, limit: float, share: float, stage: Indirect) -> float:
    """Phase that is left where the loop's gain has fallen to one for good [°].

    limit: of the coil's current [A]; share: of the output at the feedback pin. Infinite where the
    gain is below one throughout.

    >>> stage = Indirect("step-up", 0.55, 100e-6, 470e-6, 0.04, 48.0)
    >>> round(phase_margin(Compensation(500.0, 4.0, 200.0), 4.5, 1.23 / 24.0, stage))
    90
    """

    def rises(s: Of, hertz: float) -> Of:
        return 1 + s / (2 * math.pi * hertz)

    def loop(s: Of) -> Of:
        leads = rises(s, amplifier.zero) * (1 + s * stage.esr * stage.capacitance)
        gain = amplifier.gain * limit * share * stage.slope
        lags = rises(s, amplifier.pole) * rises(s, stage.pole)
        return gain * leads * rises(s, -stage.right_zero) / lags

    return left(loop)
