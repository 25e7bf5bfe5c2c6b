"""What step-up and inverting stages share: they fill a coil, and empty it into the output."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal

from railwright.architectures.architecture import Unserved
from railwright.architectures.sizing.choice import spread_of
from railwright.architectures.sizing.peak_current_loop import (
    Indirect,
    phase_margin,
    taken_by_ripple,
)
from railwright.architectures.sizing.step_down_loop import Compensation
from railwright.architectures.switching_stage import DIODE, Pulses, SwitchingStage
from railwright.catalogue.entry import Entry
from railwright.quantity import Spread, show
from railwright.standards.stages import Fit, Point, Stage, Waveform, waveform

CALM = 0.5
"""Of what commands the coil's peak, that the ripple may take at most: 6 dB of gain are left (common
practice)."""
LEAST_DIODE = 0.3
"""V, drop of a hot Schottky diode (datasheets of the 1N58xx types)."""
EFFICIENT = 0.8
"""Share of what is taken that reaches the load at least, for the fuse; the proof judges (common
practice)."""


@dataclass(frozen=True)
class IndirectStage(SwitchingStage):
    """A regulator whose peaks are commanded, between a feed and a rail."""

    control = "peak-current-mode"
    holding = ("electrolytic", "polymer")
    style: ClassVar[Literal["step-up", "inverting"]]
    together: ClassVar[float] = 1.0
    """Inductance that acts, over that of one coil."""

    @property
    def taken(self) -> float:
        return self.legs.high * self.drawn / (EFFICIENT * self.feed.low)

    @property
    def carried(self) -> float:
        return self.taken

    @property
    def blocks(self) -> float:
        """Greatest voltage across its switch [V]."""
        raise NotImplementedError(type(self).__name__)

    def duty(self, source: float, out: float, drop: float = 0.0) -> float:
        """Share of the time for which its switch is on: fall / (rise + fall)."""
        raise NotImplementedError(type(self).__name__)

    @property
    def most_of_peaks(self) -> float:
        may = self.task.bears(self.entry, "rated_current")
        return min(super().most_of_peaks, may)

    def judge(self) -> None:
        self.withstands()
        limit, may = (
            spread_of(self.entry, "switch_maximum").high,
            self.task.bears(self.entry, "switch_maximum"),
        )
        if self.blocks > may:
            raise Unserved(
                f"its switch would see {show(self.blocks, 'V')}; of its {show(limit, 'V')} "
                f"{show(may, 'V')} may be used",
                reached=3,
            )

        self._shortest()

    def _shortest(self) -> None:
        """Unserved where pulses at the highest input are shorter than it makes them."""
        clock = spread_of(self.entry, "frequency").high
        times = ("minimum_on_time", "blanking_time")
        least = clock * max(
            spread_of(self.entry, name).high for name in times if name in self.entry.values
        )
        duty = self.duty(self.feed.high, self.legs.low - (DIODE - LEAST_DIODE))
        if self.task.kept * duty < least:
            raise Unserved(
                f"at {show(self.feed.high, 'V')} in and {show(self.legs.low, 'V')} out it would be "
                f"on for {show(duty, '1')} of the time; its shortest pulse may be "
                f"{show(least, '1')}",
                reached=2,
            )

    def reaches(self, lowest: float) -> None:
        if lowest <= self.switch_drop:
            raise Unserved(f"{show(lowest, 'V')} are less than its switch drops", reached=5)
        self.beyond(self.duty(lowest, self.legs.high, self.switch_drop), lowest)

    def least_inductance(self, stage: Stage) -> float:
        """So that a disturbance of the coil's current dies: (m2 - mc) / (m1 + mc) within reserve.

        Source: Erickson and Maksimovic, section 12.1.
        """
        rise, fall = stage.swing(Point(stage.input[0], stage.output[1]))
        kept, ramp = self.task.kept, spread_of(self.entry, "slope_compensation").low
        return (fall - kept * rise) / (ramp * (1.0 + kept))

    def loss(self, stage: Stage) -> float:
        entry, hardest = self.entry, self.hardest(stage, 1.0)
        edge = spread_of(entry, "transition_time").high * spread_of(entry, "frequency").high
        return (
            hardest.duty * hardest.mean * self.switch_drop
            + edge * self.blocks * hardest.mean
            + spread_of(entry, "quiescent_current").high * stage.input[1]
        )

    def given(self, stage: Stage, fit: Fit) -> Pulses:
        hardest = self.hardest(stage, fit.coil.inductance)
        flat = math.sqrt(hardest.duty / (1.0 - hardest.duty))
        return Pulses(hardest.peak, self.drawn * hardest.duty / stage.frequency, self.drawn * flat)

    def margin(self, fit: Fit, capacitor: Entry, lead: float) -> float:
        amplifier = Compensation(
            *(
                spread_of(self.entry, name).typical
                for name in ("gain", "compensation_pole", "compensation_zero")
            )
        )
        limit = spread_of(self.entry, "current_limit").typical
        coil = self.together * spread_of(self.task.catalogue[fit.coil.name], "inductance").typical
        farads, esr = (spread_of(capacitor, name).typical for name in ("capacitance", "esr"))
        stages = [
            Indirect(self.style, duty, coil, farads, esr, out / self.drawn)
            for out in self.settings
            for source in (self.feed.low, self.feed.high)
            if (duty := self.duty(source, out)) > 0.0
        ]
        clock = spread_of(self.entry, "frequency").typical
        return min(phase_margin(amplifier, limit, self.share, each, clock) for each in stages)

    def misled(self, capacitor: Entry) -> float:
        """By what the diode lifts the output at the limits: all of it, and a pulse is left out."""
        entry = self.entry
        taken = taken_by_ripple(
            Compensation(
                _published(entry, "gain").high,
                _published(entry, "compensation_pole").high,
                _published(entry, "compensation_zero").low,
            ),
            spread_of(entry, "current_limit").high * self.share,
            spread_of(capacitor, "capacitance").low,
            spread_of(capacitor, "esr").high,
            1.0 / spread_of(entry, "frequency").low,
        )
        return max(0.0, taken - CALM)

    def told(self, stage: Stage, fit: Fit) -> str:
        hardest = self.hardest(stage, fit.coil.inductance)
        return (
            f"I / (1 - D) = {show(self.drawn, 'A')} / (1 - {show(hardest.duty, '1')}) = "
            f"{show(hardest.mean, 'A')} at {show(stage.input[0], 'V')}; E T / L: ripple of "
            f"{show(hardest.ripple, 'A')} at {show(stage.frequency, 'Hz')}"
        )

    def hardest(self, stage: Stage, inductance: float) -> Waveform:
        """Current of its coil at the lowest input, where it is greatest."""
        return waveform(stage, Point(stage.input[0], stage.output[1]), inductance)


def _published(entry: Entry, name: str) -> Spread:
    """A value of a loop; it counts as typical where its limits are merely assumed."""
    value = entry.values[name]
    return Spread.exact(value.spread.typical) if value.assumed else value.spread
