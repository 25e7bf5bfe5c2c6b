"""The extreme values of margins over points and spread: sought by effects, verified by solving.

For each question and point every quantity is moved to both its limits by itself; the limit
that lowers the margin is kept, and the vertex that these limits make together is solved. At
the worst point the vertex is improved by turning single quantities over until none helps.
Then samples of the whole spread are solved at the worst points.

Extreme value analysis over vertices: ECSS-Q-HB-30-01A, worst case analysis (title only).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.surveys.operating_range import Points
from railwright.surveys.samples import quasi_random
from railwright.surveys.situations import Situation, View
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
CHUNK = 16384
WORST_POINTS = 8
TURNS = 3
"""Rounds of turning single quantities over at the worst vertex."""
NO_EFFECT = 1e-12
"""Effects below this share of the largest one are none."""


@dataclass(frozen=True)
class Answer:
    """A question's answer in lanes: margin (positive is good), value and limit.

    Not-a-number where it could not be found out; infinite margin where it is not asked.
    """

    margin: Array
    value: Array
    limit: Array


Question = Callable[[View], Answer]


@dataclass(frozen=True)
class Extreme:
    """What was found for one question."""

    points: Points
    nominal: Array
    """Margin with typical parts (point,)."""
    vertex: Array
    """Margin at the extreme vertex of each point (point,)."""
    worst: int
    """The point of the lowest margin found."""
    margin: float
    value: float
    limit: float
    actual: Array
    """Quantities (quantity,) of the lowest margin found."""
    shares: Array
    """Share of each quantity in the variance of the margin at the worst point (quantity,)."""
    sampled: Indices
    """The points where samples were solved."""
    samples: Array
    """Margins (sampled point, sample)."""
    unsolved: int
    """Lanes that could not be solved or judged."""
    lanes: int
    """Lanes that this question was put to."""


def explore(
    survey: Survey,
    situation: Situation,
    questions: Mapping[str, Question],
    samples: int,
    seed: int,
    progress: Callable[[float], None] = lambda share: None,
) -> dict[str, Extreme]:
    """Extreme values of all questions that are put in one situation."""
    return _Exploration(survey, situation, questions, samples, seed, progress).run()


class _Exploration:
    def __init__(
        self,
        survey: Survey,
        situation: Situation,
        questions: Mapping[str, Question],
        samples: int,
        seed: int,
        progress: Callable[[float], None],
    ) -> None:
        self.survey = survey
        self.situation = situation
        self.questions = dict(questions)
        self.samples = samples
        self.seed = seed
        self.progress = progress
        self.points = situation.points(survey)
        self.typical = survey.spread.typical
        self.low, self.high = survey.spread.low, survey.spread.high
        self.unsolved = dict.fromkeys(self.questions, 0)
        self.lanes = dict.fromkeys(self.questions, 0)
        self.near = situation.view(survey, self.points, survey.typical(self.points.count), None)

    def run(self) -> dict[str, Extreme]:
        """All the steps in turn."""
        nominal = {name: self._ask(name, self.near).margin for name in self.questions}
        effects = self._effects()
        self.progress(0.4)
        sides = {name: self._sides(nominal[name], effects[name]) for name in self.questions}
        vertex = self._vertices(sides)
        self.progress(0.6)
        found = {}
        sampled = {n: np.argsort(_pessimistic(v))[:WORST_POINTS] for n, v in vertex.items()}
        drawn = self._samples(sampled)
        for name in self.questions:
            found[name] = self._result(
                name,
                nominal[name],
                vertex[name],
                sides[name],
                effects[name],
                sampled[name],
                drawn[name],
            )
        self.progress(1.0)
        return found

    def _ask(self, name: str, view: View) -> Answer:
        answer = self.questions[name](view)
        solved = view.solved
        margin = np.where(solved, answer.margin, np.nan)
        self.unsolved[name] += int(np.isnan(margin).sum())
        self.lanes[name] += margin.size
        return Answer(margin, answer.value, answer.limit)

    def _view(self, points: Indices, actual: Array) -> View:
        return self.situation.view(
            self.survey, self.points.take(points), actual, self.near.take(points)
        )

    def _effects(self) -> dict[str, Array]:
        """Margins (quantity, side, point) with one quantity at a limit, the others typical."""
        count, size = self.points.count, self.typical.size
        found = {name: np.empty((size, 2, count)) for name in self.questions}
        for which in _chunks(size, max(1, CHUNK // (2 * count))):
            actual = np.repeat(self.typical[:, None], which.size * 2 * count, axis=1)
            actual = actual.reshape(size, which.size, 2, count)
            for place, quantity in enumerate(which):
                actual[quantity, place, 0] = self.low[quantity]
                actual[quantity, place, 1] = self.high[quantity]
            points = np.tile(np.arange(count), which.size * 2)
            view = self._view(points, actual.reshape(size, -1))
            for name in self.questions:
                margin = self._ask(name, view).margin
                found[name][which] = margin.reshape(which.size, 2, count)
        return found

    def _sides(self, nominal: Array, effects: Array) -> NDArray[np.int8]:
        """The limit (-1 low, 1 high, 0 typical) that lowers the margin (quantity, point)."""
        low, high = (_pessimistic(effects[:, side]) for side in (0, 1))
        base = _pessimistic(nominal)
        finite = np.isfinite(low) & np.isfinite(high) & np.isfinite(base)
        drop = np.where(finite, np.maximum(base - low, base - high), 0.0)
        matters = drop > NO_EFFECT * np.max(drop, axis=0, initial=0.0)
        worse = np.where(low < high, -1, 1)
        unknown = ~finite & ((low < base) | (high < base))
        return np.where(matters | unknown, worse, 0).astype(np.int8)

    def _actual(self, sides: NDArray[np.int8]) -> Array:
        """Quantities at limits (quantity, lane)."""
        low, typical, high = (a[:, None] for a in (self.low, self.typical, self.high))
        return np.where(sides < 0, low, np.where(sides > 0, high, typical))

    def _vertices(self, sides: Mapping[str, NDArray[np.int8]]) -> dict[str, Array]:
        """Margin of each question at its own vertex of each point; equal vertices solved once."""
        if not sides:
            return {}
        count = self.points.count
        columns = np.concatenate(list(sides.values()), axis=1)
        points = np.tile(np.arange(count), len(sides))
        unique, inverse = _unique_lanes(points, columns)
        margins = {name: np.empty(count) for name in sides}
        owners = np.repeat(np.arange(len(sides)), count)
        for which in _chunks(unique.size, CHUNK):
            lanes = unique[which]
            view = self._view(points[lanes], self._actual(columns[:, lanes]))
            for number, name in enumerate(sides):
                mine = np.flatnonzero((owners == number) & np.isin(inverse, which))
                if mine.size:
                    place = inverse[mine] - which[0]
                    margins[name][points[mine]] = self._ask(name, view.take(place)).margin
        return margins

    def _samples(self, sampled: Mapping[str, Indices]) -> dict[str, Array]:
        """Margins (sampled point, sample) of each question at its own worst points."""
        drawn = self.survey.spread.draw(quasi_random(self.typical.size, self.samples, self.seed))
        margins = {n: np.empty((p.size, self.samples)) for n, p in sampled.items()}
        points = np.unique(np.concatenate([*sampled.values(), np.empty(0, np.intp)]))
        for done, which in enumerate(chunks := list(_chunks(points.size, 4))):
            lanes = np.repeat(points[which], self.samples)
            view = self._view(lanes, np.tile(drawn, which.size))
            for name, wanted in sampled.items():
                for place, point in enumerate(points[which]):
                    row = np.flatnonzero(wanted == point)
                    if row.size:
                        part = np.arange(place * self.samples, (place + 1) * self.samples)
                        margins[name][row[0]] = self._ask(name, view.take(part)).margin
            self.progress(0.6 + 0.35 * (done + 1) / len(chunks))
        return margins

    def _result(
        self,
        name: str,
        nominal: Array,
        vertex: Array,
        sides: NDArray[np.int8],
        effects: Array,
        sampled: Indices,
        drawn: Array,
    ) -> Extreme:
        worst = int(np.argmin(_pessimistic(vertex)))
        turned = self._turned(name, worst, sides[:, worst], vertex[worst])
        actual = self._actual(turned[:, None])[:, 0]
        low = _pessimistic(drawn)
        if low.size and low.min() < _pessimistic(vertex).min() and np.isfinite(low.min()):
            row, sample = np.unravel_index(int(np.argmin(low)), low.shape)
            uniform = quasi_random(self.typical.size, self.samples, self.seed)
            candidate = self.survey.spread.draw(uniform)[:, sample]
            at_sample = self._at(name, int(sampled[row]), candidate)
            if at_sample[0] < self._at(name, worst, actual)[0]:
                worst, actual = int(sampled[row]), candidate
        margin, value, limit = self._at(name, worst, actual)
        return Extreme(
            self.points,
            nominal,
            vertex,
            worst,
            margin,
            value,
            limit,
            actual,
            _shares(effects[:, :, worst]),
            sampled,
            drawn,
            self.unsolved[name],
            self.lanes[name],
        )

    def _at(self, name: str, point: int, actual: Array) -> tuple[float, float, float]:
        view = self._view(np.array([point]), actual[:, None])
        answer = self._ask(name, view)
        value, limit = (
            np.broadcast_to(a, answer.margin.shape)[0] for a in (answer.value, answer.limit)
        )
        return float(answer.margin[0]), float(value), float(limit)

    def _turned(
        self, name: str, point: int, sides: NDArray[np.int8], margin: float
    ) -> NDArray[np.int8]:
        """The vertex improved by turning over single quantities, as long as that helps."""
        size = self.typical.size
        if not np.isfinite(margin):
            return sides
        for _ in range(TURNS):
            trial = np.repeat(sides[:, None], size, axis=1)
            own = np.arange(size)
            trial[own, own] = np.where(sides == 0, 1, -sides)
            both = np.concatenate([trial, trial], axis=1)
            both[own[sides == 0], size + own[sides == 0]] = -1
            view = self._view(np.full(2 * size, point), self._actual(both))
            tried = self._ask(name, view).margin
            helps = np.flatnonzero(tried < margin - 1e-9 * abs(margin))
            if not helps.size:
                break
            together = sides.copy()
            for lane in helps:
                together[lane % size] = both[lane % size, lane]
            best = both[:, helps[np.argmin(tried[helps])]]
            view = self._view(np.full(2, point), self._actual(np.stack([together, best], axis=1)))
            after = self._ask(name, view).margin
            choice = int(np.argmin(_pessimistic(after)))
            if not after[choice] < margin:
                break
            sides, margin = (together, best)[choice], float(after[choice])
        return sides


def _pessimistic(margin: Array) -> Array:
    """Margins with what is unknown as the worst."""
    return np.where(np.isnan(margin), -np.inf, margin)


def _shares(effects: Array) -> Array:
    """Shares of the quantities in the variance of a margin, from its values at their limits."""
    span = np.nan_to_num(effects[:, 1] - effects[:, 0], posinf=0.0, neginf=0.0) ** 2
    total = span.sum()
    return span / total if total > 0 else span


def _chunks(count: int, size: int) -> Iterator[Indices]:
    for first in range(0, count, size):
        yield np.arange(first, min(first + size, count))


def _unique_lanes(points: Indices, columns: NDArray[np.int8]) -> tuple[Indices, Indices]:
    """First lane of each distinct (point, vertex), and for each lane the number of its like."""
    rows = np.ascontiguousarray(
        np.concatenate([points[:, None].astype(np.int32).view(np.int8), columns.T], axis=1)
    )
    keys = rows.view([("", np.void, rows.shape[1])]).ravel()
    _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
    return first, inverse.ravel()


def yields(margins: Sequence[Array]) -> tuple[int, int]:
    """Samples with a positive margin and samples judged, over one set of margins."""
    flat = np.concatenate([np.ravel(m) for m in margins])
    return int((flat >= 0).sum()), int(flat.size)
