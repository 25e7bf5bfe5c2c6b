"""Values that look wrong: one of which, put right, would mend what falls short.

Each value that a person chooses is tried at the worst point of a shortfall, with typical parts. A
margin that is negative with these is no matter of tolerances: a value that is a decade off, and
mends most of such shortfalls, is told as their first cause. For rails every value is told at which
everything would hold: a divider of two resistors cannot say which of both is wrong. What no single
value mends is a matter of tolerances or of wiring.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.prove.proof import Cause, Finding, Looked
from railwright.quantity import show
from railwright.standards.iec60063 import nearest
from railwright.surveys.cycles import IN_CYCLES
from railwright.surveys.extremes import Extreme, Question
from railwright.surveys.faults import CLOCK, CODED, LEAKY, Slip, type_slips, value_slips
from railwright.surveys.situations import Situation
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
FINE, COARSE, DECADES = 24, 6, 1
"""Steps to a decade; a situation whose lanes are dear is asked with few."""
ROOM = 0.6
"""Share of what is allowed that typical parts must leave; the spread takes less where it can."""
TIGHTER = 0.8
"""Of a spread that goes where a part of a fifth of the tolerance is taken."""
NO_DECADE = 0.5 * float(np.log(10.0))
"""Logarithm of a factor; what is off by less may be any value, but has not slipped by a decade."""
MOST = 6
"""Values that are told of one shortfall, those nearest to what would mend it first."""


@dataclass(frozen=True)
class Suspect:
    """A value that looks wrong, what it would mend, and what should stand there."""

    ref: str
    value: str
    instead: str
    check: str
    subject: str


@dataclass(frozen=True)
class Tried:
    """A shortfall with typical parts, and with one value changed at a time."""

    check: str
    subject: str
    extreme: Extreme
    slips: Sequence[Slip]
    margins: Array
    """At the worst point, one for each slip; not-a-number where it is not known."""

    @property
    def nominal(self) -> float:
        """Margin with typical parts."""
        return float(self.extreme.nominal[self.extreme.worst])


def tried(
    survey: Survey,
    situation: Situation,
    questions: Mapping[str, tuple[str, str, Question]],
    found: Mapping[str, Extreme],
) -> dict[str, Tried]:
    """What becomes of each question that falls short, where a value may be the reason.

    questions: by name the check, the subject and the question of each.
    """
    survey = survey.within(situation.scope)
    rails = _tells_rails(situation)
    wanted = [
        name
        for name, (_, subject, _) in questions.items()
        if found[name].margin < 0
        and (found[name].nominal[found[name].worst] < 0 or (rails and _is_rail(survey, subject)))
    ]
    slips = _slips(survey, situation) if wanted else []
    if not slips:
        return {}
    actual = survey.typical(len(slips))
    for lane, slip in enumerate(slips):
        actual[slip.quantity, lane] *= slip.factor
    several = {}
    for name in wanted:
        (check, subject, question), extreme = questions[name], found[name]
        points = extreme.points.take(np.full(len(slips), extreme.worst))
        view = situation.view(survey, points, actual, None)
        margins = np.where(view.solved, question(view).margin, np.nan)
        several[name] = Tried(check, subject, extreme, slips, margins)
    return several


def _slips(survey: Survey, situation: Situation) -> list[Slip]:
    known = survey.fixture.circuit, survey.spread
    if situation is IN_CYCLES:
        coded = [s for s in value_slips(*known, COARSE) if s.is_stored or s.is_decade]
        return [*coded, *(s for s in type_slips(*known) if s.value == CLOCK)]
    if not _tells_rails(situation):
        return [*value_slips(*known, DECADES)]
    return [*value_slips(*known, FINE), *type_slips(*known)]


def _tells_rails(situation: Situation) -> bool:
    """Whether its lanes are cheap enough for every value; those of a cycle bear coarse steps."""
    return situation.thrift.samples is None or situation is IN_CYCLES


def _is_rail(survey: Survey, subject: str) -> bool:
    return subject in survey.fixture.rails


def likely_slips(survey: Survey, several: Mapping[str, Tried]) -> dict[str, Cause]:
    """For each question that falls short with typical parts: the decade that mends it, if any."""
    mended = {name: _decades(each) for name, each in several.items()}
    votes = Counter(slip for slips in mended.values() for slip in slips)
    return {
        name: _told(survey, max(slips, key=lambda slip: votes[slip]))
        for name, slips in mended.items()
        if slips
    }


def _decades(each: Tried) -> list[Slip]:
    """Where it falls short with typical parts: the slips by a decade with which it would hold."""
    if not each.nominal < 0:
        return []
    good = np.isfinite(each.margins) & (each.margins >= 0)
    return [slip for slip, mends in zip(each.slips, good, strict=True) if mends and slip.is_decade]


def _told(survey: Survey, slip: Slip) -> Cause:
    now = survey.fixture.circuit.part(slip.ref).values[slip.value]
    typical = now.spread.typical
    text = f"{show(typical * slip.factor, now.unit)} instead of {show(typical, now.unit)}"
    return Cause(slip.ref, slip.value, 1.0, text)


def suspects(
    survey: Survey, situation: Situation, several: Mapping[str, Tried]
) -> Sequence[Suspect]:
    """Values that look wrong, for every rail that falls short.

    Where lanes are dear, and so a decade is all that was tried: for whatever falls short.
    """
    told: list[Suspect] = []
    if not _tells_rails(situation):
        return [
            Suspect(slip.ref, slip.value, _instead(survey, slip), each.check, each.subject)
            for each in several.values()
            for slip in _decades(each)[:MOST]
        ]
    for each in several.values():
        if _is_rail(survey, each.subject):
            at_rest = situation is not IN_CYCLES
            near = [s for s in _mending(each) if at_rest or s.is_stored or s.is_type]
            wrong = [(s.ref, s.value, _instead(survey, s)) for s in near[:MOST]]
            wrong = wrong or _loose(survey, each.extreme)
            told += [Suspect(*found, each.check, each.subject) for found in wrong]
    return told


def leaking(
    survey: Survey,
    situation: Situation,
    questions: Mapping[str, tuple[str, str, Question]],
    found: Mapping[str, Extreme],
) -> Sequence[Suspect]:
    """Junctions that leak too much for a part, where it would hold at the very worst with better.

    Of rails their values tell (`suspects`).
    """
    told: list[Suspect] = []
    short = [
        name
        for name, (_, subject, _) in questions.items()
        if found[name].margin < 0 and not _is_rail(survey, subject)
    ]
    if not short or not _tells_rails(situation) or situation is IN_CYCLES:
        return told
    survey = survey.within(situation.scope)
    known = survey.fixture.circuit, survey.spread
    slips = [slip for slip in type_slips(*known) if slip.value == LEAKY]
    for name in short if slips else []:
        (check, subject, question), extreme = questions[name], found[name]
        actual = np.repeat(extreme.actual[:, None], len(slips), axis=1)
        for lane, slip in enumerate(slips):
            actual[slip.quantity, lane] *= slip.factor
        points = extreme.points.take(np.full(len(slips), extreme.worst))
        view = situation.view(survey, points, actual, None)
        holds = np.where(view.solved, question(view).margin, np.nan) >= 0
        told += [
            Suspect(slip.ref, slip.value, _instead(survey, slip), check, subject)
            for slip, good in zip(slips, holds, strict=True)
            if good
        ]
    return told


def _mending(each: Tried) -> list[Slip]:
    """For each part a value with which typical parts have room for what the spread takes.

    Those parts that have to move least come first. None where typical parts have that room already.
    """
    shortfall = -each.extreme.margin
    wanted = min(max(0.0, each.nominal + shortfall), ROOM * abs(each.extreme.limit))
    if not np.isfinite(each.nominal) or each.nominal >= wanted:
        return []
    mends = np.isfinite(each.margins) & (each.margins >= wanted)
    mends &= each.margins - each.nominal >= ROOM * shortfall
    if each.nominal < 0:
        # What spread takes of a circuit that does not work tells nothing; types are few.
        mends |= np.array([slip.is_type for slip in each.slips]) & (each.margins >= 0)
    nearest_of: dict[str, Slip] = {}
    for slip, good in zip(each.slips, mends, strict=True):
        best = nearest_of.get(slip.ref)
        if good and (best is None or _far(slip) < _far(best)):
            nearest_of[slip.ref] = slip
    return [
        _likeliest(each.slips, mends, nearest) for nearest in sorted(nearest_of.values(), key=_far)
    ]


def _likeliest(slips: Sequence[Slip], mends: NDArray[np.bool_], first: Slip) -> Slip:
    """Of the values that mend from the nearest one on: the plain decade, or else the middle one."""
    ahead = sorted(
        (
            (slip, good)
            for slip, good in zip(slips, mends, strict=True)
            if slip.quantity == first.quantity and (slip.factor > 1.0) == (first.factor > 1.0)
        ),
        key=lambda each: _far(each[0]),
    )
    after = itertools.dropwhile(lambda each: not each[1], ahead)
    run = [slip for slip, _ in itertools.takewhile(lambda each: each[1], after)]
    if run[-1].is_decade and _far(first) > NO_DECADE:
        return run[-1]
    return run[(len(run) - 1) // 2]


def _loose(survey: Survey, extreme: Extreme) -> list[tuple[str, str, str]]:
    """Coded values that would mend it if their spread were a fifth: (ref, value, what instead)."""
    slopes = np.sqrt(np.maximum(extreme.shares, 0.0))
    nominal = float(extreme.nominal[extreme.worst])
    if not slopes.sum() > 0 or not nominal > 0:
        return []
    falls = (nominal - extreme.margin) * slopes / slopes.sum()
    found = []
    for quantity, fall in zip(extreme.quantities, falls, strict=True):
        ref, name = quantity.moves[0]
        part = survey.fixture.circuit.part(ref)
        coded = quantity.role == "value" and CODED.get(part.kind) == name
        if coded and TIGHTER * fall >= -extreme.margin:
            spread = part.values[name].spread
            whole = show(spread.width / 2.0 / spread.typical, "1", 2)
            found.append((ref, name, f"a fifth of its tolerance of {whole}"))
    return found


def _far(slip: Slip) -> float:
    return abs(float(np.log(slip.factor)))


def _instead(survey: Survey, slip: Slip) -> str:
    part = survey.fixture.circuit.part(slip.ref)
    value = part.values[slip.value]
    now = value.spread.typical
    if slip.value == LEAKY:
        return "a diode that leaks less"
    better = now * slip.factor
    if CODED.get(part.kind) == slip.value:
        better = nearest(better, "E24")
    return f"{show(better, value.unit)} instead of {show(now, value.unit)}"


def findings(told: Sequence[Suspect], depth: str, assumed: Sequence[str]) -> list[Finding]:
    """One finding for each part, with all that its value would mend."""
    found = []
    for ref in dict.fromkeys(suspect.ref for suspect in told):
        own = [suspect for suspect in told if suspect.ref == ref]
        first = own[0]
        checks = ", ".join(dict.fromkeys(f"{each.check} of {each.subject}" for each in own))
        found.append(
            Finding(
                "design.value",
                ref,
                "Is there a value that looks wrong?",
                "falls short",
                f"With {first.instead} at {ref} alone this would hold: {checks}.",
                "every coded value tried at the worst point, in steps of E24 (IEC 60063)",
                looked=Looked(1, 0, 0, depth),
                causes=[Cause(ref, first.value, 1.0, first.instead)],
                assumed=list(assumed),
            )
        )
    return found
