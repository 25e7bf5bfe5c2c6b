"""Shortfalls that no spread explains: is one value a decade off?

A margin that is negative with typical parts is not a matter of tolerances. Every coded value
is tried a decade up and down at the worst points; the one that mends most is told as the
likely mistake.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from railwright.prove.proof import Cause
from railwright.quantity import show
from railwright.surveys.extremes import Extreme, Question
from railwright.surveys.faults import Slip, decade_slips
from railwright.surveys.situations import Situation
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]


def likely_slip(
    survey: Survey,
    situation: Situation,
    questions: Mapping[str, Question],
    found: Mapping[str, Extreme],
) -> dict[str, Cause]:
    """For each question that falls short with typical parts: the slip that mends it, if any."""
    failing = [
        name
        for name, extreme in found.items()
        if np.isfinite(extreme.margin) and extreme.nominal[extreme.worst] < 0
    ]
    survey = survey.within(situation.scope)
    slips = list(decade_slips(survey.fixture.circuit, survey.spread))
    if not failing or not slips:
        return {}
    mended = {
        name: _mending(survey, situation, questions[name], found[name], slips) for name in failing
    }
    votes = Counter(slip for names in mended.values() for slip in names)
    return {
        name: _told(survey, max(names, key=lambda slip: votes[slip]))
        for name, names in mended.items()
        if names
    }


def _mending(
    survey: Survey, situation: Situation, question: Question, extreme: Extreme, slips: list[Slip]
) -> list[Slip]:
    """Slips whose undoing turns the margin with typical parts positive."""
    count = len(slips)
    actual = survey.typical(count)
    for lane, slip in enumerate(slips):
        actual[slip.quantity, lane] *= slip.factor
    points = extreme.points.take(np.full(count, extreme.worst))
    view = situation.view(survey, points, actual, None)
    margin = np.where(view.solved, question(view).margin, np.nan)
    good = np.isfinite(margin) & (margin >= 0)
    return [slip for slip, mends in zip(slips, good, strict=True) if mends]


def _told(survey: Survey, slip: Slip) -> Cause:
    value = survey.fixture.circuit.part(slip.ref).values[slip.value]
    now = value.spread.typical
    text = f"{show(now * slip.factor, value.unit)} instead of {show(now, value.unit)}"
    return Cause(slip.ref, slip.value, 1.0, text)
