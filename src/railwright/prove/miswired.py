"""Connections that look wrong: one of which, put right, would mend what falls short.

What no single value explains may be a pin on the wrong net, or two that are exchanged. Every such
slip of every part is undone in turn, with typical parts, at the worst points of all that was asked
of the rails at rest; those are told with which everything would hold. Where a regulator lacks a
capacitor or a coil, every pin of these is tried on every net.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from operator import attrgetter

import numpy as np
from numpy.typing import NDArray

from railwright.checks.check import Check
from railwright.prove.proof import Cause, Finding, Looked
from railwright.prove.suspects import Tried
from railwright.surveys.extremes import Extreme, Question
from railwright.surveys.faults import Slip, exchanged_values
from railwright.surveys.operating_range import Points
from railwright.surveys.rewired import (
    RewiredSurvey,
    Rewiring,
    at_every,
    moves_of,
    rewirings,
    with_moves,
)
from railwright.surveys.situations import Situation
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Lanes = tuple[Points, Array]
"""Points of lanes, and their quantities (quantity, lane)."""
MOST, MANY = 6, 12
"""Connections that are told. Where more than the second number would do around a part, nobody can
say which of them is the wrong one, and none is told."""


@dataclass(frozen=True)
class Asked:
    """A question that was put to a rail at rest, with what was found."""

    situation: Situation
    check: str
    rail: str
    question: Question
    extreme: Extreme
    values: frozenset[Slip]
    """Values that may be wrong, one of which by itself would mend it."""

    @property
    def falls_short(self) -> bool:
        """Whether it does with typical parts already."""
        return bool(self.extreme.margin < 0 and self.extreme.nominal[self.extreme.worst] < 0)


def asked_of_rails(
    survey: Survey,
    situation: Situation,
    questions: Mapping[str, tuple[str, str, Question]],
    found: Mapping[str, Extreme],
    several: Mapping[str, Tried],
) -> list[Asked]:
    """What was asked of rails at rest; none of another situation, whose lanes are dear."""
    if situation.thrift.samples is not None:
        return []
    return [
        Asked(situation, check, subject, question, found[name], _mended(several.get(name)))
        for name, (check, subject, question) in questions.items()
        if subject in survey.fixture.rails and np.isfinite(found[name].margin)
    ]


def _mended(tried: Tried | None) -> frozenset[Slip]:
    if tried is None:
        return frozenset()
    slips = zip(tried.slips, tried.margins, strict=True)
    return frozenset(slip for slip, margin in slips if margin >= 0)


def of_rails(
    survey: Survey, asked: Sequence[Asked], depth: str, assumed: Sequence[str]
) -> list[Finding]:
    """One finding for each connection that looks wrong, or for two parts in each other's place."""
    short = [each for each in asked if each.falls_short]
    if not short:
        return []
    what = [f"{each.check} of {each.rail}" for each in short]
    pairs = list(exchanged_values(survey.fixture.circuit, survey.spread))
    left = _holding(survey, short[:1], partial(_slipped, survey, pairs), range(len(pairs)))
    left = _holding(survey, asked, partial(_slipped, survey, pairs), left)
    told = [_exchange(*pairs[number], what, depth, assumed) for number in left[:MOST]]
    slips = sorted(frozenset.intersection(*(each.values for each in short)), key=attrgetter("ref"))
    alone = [(slip,) for slip in slips]
    if told or _holding(survey, asked, partial(_slipped, survey, alone), range(len(slips))):
        return told  # values explain it all
    circuits = rewirings(survey.fixture.design.circuit)
    rewired = RewiredSurvey.of(survey, circuits)
    left = _holding(rewired, short[:1], partial(_rewired, rewired), range(len(circuits)))
    left = _holding(rewired, asked, partial(_rewired, rewired), left)
    return [_finding(circuits[number], what, depth, assumed) for number in left[:MOST]]


