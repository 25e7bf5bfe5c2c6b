"""A stage of two coils and a coupling capacitor: from an input above or below its output.

Both coils see the same volt-seconds, so that they act as one of half the inductance, whose current
they share as D to 1 - D; the capacitor holds the input, and carries the load's current one way
while the switch is on and the input's the other way while it is off. Source: Erickson and
Maksimovic, Fundamentals of Power Electronics, chapter 6.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from railwright.architectures.architecture import Unserved
from railwright.architectures.indirect_stage import IndirectStage
from railwright.architectures.sheet import Sheet
from railwright.architectures.sizing.capacitors import bears
from railwright.architectures.sizing.choice import Choice, of_kind, price_of, spread_of
from railwright.architectures.switching_stage import DIODE, SizedStage
from railwright.quantity import show
from railwright.standards.stages import Coil, Fit, Stage, envelope

FAR = "FAR"
"""Net behind the coupling capacitor."""
SWING = 0.05
"""Of the input, peak to peak, that the coupling capacitor moves at most (common practice)."""


@dataclass(frozen=True)
class CoupledStage(IndirectStage):
    """A step-up regulator, a coupling capacitor and a second coil between a feed and a rail."""

    style = "inverting"
    together = 0.5

    @property
    def carried(self) -> float:
        return self.taken + self.drawn

    @property
    def blocks(self) -> float:
        return self.feed.high + self.legs.high + DIODE

    def duty(self, source: float, out: float, drop: float = 0.0) -> float:
        return (out + DIODE) / (source - drop + out + DIODE)

    def acting(self, coil: Coil, stage: Stage) -> Coil:
        longest = self.duty(stage.input[0], stage.output[1], stage.switch_drop)
        larger = max(longest, 1.0 - self.duty(stage.input[1], stage.output[0]))
        return replace(
            coil,
            inductance=self.together * coil.inductance,
            saturation_current=coil.saturation_current / larger,
            rated_current=coil.rated_current / larger,
        )

    def taken_in_pulses(self, stage: Stage, fit: Fit) -> tuple[float, str]:
        ripple = self.together * envelope(stage, fit.coil.inductance).ripple
        return ripple / math.sqrt(12.0), f"{show(ripple, 'A')} / sqrt(12)"

    def inputs(self, stage: Stage, fit: Fit) -> tuple[Choice, ...]:
        found = super().inputs(stage, fit)
        self.coupling(stage, fit)
        return found

    def coupling(self, stage: Stage, fit: Fit) -> Choice:
        """The capacitor between both coils; Unserved where the catalogue has none."""
        hardest = self.hardest(stage, fit.coil.inductance)
        rms = self.drawn * math.sqrt(hardest.duty / (1.0 - hardest.duty))
        least = self.drawn * hardest.duty / (stage.frequency * SWING * stage.input[0])
        volts = self.feed.high
        found = [
            entry
            for entry in of_kind(self.task.catalogue, "capacitor")
            if entry.options.get("dielectric") == "electrolytic"
            and spread_of(entry, "capacitance").low >= least
            and bears(self.task, entry) >= volts
            and self.task.kept * spread_of(entry, "rated_ripple").low >= rms
        ]
        told = f"I sqrt(D / (1 - D)) = {show(rms, 'A')}"
        if not found:
            raise Unserved(
                f"no electrolytic capacitor of {show(least, 'F')} that may see {show(volts, 'V')} "
                f"bears {told} between the coils"
            )
        best = min(found, key=lambda e: (price_of(e), spread_of(e, "capacitance").typical))
        promised = spread_of(best, "rated_ripple").low
        return Choice(
            best,
            f"holds the input of up to {show(volts, 'V')}; {told} of {show(promised, 'A')}; I D / "
            f"(f x {show(SWING, '1')} of {show(stage.input[0], 'V')}): at least {show(least, 'F')}",
        )

    def freewheeling(self) -> tuple[float, float, str]:
        why = "carries both coils' current to the output while the switch is off, in the mean I"
        return self.drawn, self.feed.high + self.legs.high, why

    def joined(self, switch: str, out: str) -> tuple[Mapping[str, str], Mapping[str, str]]:
        far = self.task.inner(FAR)
        return {"anode": far, "cathode": out}, {"one": self.feed.net, "two": switch}

    def draw_between(self, sheet: Sheet, block: str, switch: str, sized: SizedStage) -> None:
        far, chosen = self.task.inner(FAR), self.coupling(sized.stage, sized.fit)
        pins = {"plus": switch, "minus": far}
        sheet.add("C", "capacitor", block, pins, chosen.why, use=chosen.entry.name)
        why = f"sees the same volt-seconds as the first one; carries {show(self.drawn, 'A')}"
        ends = {"one": far, "two": self.feed.ground}
        sheet.add("L", "inductor", block, ends, why, use=sized.fit.coil.name)

    def told(self, stage: Stage, fit: Fit) -> str:
        return (
            f"both together, shared as D to 1 - D, like one of {show(fit.coil.inductance, 'H')}: "
            f"{super().told(stage, fit)}"
        )
