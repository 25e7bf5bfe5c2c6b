"""Let-through: what flows into a short circuit before it is dealt with, and what parts bear of it.

The output's capacitors give the first of it, the pass element the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, cast

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import Worst, at_most
from railwright.checks.in_time import InTimeCheck
from railwright.checks.pulses import cooled, felt
from railwright.checks.short_circuit import overload_of
from railwright.checks.surge import MELTING
from railwright.quantity import show
from railwright.standards.iec60127 import PULSES
from railwright.surveys.courses import RATED_POWER, CourseView, InTime, Stretch, fuses, series
from railwright.surveys.extremes import Answer
from railwright.surveys.short_circuit import SHORT_CIRCUIT, limited
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
STANDS = 2.0
BEARS = 5.0
"""s; for so long a resistor stands `STANDS` times its rated power, and more for a shorter time:
the low side of pulse curves of film types, from memory. Their test is 6.25 times (IEC 60115-1)."""
MATTERS = 0.1
"""Of what it stands; a part that is given no more by typical parts needs no question."""


def _short(survey: Survey) -> Stretch:
    return SHORT_CIRCUIT.stretches(survey)[0]


class _Bounded(InTimeCheck):
    """A question about what flows into a short circuit, where the need bounds it."""

    situation = SHORT_CIRCUIT
    says = "A short circuit gets up to {value}; {limit} is allowed ({place})."

    def bound(self, survey: Survey, rail: str) -> float | None:
        """What the need allows of a rail; None where it says nothing."""
        raise NotImplementedError(type(self).__name__)

    def subjects(self, survey: Survey) -> Sequence[str]:
        return [rail for rail in limited(survey) if self.bound(survey, rail) is not None]


class PeakCurrent(_Bounded):
    """The greatest current in the short circuit, most of it out of the capacitors at the output."""

    id = "overload.peak-current"
    question = "Does a short circuit get no greater current than is allowed?"
    source = "need.output.overload.let_through.peak"
    analysis = (
        "Margin = need's peak - greatest current in a short of 10 mΩ that is made within 1 µs at "
        "full load, in the course in time. Leads between the terminals and the short are left "
        "out. Reserve = margin / need's peak."
    )
    example = (
        "100 µF with 90 mΩ in series at 12 V give a short of 10 mΩ up to `12 V / (90 mΩ + 10 mΩ) = "
        "120 A`, whatever the limit; of 150 A `150 A - 120 A = 30 A` are left."
    )
    unit = "A"

    def bound(self, survey: Survey, rail: str) -> float | None:
        return overload_of(survey, rail).let_through.peak

    def answered(self, view: CourseView, subject: str) -> Answer:
        allowed = self.bound(view.survey, subject) or np.nan
        return at_most(_current(view, subject)[1].max(axis=1), allowed)


class LetThrough(_Bounded):
    """The integral of the current squared in the short circuit, above the current that may last."""

    id = "overload.let-through"
    question = "Is the short circuit over before too much heat has gone into it?"
    source = "need.output.overload.let_through.heat"
    analysis = (
        "Margin = need's heat - ∫ (i² - act_by²) dt over the times at which i is above act_by, in "
        "a short of 10 mΩ at full load, in the course in time; times the resistance of what is "
        "shorted it is the energy that goes into that. Reserve = margin / need's heat."
    )
    example = (
        "A trip after 100 µs at 20 A lets `(20 A)^2 × 100 µs = 0.04` A²s through, in 10 mΩ "
        "`0.04 × 0.01 = 0.0004` J; of 0.1 A²s `0.1 - 0.04 = 0.06` A²s are left."
    )
    unit = "A²s"

    def bound(self, survey: Survey, rail: str) -> float | None:
        return overload_of(survey, rail).let_through.heat

    def answered(self, view: CourseView, subject: str) -> Answer:
        overload = overload_of(view.survey, subject)
        since, amperes = _current(view, subject)
        above = np.maximum(amperes**2 - (overload.act_by or 0.0) ** 2, 0.0)
        heat = np.trapezoid(above, since, axis=1)
        return at_most(heat, self.bound(view.survey, subject) or np.nan)


def _current(view: CourseView, rail: str) -> tuple[Array, Array]:
    """Seconds since the short, and the current in it (lane, instant)."""
    short = _short(view.survey)
    record = limited(view.survey).index(rail)
    since, _ = view.course(rail, short, record)
    # At the last instant of a stretch the next thing begins to happen.
    return since[:-1], view.current(rail, short, record)[:, :-1]


class _Borne(InTimeCheck):
    """A question about parts that a short circuit gives a pulse of heat."""

    unit = "1"
    situation: ClassVar[InTime] = SHORT_CIRCUIT

    def parts(self, survey: Survey) -> Sequence[str]:
        raise NotImplementedError(type(self).__name__)

    def share(self, view: CourseView, ref: str) -> Array:
        """The greatest share of what it stands, over lanes."""
        raise NotImplementedError(type(self).__name__)

    def limit(self) -> float:
        return 1.0

    def subjects(self, survey: Survey) -> Sequence[str]:
        if not self.situation.applies(survey) or self.situation.unready(survey):
            return []
        view = cast(CourseView, survey.once(self.situation.typical))
        told = self.tells(view)
        return [
            ref
            for ref in self.parts(survey)
            if not told
            or self.lacking(survey, ref)
            or self.share(view, ref).max() > MATTERS * self.limit()
        ]

    def answered(self, view: CourseView, subject: str) -> Answer:
        return at_most(self.share(view, subject), self.limit())

    def because(self, survey: Survey, subject: str, worst: Worst) -> str:
        return (
            f"A short circuit heats {subject} to {show(worst.value, '1')} of {self.whole}; "
            f"{show(worst.limit, '1')} is allowed ({worst.place})."
        )

    whole = ""
    """What the share is one of, for the reason."""


class ResistorPulse(_Borne):
    """What stands in the way of the current: shunts, emitter resistors."""

    id = "stress.resistor-pulse"
    question = "Do shunts and other resistors in series bear the pulse of a short circuit?"
    source = "rated power of the part's type; pulse curves of film resistors, from memory"
    analysis = (
        "Asked of resistors below 10 Ω that get at least a tenth of what they bear. Value = power "
        "felt / (2 × rated power): the steady power that makes it as warm, where each step of the "
        "power counts with sqrt(t / 5 s). So 1 ms of 141 times the rated power is borne. Margin = "
        "1 - value; reserve = margin."
    )
    example = (
        "20 A in 0.1 Ω for 10 ms feel like `(20 A)^2 × 0.1 Ω × sqrt(10 ms / 5 s) = 1.79 W`; a "
        "resistor of 0.5 W stands `2 × 0.5 W = 1 W`: value 1.79, falls short."
    )
    whole = "the pulse that it bears"

    def parts(self, survey: Survey) -> Sequence[str]:
        return [part.ref for part in series(survey)]

    def lacking(self, survey: Survey, subject: str) -> Sequence[str]:
        ratings = survey.fixture.circuit.part(subject).ratings
        return [] if RATED_POWER in ratings else [RATED_POWER]

    def share(self, view: CourseView, ref: str) -> Array:
        stands = STANDS * view.survey.fixture.circuit.part(ref).ratings[RATED_POWER]
        greatest = []
        for record in view.records:
            power = record.rows[ref, "power"]
            greatest.append(felt(record.times, power - power[:, :1], BEARS).max(axis=1))
        found: Array = np.max(greatest, axis=0) / stands
        return found


class FuseInShort(_Borne):
    """A limit or a trip is there so that nobody has to change a fuse."""

    id = "stress.fuse-in-short"
    question = "Does the fuse survive a short circuit that the limit or the trip deals with?"
    source = "melting integral and current of the type; pulse withstand of fuse makers, from memory"
    analysis = (
        "Margin = 0.29 - share of the heat at which the fuse melts, as in stress.fuse-surge, in "
        "the course of a short of 10 mΩ at full load and after it, above what the current in use "
        "makes of it. Reserve = margin / 0.29."
    )
    example = (
        "A trip that takes 20 ms behind a limit of 10 A gives a fuse `(10 A)^2 × 20 ms = 2` A²s; "
        "one that melts at 4 A²s is heated to `2 / 4 = 0.5` of it: `0.29 - 0.5 = -0.21`."
    )
    whole = "what melts it"

    def parts(self, survey: Survey) -> Sequence[str]:
        return [part.ref for part in fuses(survey)]

    def lacking(self, survey: Survey, subject: str) -> Sequence[str]:
        part = survey.fixture.circuit.part(subject)
        return [name for name in MELTING if name not in part.values]

    def limit(self) -> float:
        return PULSES

    def share(self, view: CourseView, ref: str) -> Array:
        current, integral = (view.value(ref, name) for name in MELTING)
        greatest = []
        for record in view.records:
            square = record.rows[ref, "current"] ** 2
            more = square - square[:, :1]
            greatest.append(cooled(record.times, more, integral / current**2))
        found: Array = np.max(greatest, axis=0) / current**2
        return found
