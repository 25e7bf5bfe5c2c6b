"""Ripple: what the switching leaves at the terminals, and what it does to the parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

import numpy as np

from railwright.checks.check import Check, Worst, at_most
from railwright.checks.life import promised, ripple_limit, unpromised, wet
from railwright.checks.stress import Stress, rated
from railwright.circuit.circuit import Part
from railwright.quantity import show
from railwright.surveys.curves import Axis, Curves, Line
from railwright.surveys.cycles import IN_CYCLES, CycleView, Kept, clocks
from railwright.surveys.extremes import Answer
from railwright.surveys.mains import IN_USE, MainsView, Moments, to_and_fro
from railwright.surveys.situations import View
from railwright.surveys.survey import Survey

KEPT: dict[str, Kept] = {"peak": "highest", "mean": "mean", "rms": "rms"}
ALTERNATES = 1.5
"""What counts as left of a disturbance where the cycles alternate already: more than all of it."""
CONTINUOUS, STEADY = "continuous", 0.5
"""Below that, the coil's current rests in each cycle; a charge pump has none to rest."""
ADDS = 0.02
"""A cycle that adds less than this share of a rating to what its means are needs no question."""
FAR_BELOW = 0.25
"""A capacitor that carries less than this share of its rating with typical parts everywhere needs
no question: no spread makes four times as much of it."""


class _CycleCheck(Check):
    """A question about the steady state of a supply that switches."""

    situation = IN_CYCLES

    def answer(self, view: View, subject: str) -> Answer:
        return self.answered(cast(CycleView, view), subject)

    def answered(self, view: CycleView, subject: str) -> Answer:
        """Margin, value and limit over lanes."""
        raise NotImplementedError(type(self).__name__)


def of_cycles(since: np.ndarray, volts: np.ndarray) -> Curves:
    """Two cycles of what a rail's terminals show beside their mean; since: of one cycle [s]."""
    step, ripple = since[1], volts - volts.mean()
    twice = np.arange(2 * since.size + 1) * step
    line = Line("", twice, np.append(np.tile(ripple, 2), ripple[0]))
    up = Axis("terminals, beside their mean", "V")
    return Curves("Ripple at the terminals, two cycles", Axis("time", "s"), up, [line])


def _calm_rails(survey: Survey) -> list[str]:
    """Rails of which the need says how much ripple they may have."""
    return [name for name, rail in survey.fixture.rails.items() if rail.ripple is not None]


class OutputRipple(_CycleCheck):
    """Peak to peak at the terminals: the switching frequency and its harmonics up to 2 MHz."""

    id = "ripple.output"
    question = "Does the output stay quiet enough while the regulator switches?"
    source = "need.output.ripple, from the periodic steady state of the cycle"
    analysis = (
        "Margin = need's ripple - peak to peak voltage at the terminals in the periodic steady "
        "state, harmonics of the switching frequency up to 2 MHz. A step-down stage: coil ripple "
        "(Vin - Vout) D / (L f), through the capacitor's series resistance and 1 / (8 f C). "
        "Reserve = margin / ripple allowed."
    )
    example = (
        "12 V to 5 V, 68 µH, 150 kHz: coil ripple `(12 V - 5 V) × 5 V / 12 V / (68 µH × 150 kHz) "
        "= 286 mA`, times 40 mΩ of the capacitor `286 mA × 40 mΩ = 11.4 mV`; 50 mV allowed leave "
        "`50 mV - 11.4 mV = 38.6 mV`."
    )
    says = "The terminals show {value} of ripple; {limit} is allowed ({place})."
    unit = "V"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return _calm_rails(survey) if clocks(survey.fixture.circuit) else []

    def answered(self, view: CycleView, subject: str) -> Answer:
        allowed = view.survey.fixture.rails[subject].ripple or np.nan
        return at_most(view.ripple(subject), allowed)

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        since, volts = cast(CycleView, view).waveform(subject)
        return [of_cycles(since, volts)]


