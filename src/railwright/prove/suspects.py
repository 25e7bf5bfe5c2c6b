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
from railwright.surveys.cycles import IN_CYCLES
from railwright.surveys.extremes import Extreme, Question
from railwright.surveys.faults import CODED, LEAKY, Slip, storage_slips, type_slips, value_slips
from railwright.surveys.situations import Situation
from railwright.surveys.survey import Survey

ROOM = 0.6
"""Share of what is allowed that typical parts must leave; the spread takes less where it can."""
TIGHTER = 0.8
"""Of a spread that goes where a part of a fifth of the tolerance is taken."""
MOST = 6
"""Values that are told of one shortfall, those nearest to what would mend it first."""


@dataclass(frozen=True)
class Suspect:
    """A value that looks wrong, what it would mend, and what should stand there."""

    ref: str
    value: str
    instead: str
    check: str
    rail: str


def suspects(
    survey: Survey,
    situation: Situation,
    questions: Mapping[str, tuple[str, str, Question]],
    found: Mapping[str, Extreme],
) -> list[Suspect]:
    """Values that look wrong, for every rail that falls short where nothing moves.

    questions: by name the check, the subject and the question of each.
    """
    if situation.thrift.samples is not None and situation is not IN_CYCLES:
        return []  # its lanes are too dear
    told: list[Suspect] = []
    for name, (check, subject, question) in questions.items():
        extreme = found[name]
        if subject in survey.fixture.rails and np.isfinite(extreme.margin) and extreme.margin < 0:
            near = _mending(survey, situation, question, extreme)
            wrong = [(s.ref, s.value, _instead(survey, s)) for s in near[:MOST]]
            told += [Suspect(*each, check, subject) for each in wrong or _loose(survey, extreme)]
    return told


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
        value = survey.fixture.circuit.part(ref).values[name]
        coded = quantity.role == "value" and CODED.get(name) == value.unit
        if coded and TIGHTER * fall >= -extreme.margin:
            whole = show(value.spread.width / 2.0 / value.spread.typical, "1", 2)
            found.append((ref, name, f"a fifth of its tolerance of {whole}"))
    return found


def _mending(
    survey: Survey, situation: Situation, question: Question, extreme: Extreme
) -> list[Slip]:
    """The nearest value of each part with which typical parts have room for what the spread takes.

    Those that have to move least come first.
    """
    survey = survey.within(situation.scope)
    known = survey.fixture.circuit, survey.spread
    at_rest = situation is not IN_CYCLES
    slips = [*value_slips(*known), *type_slips(*known)] if at_rest else [*storage_slips(*known)]
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
    mends &= margin - nominal >= -ROOM * extreme.margin
    nearest_of: dict[str, Slip] = {}
    for slip, good in zip(slips, mends, strict=True):
        best = nearest_of.get(slip.ref)
        if good and (best is None or _far(slip) < _far(best)):
            nearest_of[slip.ref] = slip
    return sorted(nearest_of.values(), key=_far)


def _far(slip: Slip) -> float:
    return abs(float(np.log(slip.factor)))


def _instead(survey: Survey, slip: Slip) -> str:
    value = survey.fixture.circuit.part(slip.ref).values[slip.value]
    now = value.spread.typical
    if slip.value == LEAKY:
        return "a diode that leaks less"
    if slip.value not in CODED:
        return f"{show(now * slip.factor, value.unit)} instead of {show(now, value.unit)}"
    better = show(nearest(now * slip.factor, "E24"), value.unit)
    return f"{better} instead of {show(now, value.unit)}"


def findings(told: Sequence[Suspect], depth: str, assumed: Sequence[str]) -> list[Finding]:
    """One finding for each part, with all that its value would mend."""
    found = []
    for ref in dict.fromkeys(suspect.ref for suspect in told):
        own = [suspect for suspect in told if suspect.ref == ref]
        first = own[0]
        checks = ", ".join(dict.fromkeys(f"{each.check} of {each.rail}" for each in own))
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
