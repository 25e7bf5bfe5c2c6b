"""Causes of a shortfall: what each quantity takes at the worst, by turning it back alone."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from railwright.surveys.extremes import Extreme, Question
from railwright.surveys.situations import Situation
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]


def shares(survey: Survey, situation: Situation, question: Question, extreme: Extreme) -> Array:
    """Share of each quantity in a shortfall (quantity,).

    Slopes at typical parts do not tell what a leakage does that grows tenfold within its spread.
    So each quantity is turned back to typical, all others staying at the worst; what that gives
    back counts by its square, as in a variance. By slopes where lanes are dear, and where nothing
    falls short.
    """
    if not extreme.margin < 0 or situation.thrift.samples is not None:
        return extreme.shares
    survey = survey.within(situation.scope)
    moved = np.flatnonzero(extreme.actual != survey.spread.typical)
    if not moved.size:
        return extreme.shares
    actual = np.repeat(extreme.actual[:, None], moved.size, axis=1)
    actual[moved, np.arange(moved.size)] = survey.spread.typical[moved]
    near = extreme.lane.take(np.zeros(moved.size, np.intp))
    view = situation.view(survey, near.points, actual, near)
    margin = np.where(view.solved, question(view).margin, np.nan)
    gained = np.nan_to_num(np.maximum(margin - extreme.margin, 0.0))
    total = float(np.sum(gained**2))
    if not np.isfinite(total) or total <= 0.0:
        return extreme.shares
    found = np.zeros(extreme.shares.size)
    found[moved] = gained**2 / total
    return found