class MainsRipple(Check):
    """Peak to peak at the terminals in the course of a mains cycle, at twice its frequency."""

    id = "ripple.mains"
    question = "Does the output stay quiet enough behind the rectifier?"
    source = "need.output.ripple, from the periodic steady state of the mains cycle"
    analysis = (
        "Margin = need's ripple - peak to peak voltage at the terminals in the periodic steady "
        "state of the mains cycle, at lowest and highest mains. Behind a full-wave rectifier the "
        "reservoir falls by about I / (2 f C) between two peaks; what follows it passes its share "
        "on. Reserve = margin / ripple allowed."
    )
    example = (
        "1 A from 4700 µF on 50 Hz: `1 A / (2 × 50 Hz × 4700 µF) = 2.13 V` on the reservoir; a "
        "regulator that rejects 60 dB passes `2.13 V / 1000 = 2.13 mV` on, of 5 mV that are "
        "allowed."
    )
    says = "The mains leave {value} of ripple at the terminals; {limit} is allowed ({place})."
    unit = "V"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return _calm_rails(survey) if survey.fixture.alternating else []

    def answer(self, view: View, subject: str) -> Answer:
        allowed = view.survey.fixture.rails[subject].ripple or np.nan
        return at_most(cast(Moments, view).ripple(subject), allowed)

    def curves(self, view: View, subject: str) -> Sequence[Curves]:
        since, volts = cast(MainsView, view).waveform(subject)
        return [of_cycles(since, volts)]


class Subharmonic(_CycleCheck):
    """Each cycle must be like the one before, and no disturbance of the coil's current may grow, or
    of the charge of the flying capacitor of a pump.

    One that changes its sign from tick to tick doubles the period where it grows, one that does not
    goes on to something else; its multiplier tells how much of it a cycle leaves.
    """

    id = "ripple.subharmonic"
    question = "Is every switching cycle like the one before?"
    source = "multipliers of the periodic steady state (Aprille and Trick 1972); common practice"
    analysis = (
        "Margin = 1 - |multiplier| of the periodic steady state, the largest of those that change "
        "the coil's current, or the charge that a pump moves, and alternate or grow; a cycle "
        "that repeats only after several ticks counts as 1.5. Where its current rests in each "
        "cycle pulses may be left out, which is not judged. In current mode at a fixed peak it is "
        "(m2 - mc) / (m1 + mc), of the falling, rising and compensating slope. Reserve = margin / "
        "1."
    )
    example = (
        "At a duty of 0.6 without compensation a disturbance grows: `0.6 / (1 - 0.6) = 1.5`, "
        "margin `1 - 1.5 = -0.5`. Half the falling slope as compensation leaves `(1.5 - 0.75) / "
        "(1 + 0.75) = 0.429`."
    )
    unit = "1"

    def subjects(self, survey: Survey) -> Sequence[str]:
        return clocks(survey.fixture.circuit)

    def answered(self, view: CycleView, subject: str) -> Answer:
        kind = view.survey.fixture.circuit.part(subject).device
        rests = np.zeros(view.points.count, bool)
        if CONTINUOUS in kind.observes:
            rests = view.at.of(subject, CONTINUOUS) <= STEADY
        otherwise = np.where(rests, 0.0, ALTERNATES)
        repeats = view.waves.repeats & view.waves.solved
        judged = at_most(np.where(repeats, view.waves.left, otherwise), 1.0)
        return replace(judged, known=rests)

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        if worst.margin < 0:
            return (
                f"The cycles of {subject} do not stay alike: they alternate, or a disturbance of "
                f"the coil's current grows from one to the next ({worst.place})."
            )
        return (
            f"A cycle of {subject} leaves {show(worst.value, '1')} of a disturbance that swings "
            f"to and fro ({worst.place})."
        )


