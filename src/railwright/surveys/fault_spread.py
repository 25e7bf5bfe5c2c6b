"""The gravest single faults with the worst parts that are allowed, beside the one that fails."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.surveys.depth import DEEP
from railwright.surveys.fault_courses import never_above, outputs_of, outputs_with_faults
from railwright.surveys.single_faults import look_at, single_faults
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
MOST_MODES = 8
"""Modes that are looked at over the spread, those that lift an output highest."""
LEAST_EFFECT = 1e-9
"""Share of its limit by which an output moves where a quantity has an effect on it."""


@dataclass(frozen=True)
class Extremest:
    """How high one mode lifts a rail at the extreme vertex of the spread."""

    mode: int
    point: int
    """Number of the point in `single_faults`."""
    value: float
    """V; not-a-number where it could not be found out."""


def faults_over_the_spread(survey: Survey) -> Mapping[str, list[Extremest]]:
    """Per rail, the gravest faults at their extreme vertices; nothing unless deep.

    Effects of single quantities tell which end of each lifts the output; the vertex of all those
    ends is solved, and followed in time where that is needed. Ask for it by `survey.once`.
    """
    if not survey.depth.covers(DEEP):
        return {}
    return {rail: _of_rail(survey, rail, limit) for rail, limit in never_above(survey).items()}


def _of_rail(survey: Survey, rail: str, limit: float) -> list[Extremest]:
    study, highest = survey.once(single_faults), survey.once(outputs_with_faults).highest[rail]
    ranked = np.argsort(-np.nan_to_num(highest, nan=-np.inf), kind="stable")
    lanes: dict[int, int] = {}
    for lane in ranked[np.isfinite(highest[ranked])]:
        lanes.setdefault(int(study.mode[lane]), int(lane))
    return [
        _extremest(survey, rail, limit, mode, int(study.point[lane]))
        for mode, lane in list(lanes.items())[:MOST_MODES]
    ]


def _extremest(survey: Survey, rail: str, limit: float, mode: int, point: int) -> Extremest:
    spread = survey.spread
    each = np.repeat(spread.typical[:, None], spread.size + 1, axis=1)
    each[np.arange(spread.size), np.arange(spread.size)] = spread.high
    found = _highest(survey, rail, mode, point, each)
    moved = found[:-1] - found[-1]
    up = np.where(moved > LEAST_EFFECT * limit, spread.high, spread.typical)
    vertex = np.where(moved < -LEAST_EFFECT * limit, spread.low, up)
    extreme = _highest(survey, rail, mode, point, vertex[:, None])[0]
    known = found[np.isfinite(found)]
    best = np.max(known, initial=extreme) if np.isfinite(extreme) else np.nan
    return Extremest(mode, point, float(best))


def _highest(survey: Survey, rail: str, mode: int, point: int, actual: Array) -> Array:
    """How high the rail goes with each set of quantities, in the worst way of a mode (set)."""
    count = actual.shape[1]
    points = survey.once(single_faults).points.take(np.full(count, point))
    study = look_at(survey, points, actual, [mode])
    found: Array = outputs_of(study).highest[rail].reshape(-1, count).max(axis=0)
    return found
