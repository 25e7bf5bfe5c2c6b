"""A step-up stage: coil from the input, switch to the return, diode to the output."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from railwright.architectures.architecture import Unserved
from railwright.architectures.indirect_stage import IndirectStage
from railwright.architectures.switching_stage import DIODE
from railwright.quantity import show
from railwright.standards.stages import Fit, Stage, envelope


@dataclass(frozen=True)
class StepUpStage(IndirectStage):
    """A step-up regulator between a feed and a rail."""

    style = "step-up"

    @property
    def blocks(self) -> float:
        return self.legs.high + DIODE

    def duty(self, source: float, out: float, drop: float = 0.0) -> float:
        return (out + DIODE - source) / (out + DIODE - drop)

    def judge(self) -> None:
        super().judge()
        if self.legs.low <= self.feed.high:
            raise Unserved(
                f"an input of {show(self.feed.high, 'V')} would pass through coil and diode to an "
                f"output of {show(self.legs.low, 'V')}",
                reached=2,
            )

    def taken_in_pulses(self, stage: Stage, fit: Fit) -> tuple[float, str]:
        ripple = envelope(stage, fit.coil.inductance).ripple
        return ripple / math.sqrt(12.0), f"{show(ripple, 'A')} / sqrt(12)"

    def freewheeling(self) -> tuple[float, float, str]:
        why = "carries the coil's current to the output while the switch is off, in the mean I"
        return self.drawn, self.legs.high, why

    def joined(self, switch: str, out: str) -> tuple[Mapping[str, str], Mapping[str, str]]:
        return {"anode": switch, "cathode": out}, {"one": self.feed.net, "two": switch}
