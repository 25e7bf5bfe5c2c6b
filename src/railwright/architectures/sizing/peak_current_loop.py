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


def phase_margin(
    amplifier: Compensation,
    limit: float,
    share: float,
    stage: Indirect,
    clock: float = math.inf,
) -> float:
    """Phase that is left where the loop's gain has fallen to one for good [°].

    limit: of the coil's current [A]; share: of the output at the feedback pin; clock [Hz]: the
    current follows what is commanded once in a cycle, like two poles at half of it (Ridley 1990,
    A new small-signal model for current-mode control, with a quality of a half; from memory).
    Infinite where the gain is below one throughout.

    >>> stage = Indirect("step-up", 0.55, 100e-6, 470e-6, 0.04, 48.0)
    >>> round(phase_margin(Compensation(500.0, 4.0, 200.0), 4.5, 1.23 / 24.0, stage, 52e3))
    65
    """

    def rises(s: Of, hertz: float) -> Of:
        return 1 + s / (2 * math.pi * hertz)

    def loop(s: Of) -> Of:
        leads = rises(s, amplifier.zero) * (1 + s * stage.esr * stage.capacitance)
        gain = amplifier.gain * limit * share * stage.slope
        lags = rises(s, amplifier.pole) * rises(s, stage.pole) * rises(s, 0.5 * clock) ** 2
        return gain * leads * rises(s, -stage.right_zero) / lags

    return left(loop)


def taken_by_ripple(
    amplifier: Compensation, gain: float, capacitance: float, esr: float, period: float
) -> float:
    """What the output's ripple takes from the demand by the next tick, as a share of the peak.

    While the diode brings the coil's current I to the capacitor, the output is I Rc higher, and
    rises by up to I T / (4 C), at a duty of a half. The amplifier, level from its zero on, takes
    that from its demand: of the whole, a pulse is left out. gain: current over amplified error,
    times the share of the output at the feedback pin [A]. From the shape of the ripple
    (Erickson and Maksimovic, chapter 2).

    >>> loop = Compensation(1500.0, 4.0, 200.0)
    >>> round(taken_by_ripple(loop, 10.0 * 0.0756, 1200e-6, 0.04, 8.7e-6), 2)
    0.95
    """
    level = amplifier.gain * amplifier.pole / amplifier.zero
    return level * gain * (esr + period / (4.0 * capacitance))
