"""An inverting stage: switch from the input, coil to the return, diode from the output."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from railwright.architectures.indirect_stage import IndirectStage
from railwright.architectures.switching_stage import DIODE
from railwright.standards.stages import Fit, Stage


@dataclass(frozen=True)
class InvertingStage(IndirectStage):
    """An inverting regulator between a feed and a rail below its ground; that in magnitudes."""

    style = "inverting"

    @property
    def out(self) -> str:
        assert self.rail.nets is not None
        return self.rail.nets.minus

    @property
    def blocks(self) -> float:
        return self.feed.high + self.legs.high + DIODE

    def duty(self, source: float, out: float, drop: float = 0.0) -> float:
        return (out + DIODE) / (source - drop + out + DIODE)

    def taken_in_pulses(self, stage: Stage, fit: Fit) -> tuple[float, str]:
        hardest = self.hardest(stage, fit.coil.inductance)
        worst = hardest.duty * (1.0 - hardest.duty)
        return hardest.mean * math.sqrt(worst), "I sqrt(D / (1 - D))"

    def freewheeling(self) -> tuple[float, float, str]:
        why = "carries the coil's current from the output while the switch is off, in the mean I"
        return self.drawn, self.feed.high + self.legs.high, why

    def held(self) -> Mapping[str, str]:
        return {"plus": self.feed.ground, "minus": self.out}

    def joined(self, switch: str, out: str) -> tuple[Mapping[str, str], Mapping[str, str]]:
        return {"anode": out, "cathode": switch}, {"one": switch, "two": self.feed.ground}
