"""Margins with typical parts over the range, and how a value moves them: cheap enough to be asked
while one types.

To first order a changed value moves the margin at the extreme vertex as that with typical parts,
by a share of the limit that stands there: the lower one where the margin rises with the value, else
the upper one. Up and down are told apart, since a margin may have an edge at the value that is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from railwright.checks import every
from railwright.circuit.circuit import Part
from railwright.circuit.design import Design
from railwright.prove.run import looked_past
from railwright.quantity import Spread
from railwright.surveys.depth import FINE, Depth
from railwright.surveys.fixture import Fixture
from railwright.surveys.mains import as_fed, put
from railwright.surveys.situations import Situation, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Asked = tuple[str, str]
"""Id of a check, and its subject."""
STEP = 0.05
"""By which share a value is moved to see what that does."""


@dataclass(frozen=True)
class Slopes:
    """How much margins change with a value, per share of the value (point,): see `STEP`."""

    typical: float
    """The value, in its unit."""
    up: Mapping[Asked, Array]
    down: Mapping[Asked, Array]
    """With a greater value and with a lesser one; not-a-number where it is not known."""


def typical_margins(design: Design, depth: Depth = FINE) -> Mapping[Asked, Array]:
    """Margins with typical parts of all static questions (point,), in the unit of the check.

    Points in the order of the range's grid, which is that of a proof's maps. Not-a-number where
    there is no solution, infinite where the question does not arise.
    """
    survey = looked_past(Survey(Fixture.of(design), depth=depth))
    found: dict[Asked, Array] = {}
    views: dict[Situation, View | None] = {}
    for check in every():
        situation = as_fed(survey, check.situation)
        if not depth.covers(situation.since):
            continue
        for subject in check.subjects(survey):
            if check.missing(survey, subject):
                continue
            if situation not in views:
                ready = situation.applies(survey) and not situation.unready(survey)
                views[situation] = survey.once(situation.typical) if ready else None
            view = views[situation]
            if view is not None:
                answer = put(partial(check.answer, subject=subject), view)
                told = np.where(answer.told(view.solved), answer.margin, np.nan)
                found[check.id, subject] = told
    return found


def slopes(
    design: Design, margins: Mapping[Asked, Array], ref: str, value: str, depth: Depth = FINE
) -> Slopes:
    """How a value of a part moves the margins of a design.

    margins: those with typical parts, of the same depth. ValueError where the value is nil, or
    cannot be moved; CircuitError where there is no such part.
    """
    part = design.circuit.part(ref)
    if value not in part.values or part.values[value].spread.typical == 0:
        raise ValueError(f"{value} of {ref} cannot be moved by a share of itself.")
    up, down = (
        typical_margins(_with(design, _scaled(part, value, 1.0 + step)), depth)
        for step in (STEP, -STEP)
    )
    spread = part.values[value].spread
    return Slopes(
        spread.typical,
        {asked: _slope(margins.get(asked), there, STEP, spread) for asked, there in up.items()},
        {asked: _slope(margins.get(asked), there, -STEP, spread) for asked, there in down.items()},
    )


def _slope(here: Array | None, there: Array, step: float, spread: Spread) -> Array:
    if here is None or here.shape != there.shape:
        return np.full(there.shape, np.nan)
    with np.errstate(invalid="ignore"):
        found: Array = (there - here) / step
    least, most = sorted((spread.low / spread.typical, spread.high / spread.typical))
    return found * np.where(found > 0, least, most)


def _scaled(part: Part, value: str, by: float) -> Part:
    found = part.values[value]
    spread = found.spread
    low, high = sorted((spread.low * by, spread.high * by))
    moved = Spread(low, spread.typical * by, high, spread.shape, spread.drift)
    return replace(part, values={**part.values, value: replace(found, spread=moved)})


def _with(design: Design, part: Part) -> Design:
    return replace(design, circuit=design.circuit.replaced(part))
