"""What a sound supply reads at given places of its range: with typical parts, at least, at most.

A question of the proof tells a quantity and its limit; here it is put at the places where something
was read, and sought for its least and its greatest value over the spread.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import At
from railwright.surveys.courses import capacitances
from railwright.surveys.depth import DEFAULT
from railwright.surveys.extremes import Answer, explore
from railwright.surveys.operating_range import Points
from railwright.surveys.positions import placed
from railwright.surveys.situations import Situation, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
DEPTH = replace(DEFAULT, turns=0, samples=0)
"""Every place gets its own vertices; samples add nothing to where they end."""
SEED = 1


@dataclass(frozen=True)
class Asked:
    """A quantity of a rail, as some question of the proof tells it."""

    situation: Situation
    answer: Callable[[View], Answer]


@dataclass(frozen=True)
class Expected:
    """What is read at one place with typical parts, and between which ends over the spread."""

    nominal: float
    low: float
    high: float
    limit: float | None = None
    """The need's; None where it has none."""
    at_most: bool = True
    """Whether the limit is an upper one."""


class _There(Situation):
    """Another situation at places of its own."""

    def __init__(self, inner: Situation, points: Points) -> None:
        self.name, self.scope, self.on_mains = inner.name, inner.scope, inner.on_mains
        # All places are of interest here, not the worst alone.
        self.thrift = replace(inner.thrift, vertices=None, enough=np.inf)
        self._inner, self._points = inner, points

    def points(self, survey: Survey) -> Points:
        return placed(survey, self._points)

    def view(self, survey: Survey, points: Points, actual: Array, near: View | None) -> View:
        return self._inner.view(survey, points, actual, near)


def expected(survey: Survey, asked: Asked, rail: str, places: Sequence[At]) -> list[Expected | str]:
    """What is read at each place; where that cannot be told, why."""
    situation = asked.situation
    if not situation.applies(survey):
        return [f"the situation '{situation.name}' does not arise in this circuit"] * len(places)
    if why := situation.unready(survey):
        return [why] * len(places)
    unsaid = "what the rail was set to is not said"
    is_set = rail in survey.controls_of_role("set").values()
    told = [place.setting is not None or not is_set for place in places]
    where = [place for place, known in zip(places, told, strict=True) if known]
    found = iter(_explored(survey, asked, rail, where) if where else ())
    return [next(found) if known else unsaid for known in told]


def points_of(survey: Survey, rail: str, places: Sequence[At]) -> Points:
    """Operating points of places: what is not said is as in the middle of the range, without load.

    Other rails stand in the middle of theirs, and loads bring the least capacitance they may have.
    """
    middle = survey.range.middle().take(np.zeros(len(places), np.intp))
    is_set = rail in survey.controls_of_role("set").values()

    def told(values: Sequence[float | None], instead: Array) -> Array:
        known = [v if v is not None else i for v, i in zip(values, instead, strict=True)]
        return np.array(known, float)

    least = np.full(len(places), survey.range.loads[rail][0])
    settings = dict(middle.settings)
    if is_set:
        settings[rail] = told([place.setting for place in places], settings[rail])
    loads = {**middle.loads, rail: told([place.load for place in places], least)}
    return replace(
        middle,
        settings=settings,
        loads=loads,
        input=told([place.input for place in places], middle.input),
        ambient=told([place.ambient for place in places], middle.ambient),
        capacitances={
            name: np.full(len(places), axis[0]) for name, axis in capacitances(survey).items()
        },
    )


def _explored(
    survey: Survey, asked: Asked, rail: str, places: Sequence[At]
) -> list[Expected | str]:
    survey = replace(survey, depth=DEPTH)
    there = _There(asked.situation, points_of(survey, rail, places))
    typical = survey.once(there.typical)
    if typical.points.count != len(places):
        why = "something of it switches with the setting: in which position is not said"
        return [why] * len(places)
    judged = asked.answer(typical)
    at_most = _is_at_most(judged)
    count = len(_sides(judged, at_most))
    questions = {
        (side, number): _sought(asked, side, number, at_most)
        for side in ("low", "high")
        for number in range(count)
    }
    named = {f"{side} {number}": each for (side, number), each in questions.items()}
    found = explore(survey, there, named, SEED)
    combined = np.max if at_most else np.min
    low = combined([found[f"low {n}"].vertex for n in range(count)], axis=0)
    high = combined([-found[f"high {n}"].vertex for n in range(count)], axis=0)
    nominal = np.where(typical.solved, judged.value, np.nan)
    if _is_distance(judged):
        low = np.maximum(low, 0.0)
    return [
        _at(float(n), float(least), float(most), float(limit), at_most)
        for n, least, most, limit in zip(nominal, low, high, judged.limit, strict=True)
    ]


def _is_at_most(answer: Answer) -> bool:
    """Whether the limit is an upper one."""
    above, below = answer.value - answer.limit, answer.limit - answer.value
    far = np.abs(answer.margin - above) >= np.abs(answer.margin - below)
    return bool(far[np.isfinite(answer.margin)].all())


def _sides(answer: Answer, at_most: bool) -> Sequence[Array]:
    """Values of which the value is the greatest, or the least where the limit is a lower one."""
    several = answer.margins or (answer.margin,)
    if not np.isfinite(answer.limit).all():
        return [answer.value]
    return [answer.limit - m if at_most else answer.limit + m for m in several]


def _is_distance(answer: Answer) -> bool:
    """Whether it is how far something is off, either way."""
    if len(answer.margins) != 2:
        return False
    one, other = _sides(answer, True)
    return bool(np.allclose(one, -other, equal_nan=True))


def _sought(asked: Asked, side: str, number: int, at_most: bool) -> Callable[[View], Answer]:
    """The question whose lowest margin is the least of a value, or the greatest."""

    def question(view: View) -> Answer:
        answer = asked.answer(view)
        value = _sides(answer, at_most)[number]
        value = np.where(np.isfinite(value), value, np.nan)
        return Answer(value if side == "low" else -value, value, np.zeros(value.shape))

    return question


def _at(nominal: float, low: float, high: float, limit: float, at_most: bool) -> Expected | str:
    if not np.isfinite([nominal, low, high]).all():
        return "not every lane over the spread could be solved"
    known = limit if np.isfinite(limit) else None
    return Expected(nominal, min(low, nominal), max(high, nominal), known, at_most)
