"""Values that look wrong: one of which, put right, would mend a rail that falls short.

A divider of two resistors cannot say which of both is wrong; so each is told, with the value at
which everything would hold. What no single value mends is a matter of tolerances or of wiring.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from railwright.prove.proof import Cause, Finding, Looked
from railwright.quantity import show
from railwright.standards.iec60063 import nearest
from railwright.surveys.extremes import Extreme, Question
from railwright.surveys.faults import Slip, value_slips
from railwright.surveys.situations import Situation
from railwright.surveys.survey import Survey

ROOM = 0.6
"""Share of what is allowed that typical parts must leave; the spread takes less where it can."""
MOST = 6
"""Values that are told of one shortfall, those nearest to what would mend it first."""


@dataclass(frozen=True)
class Suspect:
    """A value that looks wrong: what it mends, and what would stand there instead."""

    slip: Slip
    check: str
    rail: str
    now: float
    unit: str

    @property
    def instead(self) -> float:
        """The nearest value of the series E24."""
        return nearest(self.now * self.slip.factor, "E24")


def suspects(
    survey: Survey,
    situation: Situation,
    questions: Mapping[str, tuple[str, str, Question]],
    found: Mapping[str, Extreme],
) -> list[Suspect]:
    """Values that look wrong, for every rail that falls short where nothing moves.

    questions: by name the check, the subject and the question of each.
    """
    if situation.thrift.samples is not None:  # its lanes are too dear
        return []
    told: list[Suspect] = []
    for name, (check, subject, question) in questions.items():
        extreme = found[name]
        if subject in survey.fixture.rails and np.isfinite(extreme.margin) and extreme.margin < 0:
            near = _mending(survey, situation, question, extreme)
            told += [_told(survey, slip, check, subject) for slip in near[:MOST]]
    return told


def _mending(
    survey: Survey, situation: Situation, question: Question, extreme: Extreme
) -> list[Slip]:
    """The nearest value of each part with which typical parts have room for what the spread takes.

    Those that have to move least come first.
    """
    survey = survey.within(situation.scope)
    slips = list(value_slips(survey.fixture.circuit, survey.spread))
    nominal = float(extreme.nominal[extreme.worst])
    if not slips or not np.isfinite(nominal):
        return []
    actual = survey.typical(len(slips))
    for lane, slip in enumerate(slips):
        actual[slip.quantity, lane] *= slip.factor
    points = extreme.points.take(np.full(len(slips), extreme.worst))
    view = situation.view(survey, points, actual, None)
    margin = np.where(view.solved, question(view).margin, np.nan)
    taken = max(0.0, nominal - extreme.margin)
    mends = np.isfinite(margin) & (margin >= min(taken, ROOM * abs(extreme.limit)))
    nearest_of: dict[str, Slip] = {}
    for slip, good in zip(slips, mends, strict=True):
        best = nearest_of.get(slip.ref)
        if good and (best is None or _far(slip) < _far(best)):
            nearest_of[slip.ref] = slip
    return sorted(nearest_of.values(), key=_far)


def _far(slip: Slip) -> float:
    return abs(float(np.log(slip.factor)))


def _told(survey: Survey, slip: Slip, check: str, rail: str) -> Suspect:
    value = survey.fixture.circuit.part(slip.ref).values[slip.value]
    return Suspect(slip, check, rail, value.spread.typical, value.unit)


def findings(told: Sequence[Suspect], depth: str, assumed: Sequence[str]) -> list[Finding]:
    """One finding for each part, with all that its value would mend."""
    found = []
    for ref in dict.fromkeys(suspect.slip.ref for suspect in told):
        own = [suspect for suspect in told if suspect.slip.ref == ref]
        first = own[0]
        now, instead = show(first.now, first.unit), show(first.instead, first.unit)
        checks = ", ".join(dict.fromkeys(f"{each.check} of {each.rail}" for each in own))
        found.append(
            Finding(
                "design.value",
                ref,
                "Is there a value that looks wrong?",
                "falls short",
                f"With about {instead} instead of {now} at {ref} alone this would hold: {checks}.",
                "every coded value tried at the worst point, in steps of E24 (IEC 60063)",
                looked=Looked(1, 0, 0, depth),
                causes=[Cause(ref, first.slip.value, 1.0, f"{instead} instead of {now}")],
                assumed=list(assumed),
            )
        )
    return found