class CapacitorRipple(Check):
    """Effective value of the current that goes to and fro, against what the type is promised for.

    That promise is at 100 kHz and in air of the type's greatest temperature, where life is
    shortest; what cooler air would allow on top is a matter of life. At the frequency of the mains
    less is allowed. Asked of aluminium electrolytic capacitors, and of others that promise one.
    """

    id = "stress.ripple-current"
    question = "Is the ripple current of every capacitor within what its type is made for?"
    source = (
        "rated ripple current, datasheet of the part's type; from the steady state of the cycle "
        "of what switches, or of the mains"
    )
    analysis = (
        "Margin = rated ripple current of the type, at 100 kHz and its greatest temperature - "
        "sqrt(rms² - mean²) of the current through the capacitor in the periodic steady state. "
        "Behind a rectifier: the share of that rating which is allowed at 100 Hz. "
        "Asked where that comes near it. Reserve = margin / rated ripple current."
    )
    example = (
        "The input capacitor of a step-down stage at 1 A and a duty of 0.5 carries about `1 A × "
        "sqrt(0.5 × (1 - 0.5)) = 0.5 A`; a type for 0.68 A has `0.68 A - 0.5 A = 0.18 A` left."
    )
    says = "{subject} carries {value} of ripple current and is made for {limit} ({place})."
    unit = "A"

    situation = IN_USE

    def subjects(self, survey: Survey) -> Sequence[str]:
        parts = survey.fixture.circuit.parts
        rated = [p.ref for p in parts if wet(p) or promised(p, "rated_ripple") > 0]
        if survey.fixture.alternating:
            return rated
        if not clocks(survey.fixture.circuit):
            return []
        if not rated or IN_CYCLES.unready(survey):
            return rated
        typical = survey.once(IN_CYCLES.typical)
        return [ref for ref in rated if not self._far_below(typical, ref)]

    def missing(self, survey: Survey, subject: str) -> str:
        return unpromised(survey.fixture.circuit.part(subject), "rated_ripple")

    def _far_below(self, view: View, ref: str) -> bool:
        seen = self.answer(view, ref)
        return bool(np.all(seen.value < FAR_BELOW * seen.limit))

    def answer(self, view: View, subject: str) -> Answer:
        part = view.survey.fixture.circuit.part(subject)
        return at_most(to_and_fro(view, subject), ripple_limit(view, part))


class CycleStress(Stress):
    """Currents and powers by what a rating bounds of their waveform: peak, mean or effective value.

    Asked of the parts to which the cycle does more than its means do, as far as is known. Voltages
    are judged by the means (`stress.rating`): beyond these a switching net has spikes, which the
    layout makes.
    """

    id = "stress.cycle"
    question = "Are currents and powers within derated ratings in the course of a cycle?"
    analysis = (
        "Margin as of stress.rating, of what the rating bounds in the course of a cycle: peak, "
        "mean or effective value of the periodic steady state. Asked of parts to which the cycle "
        "adds more than 2 % of the rating to what the means do."
    )
    example = (
        "A triangle of 0.8 A peak to peak through an output capacitor is an effective `0.8 A / "
        "sqrt(12) = 231 mA`; a rating of 300 mA of which 80 % may be used leaves `0.8 × 300 mA - "
        "231 mA = 9 mA`."
    )
    situation = IN_CYCLES

    def judges(self, part: Part, rating: str) -> bool:
        return part.device.ratings[rating].unit in ("A", "W")

    def subjects(self, survey: Survey) -> Sequence[str]:
        if not clocks(survey.fixture.circuit) or IN_CYCLES.unready(survey):
            return []
        view = cast(CycleView, survey.once(IN_CYCLES.typical))
        return [each for each in super().subjects(survey) if self._adds(view, each)]

    def _adds(self, view: CycleView, subject: str) -> bool:
        part, rating = rated(view.survey, subject)
        bounds = part.device.ratings[rating].bounds
        if rating not in part.ratings or not view.keeps(part.ref, bounds):
            return False
        more = np.max(self.stress(view, subject) - super().stress(view, subject))
        # Where some cycle is not known the question stays, and is not proven.
        return not more <= ADDS * part.ratings[rating]

    def stress(self, view: View, subject: str) -> np.ndarray:
        part, rating = rated(view.survey, subject)
        declared = part.device.ratings[rating]
        waves = cast(CycleView, view)
        kept = waves.kept(KEPT[declared.bounds_of_course], part.ref, declared.bounds)
        if declared.bounds_of_course != "peak":
            return kept
        return np.maximum(kept, -waves.kept("lowest", part.ref, declared.bounds))
