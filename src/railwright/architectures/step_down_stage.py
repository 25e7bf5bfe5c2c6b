"""A step-down stage: switch from the input, coil to the output, freewheel diode from the return."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from railwright.architectures.architecture import Unserved
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sizing.step_down_loop import (
    Compensation,
    Filter,
    alternating,
    phase_margin,
)
from railwright.architectures.switching_stage import DIODE, LEADS, Pulses, SwitchingStage, rated_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show
from railwright.standards.stages import Fit, Point, Stage, envelope, waveform

MORE_TAKEN = 1.05
"""For a duty that the drops of fuse and coil make longer (common practice)."""
LARGE = 1.0
"""H, of a coil without a ripple to speak of."""


@dataclass(frozen=True)
class StepDownStage(SwitchingStage):
    """A step-down regulator between a feed and a rail."""

    style = "step-down"
    control = "voltage-mode"
    leads: ClassVar[Sequence[float]] = LEADS

    @property
    def lag(self) -> float:
        """Time constant of what its feedback passes beside the divider [s]."""
        return 0.0

    @property
    def carried(self) -> float:
        return self.drawn

    @property
    def taken(self) -> float:
        """While its switch is on, the load; at its edges, too; and its own."""
        source = 0.0 if self.mains else self.task.need.input.resistance * self.drawn
        full = self.feed.low - source - self.switch_drop
        duty = (self.legs.high + DIODE) / (full + DIODE) if full > 0 else 1.0
        own = spread_of(self.entry, "quiescent_current").high
        return min(MORE_TAKEN * duty + self._edges, 1.0) * self.drawn + own

    @property
    def _edges(self) -> float:
        """Share of the time that its switch takes to change, at most."""
        entry = self.entry
        return spread_of(entry, "transition_time").high * spread_of(entry, "frequency").high

    def judge(self) -> None:
        may = self.task.bears(self.entry, "rated_current")
        if self.drawn > may:
            raise Unserved(
                f"{show(self.drawn, 'A')} flow; of its {show(rated_of(self.entry), 'A')} "
                f"{show(may, 'A')} may be used",
                reached=2,
            )
        self.withstands()

    def reaches(self, lowest: float) -> None:
        full = lowest - self.switch_drop
        duty = (self.legs.high + DIODE) / (full + DIODE) if full > 0 else math.inf
        self.beyond(duty, lowest)

    def loss(self, stage: Stage) -> float:
        own = spread_of(self.entry, "quiescent_current").high
        return max(
            waveform(stage, Point(volts, out), LARGE).duty * self.drawn * self.switch_drop
            + self._edges * volts * self.drawn
            + own * volts
            for volts in stage.input
            for out in self.settings
        )

    def taken_in_pulses(self, stage: Stage, fit: Fit) -> tuple[float, str]:
        least, most = self.legs.low / self.feed.high, self.legs.high / self.feed.low
        worst = min(max(0.5, least), most)  # the duty nearest to a half
        return self.drawn * math.sqrt(worst * (1.0 - worst)), "I x sqrt(D (1 - D))"

    def freewheeling(self) -> tuple[float, float, str]:
        current = self.drawn * (1.0 - self.legs.low / self.feed.high)
        why = "carries the coil's current while the switch is off, in the mean I (1 - D)"
        return current, self.feed.high, why

    def given(self, stage: Stage, fit: Fit) -> Pulses:
        swing = envelope(stage, fit.coil.inductance).ripple
        return Pulses(swing, swing / (8.0 * stage.frequency), swing / math.sqrt(12.0))

    @property
    def _amplifier(self) -> Compensation:
        return Compensation(
            *(
                spread_of(self.entry, name).typical
                for name in ("gain", "compensation_pole", "compensation_zero")
            )
        )

    def alternates(self, fit: Fit, capacitor: Entry) -> float:
        coil = self.task.catalogue[fit.coil.name]
        henries = spread_of(coil, "inductance").low
        clock = spread_of(self.entry, "frequency").low
        seen = self.share * spread_of(capacitor, "esr").high
        drop = self.switch_drop
        return max(
            alternating(
                self._amplifier,
                clock,
                seen,
                (max(0.0, volts - drop - out) / henries, (out + DIODE) / henries),
            )
            for volts in (self.feed.low, self.feed.high)
            for out in self.settings
        )

    def margin(self, fit: Fit, capacitor: Entry, lead: float) -> float:
        amplifier = self._amplifier
        coil = self.task.catalogue[fit.coil.name]
        stages = [
            Filter(
                spread_of(coil, "inductance").typical,
                spread_of(coil, "winding_resistance").typical
                + spread_of(self.entry, "switch_resistance").typical,
                spread_of(capacitor, "capacitance").typical,
                spread_of(capacitor, "esr").typical,
                volts / self.drawn,
            )
            for volts in self.settings
        ]
        return min(
            phase_margin(amplifier, source, self.share, stage, lead * self.legs.other, self.lag)
            for source in (self.feed.low, self.feed.high)
            for stage in stages
        )

    def joined(self, switch: str, out: str) -> tuple[Mapping[str, str], Mapping[str, str]]:
        return {"anode": self.feed.ground, "cathode": switch}, {"one": switch, "two": out}

    def told(self, stage: Stage, fit: Fit) -> str:
        highest = Point(stage.input[1], stage.output[1])
        ripple = waveform(stage, highest, fit.coil.inductance).ripple
        return (
            f"E T / L: ripple of {show(ripple, 'A')} at {show(stage.input[1], 'V')} and "
            f"{show(stage.frequency, 'Hz')}"
        )
