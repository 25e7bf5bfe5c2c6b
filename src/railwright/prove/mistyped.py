"""Transformers of another type: one of which would mend what falls short on the mains.

A mains cycle is dear, and a transformer's voltage comes with its resistances. So of every voltage
in the catalogue that type is tried which is nearest in current, with typical parts, where each
question that was put in mains cycles is at its worst.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from railwright.catalogue.entry import Entry
from railwright.catalogue.loader import load
from railwright.circuit.circuit import Part, PartValue
from railwright.prove.proof import Cause, Finding, Looked
from railwright.prove.suspects import ROOM
from railwright.surveys.extremes import Extreme, Question
from railwright.surveys.fixture import transforms
from railwright.surveys.known import Known
from railwright.surveys.mains import OnMains
from railwright.surveys.situations import Situation
from railwright.surveys.survey import Survey

RATIO, CURRENT = "turns_ratio", "rated_current"
USUAL = 1.0
"""A; current of a transformer that states none (common practice, no source)."""
ALIKE = 0.03
"""Ratios that differ by less belong to one voltage."""


@dataclass(frozen=True)
class Asked:
    """A question that was put in mains cycles, with what was found."""

    situation: Situation
    what: str
    """Check and subject, in words."""
    question: Question
    extreme: Extreme

    @property
    def taken(self) -> float:
        """What the spread takes of the margin of typical parts, which another type must leave.

        No more than a share of what is allowed: at a cliff, such as a regulator out of headroom,
        spread takes far more than it does where all is well.
        """
        nominal = float(self.extreme.nominal[self.extreme.worst])
        taken = max(nominal - self.extreme.margin, 0.0) if np.isfinite(nominal) else 0.0
        return min(taken, ROOM * abs(self.extreme.limit))


def is_asked(situation: Situation, extreme: Extreme) -> bool:
    """Whether something was put in mains cycles and has an answer."""
    return isinstance(situation, OnMains) and bool(np.isfinite(extreme.margin))


def findings(
    survey: Survey, asked: Sequence[Asked], depth: str, assumed: Sequence[str]
) -> list[Finding]:
    """One finding for each transformer of which another voltage would mend all of it."""
    short = [each for each in asked if each.extreme.margin < 0]
    if not short:
        return []
    told = ", ".join(dict.fromkeys(each.what for each in short))
    return [
        Finding(
            "design.type",
            part.ref,
            "Is there a transformer that looks like the wrong one?",
            "falls short",
            f"With {other.name} at {part.ref} this would hold: {told}.",
            "of each voltage in the catalogue the type nearest in current, at the worst points",
            looked=Looked(len({each.extreme.worst for each in asked}), 0, len(asked), depth),
            causes=[Cause(part.ref, RATIO, 1.0, other.name)],
            assumed=list(assumed),
        )
        for part in survey.fixture.circuit.parts
        if transforms(part)
        for other in _mending(survey, part, short)
    ]


def _mending(survey: Survey, part: Part, short: Sequence[Asked]) -> list[Entry]:
    """The type nearest in voltage with which all that falls short would hold, if there is one."""
    now = part.values[RATIO].spread.typical
    for other in sorted(_others(part), key=lambda e: abs(np.log(_ratio(e) / now))):
        circuit = survey.fixture.circuit.replaced(_as_other(part, other))
        changed = replace(survey, fixture=survey.fixture.with_circuit(circuit), _known=Known())
        if all(_holds(changed, each) for each in short):
            return [other]
    return []


def _holds(survey: Survey, asked: Asked) -> bool:
    within = survey.within(asked.situation.scope)
    points = asked.extreme.points.take(np.array([asked.extreme.worst]))
    view = asked.situation.view(within, points, within.typical(1), None)
    return bool(view.solved.all() and (asked.question(view).margin >= asked.taken).all())


def _others(part: Part) -> Iterator[Entry]:
    """Of each voltage but the part's own the type that is nearest in current."""
    known = [e for e in load().values() if e.kind == part.kind and {RATIO, CURRENT} <= {*e.values}]
    own = part.values[CURRENT].spread.typical if CURRENT in part.values else USUAL

    def apart(entry: Entry) -> float:
        return float(abs(np.log(entry.values[CURRENT].spread.typical / own)))

    nearest: list[Entry] = []
    for entry in sorted(known, key=apart):
        seen = [part.values[RATIO].spread.typical, *(_ratio(each) for each in nearest)]
        if all(abs(_ratio(entry) / ratio - 1.0) > ALIKE for ratio in seen):
            nearest.append(entry)
    yield from nearest


def _ratio(entry: Entry) -> float:
    return entry.values[RATIO].spread.typical


def _as_other(part: Part, entry: Entry) -> Part:
    """The part with what the catalogue says of another type."""
    values = {
        name: PartValue(known.spread, part.values[name].unit, known.source, known.assumed)
        for name, known in entry.values.items()
        if name in part.values
    }
    return replace(part, values={**part.values, **values})