def _exchange(
    one: Slip, other: Slip, what: Sequence[str], depth: str, assumed: Sequence[str]
) -> Finding:
    words = f"{one.ref} and {other.ref} in each other's place"
    return Finding(
        "design.exchange",
        f"{one.ref}, {other.ref}",
        "Are there two parts that look as if they were in each other's place?",
        "falls short",
        f"With {words} this would hold: {', '.join(dict.fromkeys(what))}.",
        "every two parts of a kind exchanged, with typical parts at the worst points",
        looked=Looked(1, 0, 0, depth),
        causes=[Cause(each.ref, "", 0.5, words) for each in (one, other)],
        assumed=list(assumed),
    )


@dataclass(frozen=True)
class Placed:
    """A question about what stands around a part, with what was found."""

    check: Check
    subject: str
    extreme: Extreme

    def holds(self, survey: Survey) -> bool:
        """Whether it does in another circuit, with the voltages that were found in this one."""
        if self.check.missing(survey, self.subject):
            return False
        view = replace(self.extreme.lane, survey=survey)
        return bool((self.check.answer(view, self.subject).margin >= 0).all())


def around_parts(
    survey: Survey, placed: Sequence[Placed], depth: str, assumed: Sequence[str]
) -> list[Finding]:
    """One finding for each capacitor or coil that looks as if it were in the wrong place."""
    short = [each for each in placed if each.extreme.margin < 0]
    if not short:
        return []
    own = survey.fixture
    kinds = {each.check.sought(survey, each.subject) for each in short}
    mending = [
        each
        for each in moves_of(own.circuit, kinds)
        if _all_hold(Survey(own.with_circuit(with_moves(own.circuit, each))), placed)
    ]
    if len(mending) > MANY:
        return []
    what = [f"{each.check.id} of {each.subject}" for each in short]
    return [_finding(each, what, depth, assumed) for each in mending[:MOST]]


def _all_hold(survey: Survey, placed: Sequence[Placed]) -> bool:
    return all(each.holds(survey) for each in placed)


def _finding(slip: Rewiring, what: Sequence[str], depth: str, assumed: Sequence[str]) -> Finding:
    return Finding(
        "design.wiring",
        slip.ref,
        "Is there a connection that looks wrong?",
        "falls short",
        f"With {slip.words} this would hold: {', '.join(dict.fromkeys(what))}.",
        "every pin tried on every net, and every two pins of a part exchanged",
        looked=Looked(1, 0, 0, depth),
        causes=[Cause(slip.ref, "", 1.0, slip.words)],
        assumed=list(assumed),
    )


def _rewired(survey: RewiredSurvey, points: Points, circuits: Sequence[int]) -> Lanes:
    everywhere = at_every(points, circuits)
    return everywhere, survey.typical(everywhere.count)


def _slipped(
    survey: Survey, changes: Sequence[Sequence[Slip]], points: Points, which: Sequence[int]
) -> Lanes:
    everywhere = points.take(np.tile(np.arange(points.count), len(which)))
    actual = survey.typical(everywhere.count)
    for place, number in enumerate(which):
        own = slice(place * points.count, (place + 1) * points.count)
        for slip in changes[number]:
            actual[slip.quantity, own] *= slip.factor
    return everywhere, actual


def _holding(
    survey: Survey,
    asked: Sequence[Asked],
    lanes: Callable[[Points, Sequence[int]], Lanes],
    trials: Sequence[int],
) -> Sequence[int]:
    """The trials in which all that was asked holds, each at its worst point.

    lanes: gives every point in every trial, with its quantities, the points of one trial after
    the other.
    """
    for situation in dict.fromkeys(each.situation for each in asked):
        if not trials:
            break
        own = [each for each in asked if each.situation is situation]
        places = sorted({each.extreme.worst for each in own})
        points, actual = lanes(own[0].extreme.points.take(np.array(places)), trials)
        view = situation.view(survey, points, actual, None)
        holds = np.ones(len(trials), bool)
        for each in own:
            margin = np.where(view.solved, each.question(view).margin, np.nan)
            at = margin.reshape(len(trials), len(places))[:, places.index(each.extreme.worst)]
            holds &= at >= 0
        trials = [number for number, good in zip(trials, holds, strict=True) if good]
    return trials
