"""The extreme values of margins over points and spread: sought by effects, verified by solving.

For each question and point every quantity is moved to its farther limit by itself; the limit
that lowers the margin is kept, and the vertex that these limits make together is solved. At
the worst point the vertex is improved by turning single quantities over until none helps. A
margin that is the least of several is sought by each of them: a search by one alone may stop
beside a lower one. Then samples of the whole spread are solved at the worst points. A situation
whose lanes are dear says where to save (`Thrift`).

Extreme value analysis over vertices: ECSS-Q-HB-30-01A, worst case analysis (title only).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from railwright.surveys.operating_range import Points
from railwright.surveys.samples import distinct_rows, quasi_random
from railwright.surveys.situations import Situation, View
from railwright.surveys.spread import Quantity
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
CHUNK = 16384
TIE = 1e-9
"""Margins of points are equal that differ by no more than this share."""
AMPLE = 0.5
"""A question whose worst vertex leaves this share of its limit is sampled at one point alone."""
ALIKE = 0.01
"""Points are equally bad whose margins differ by no more than this share of their range."""
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
    margins: tuple[Array, ...] = ()
    """Those whose least the margin is, where it is one of several: to either side, say."""
    known: NDArray[np.bool_] | None = None
    """Lanes whose answer is known although they have no solution."""
    ample: Array | float = np.inf
    """A margin that is so great with typical parts at every point that no effects are sought."""

    def told(self, solved: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Lanes whose answer counts."""
        return solved if self.known is None else solved | self.known

    def of(self, side: int) -> Array:
        """One of the margins."""
        return self.margins[side] if self.margins else self.margin


Question = Callable[[View], Answer]


@dataclass(frozen=True)
class Extreme:
    """What was found for one question."""

    points: Points
    quantities: tuple[Quantity, ...]
    """What varied."""
    nominal: Array
    """Margin with typical parts (point,)."""
    vertex: Array
    """Margin at the extreme vertex of each point (point,)."""
    worst: int
    """The point of the lowest margin found."""
    margin: float
    value: float
    limit: float
    shares: Array
    """Share of each quantity in the variance of the margin at the worst point (quantity,)."""
    samples: Array
    """Margins (sampled point, sample), the point of the lowest vertex first."""
    unsolved: int
    """Lanes that could not be solved or judged."""
    unjudged: int
    """Of these the ones that were solved."""
    lanes: int
    """Lanes that this question was put to."""
    lane: View
    """The lane of the lowest margin found, by itself."""
    actual: Array
    """Its quantities (quantity,)."""


def explore(
    survey: Survey,
    situation: Situation,
    questions: Mapping[str, Question],
    seed: int,
    progress: Callable[[float], None] = lambda share: None,
) -> dict[str, Extreme]:
    """Extreme values of all questions that are put in one situation."""
    return _Exploration(survey, situation, questions, seed, progress).run()


class _Exploration:
    def __init__(
        self,
        survey: Survey,
        situation: Situation,
        questions: Mapping[str, Question],
        seed: int,
        progress: Callable[[float], None],
    ) -> None:
        self.survey = survey.within(situation.scope)
        self.roughly = self.survey.roughly()
        self.situation = situation
        self.thrift = situation.thrift_at(survey.depth)
        self.questions = dict(questions)
        most = survey.depth.samples
        self.samples = most if self.thrift.samples is None else min(most, self.thrift.samples)
        self.seed = seed
        self.progress = progress
        spread = self.survey.spread
        self.typical, self.low, self.high = spread.typical, spread.low, spread.high
        self.unsolved = dict.fromkeys(self.questions, 0)
        self.unjudged = dict.fromkeys(self.questions, 0)
        self.lanes = dict.fromkeys(self.questions, 0)
        self.drawn = spread.draw(quasi_random(self.typical.size, self.samples, seed))
        self.near = survey.once(situation.typical)
        self.points = self.near.points
        self.place = self.points.places()
        corner = np.isin(self.place, (0.0, 1.0)).all(axis=0)
        self.corners = np.flatnonzero(corner) if self.thrift.corners else np.empty(0, np.intp)

    def run(self) -> dict[str, Extreme]:
        """All the steps in turn."""
        answers = {name: self._ask(name, self.near) for name in self.questions}
        nominal = {name: answer.margin for name, answer in answers.items()}
        ways = {name: _ways(name, answer) for name, answer in answers.items()}
        effects = self._effects({n: a for n, a in answers.items() if self._is_close(a)})
        self.progress(0.4)
        sides = {way: self._sides(nominal[way.name], slopes) for way, slopes in effects.items()}
        reached = self._vertices(sides, answers)
        still = np.zeros((self.typical.size, self.points.count))
        for way in (way for several in ways.values() for way in several):
            answer = answers[way.name]
            own = np.where(answer.told(self.near.solved), answer.of(way.side), np.nan)
            if way not in effects:
                effects[way], sides[way], reached[way] = still, still.astype(np.int8), own
            lower = own < reached[way]  # effects may mislead where a margin jumps
            reached[way] = np.where(lower, own, reached[way])
            sides[way] = np.where(lower, 0, sides[way]).astype(np.int8)
        self.progress(0.5)
        turned = {}
        for way, margins in reached.items():
            point = _worst_point(margins)
            turned[way] = _Corner(point, sides[way][:, point], margins[point])
        self._turn(turned)
        best = {n: min(ways[n], key=lambda way: turned[way].rank) for n in ways}
        corners = {n: turned[way] for n, way in best.items()}
        vertex = {n: _lowest_of([reached[w] for w in ways[n]]) for n in ways}
        self.progress(0.6)
        most = {n: self._sampled_points(answers[n], v) for n, v in vertex.items()}
        sampled = _shared_worst(vertex, most)
        drawn = self._samples(sampled)
        lowest = {n: self._lowest(corners[n], sampled[n], drawn[n]) for n in self.questions}
        last = self._each(lowest)
        self.progress(1.0)
        return {
            name: Extreme(
                points=self.points,
                quantities=self.survey.spread.quantities,
                nominal=nominal[name],
                vertex=vertex[name],
                worst=lowest[name][0],
                margin=last[name].margin,
                value=last[name].value,
                limit=last[name].limit,
                shares=_shares(
                    effects[best[name]][:, corners[name].point] * (self.high - self.low)
                ),
                samples=drawn[name],
                unsolved=self.unsolved[name],
                unjudged=self.unjudged[name],
                lanes=self.lanes[name],
                lane=last[name].view,
                actual=lowest[name][1],
            )
            for name in self.questions
        }

    def _ask(self, name: str, view: View) -> Answer:
        answer = self.questions[name](view)
        margin = np.where(answer.told(view.solved), answer.margin, np.nan)
        self.unsolved[name] += int(np.isnan(margin).sum())
        self.unjudged[name] += int((view.solved & np.isnan(margin)).sum())
        self.lanes[name] += margin.size
        return replace(answer, margin=margin)

    def _view(self, points: Indices, actual: Array, survey: Survey | None = None) -> View:
        at, near = self.points.take(points), self.near.take(points)
        return self.situation.view(survey or self.survey, at, actual, near)

    def _effects(self, nominal: Mapping[str, Answer]) -> dict[_Way, Array]:
        """Slopes of all margins (quantity, point), each by one quantity at its farther limit.

        Not finite where the question or its answer changes its kind.
        """
        if not nominal:
            return {}
        size = self.typical.size
        ways = [way for name, answer in nominal.items() for way in _ways(name, answer)]
        anchors: dict[_Way, Indices] = {}
        looked = np.empty(0, np.intp)
        for way in ways:
            anchors[way] = self._anchors(nominal[way.name].of(way.side), looked)
            looked = np.union1d(looked, anchors[way])
        count = looked.size
        found = {way: np.empty((size, count)) for way in ways}
        upward = self.high - self.typical >= self.typical - self.low
        limit = np.where(upward, self.high, self.low)
        for which in _chunks(size, max(1, CHUNK // count)):
            actual = np.repeat(self.typical[:, None], which.size * count, axis=1)
            actual = actual.reshape(size, which.size, count)
            actual[which, np.arange(which.size)] = limit[which, None]
            view = self._moved(np.tile(looked, which.size), actual.reshape(size, -1))
            answers = {name: self.questions[name](view) for name in nominal}
            for way in ways:
                moved = answers[way.name].of(way.side).reshape(which.size, count)
                moved = np.where(view.solved.reshape(moved.shape), moved, np.nan)
                with np.errstate(invalid="ignore"):
                    change = moved - nominal[way.name].of(way.side)[looked]
                found[way][which] = change / (limit - self.typical)[which, None]
            for name in nominal:
                self.lanes[name] += view.points.count
        return {way: found[way][:, np.searchsorted(looked, anchors[way])] for way in ways}

    def _is_close(self, answer: Answer) -> bool:
        """Whether a margin with typical parts is too low to leave the effects unsought."""
        ample = answer.ample
        if np.isinf(ample).all():
            if np.isinf(self.thrift.enough):
                return True
            ample = self.thrift.enough * np.abs(answer.limit)
        return not bool(np.all(answer.margin >= ample))

    def _anchors(self, margins: Array, looked: Indices) -> Indices:
        """For each point the one whose effects count for it: the nearest that is looked at.

        Of equally bad points one that is looked at for another question is preferred.
        """
        known = np.isin(looked, np.flatnonzero(np.isfinite(margins)))
        preferred = margins.copy()
        near = TIE * np.abs(margins) if self.thrift.corners else ALIKE * _range(margins)
        preferred[looked[known]] -= np.broadcast_to(near, margins.shape)[looked[known]]
        worst = _worst_known(preferred, self.thrift.anchors)
        corners = self.corners[np.isfinite(margins[self.corners])]
        anchors = np.union1d(worst, corners) if worst.size else np.zeros(1, np.intp)
        apart = np.abs(self.place[:, :, None] - self.place[:, None, anchors]).sum(axis=0)
        nearest: Indices = anchors[np.argmin(apart, axis=1)]
        return nearest

    def _moved(self, points: Indices, actual: Array) -> View:
        return self._view(points, actual, self.roughly if self.thrift.estimated else None)

    def _sides(self, nominal: Array, slopes: Array) -> NDArray[np.int8]:
        """The limit (-1 low, 1 high, 0 typical) that lowers the margin (quantity, point)."""
        reach = np.where(
            slopes > 0,
            self.typical[:, None] - self.low[:, None],
            self.high[:, None] - self.typical[:, None],
        )
        drop = np.abs(np.where(np.isfinite(slopes), slopes, 0.0)) * reach
        matters = drop > NO_EFFECT * np.max(drop, axis=0, initial=0.0)
        upward = self.high - self.typical >= self.typical - self.low
        farther = np.where(upward, 1, -1)[:, None]
        unknown = ~np.isfinite(slopes) & ~np.isnan(nominal)
        known = np.where(matters, np.where(slopes > 0, -1, 1), 0)
        return np.where(unknown, farther, known).astype(np.int8)

    def _actual(self, sides: NDArray[np.int8]) -> Array:
        """Quantities at limits (quantity, lane)."""
        low, typical, high = (a[:, None] for a in (self.low, self.typical, self.high))
        return np.where(sides < 0, low, np.where(sides > 0, high, typical))

    def _vertices(
        self, sides: Mapping[_Way, NDArray[np.int8]], nominal: Mapping[str, Answer]
    ) -> dict[_Way, Array]:
        """Margin of each question at its own vertex of each point; equal vertices solved once."""
        if not sides:
            return {}
        margins = {way: nominal[way.name].of(way.side).copy() for way in sides}
        looked = [self._looked_into(margin) for margin in margins.values()]
        columns = np.concatenate(
            [side[:, where] for side, where in zip(sides.values(), looked, strict=True)], axis=1
        )
        points = np.concatenate(looked)
        unique, inverse = _unique_lanes(points, columns)
        owners = np.repeat(np.arange(len(sides)), [where.size for where in looked])
        for which in _chunks(unique.size, CHUNK):
            lanes = unique[which]
            view = self._view(points[lanes], self._actual(columns[:, lanes]))
            for number, way in enumerate(sides):
                mine = np.flatnonzero((owners == number) & np.isin(inverse, which))
                if mine.size:
                    place = inverse[mine] - which[0]
                    margins[way][points[mine]] = self._ask(way.name, view.take(place)).margin
        return margins

    def _looked_into(self, nominal: Array) -> Indices:
        """The points at which vertices are solved."""
        if self.thrift.vertices is None:
            return np.arange(nominal.size)
        return np.sort(_worst_known(nominal, self.thrift.vertices))

    def _sampled_points(self, answer: Answer, vertex: Array) -> int:
        """At how many of its worst points a question is put to samples."""
        if not self.samples:
            return 0
        worst = _worst_point(vertex)
        is_ample = vertex[worst] >= AMPLE * np.abs(answer.limit[worst]) > 0
        return 1 if is_ample else self.thrift.sampled

    def _samples(self, sampled: Mapping[str, Indices]) -> dict[str, Array]:
        """Margins (sampled point, sample) of each question at its own worst points."""
        margins = {n: np.empty((p.size, self.samples)) for n, p in sampled.items()}
        points = np.unique(np.concatenate([*sampled.values(), np.empty(0, np.intp)]))
        chunks = [points[which] for which in _chunks(points.size, 4)]
        work = partial(self._sampled, sampled)
        for done, answers in enumerate(map(work, chunks)):
            for name, row, margin in answers:
                margins[name][row] = margin
            self.progress(0.6 + 0.35 * (done + 1) / len(chunks))
        return margins

    def _sampled(
        self, sampled: Mapping[str, Indices], points: Indices
    ) -> list[tuple[str, int, Array]]:
        """Margins of all samples at some points: (question, its row, (sample,))."""
        lanes = np.repeat(points, self.samples)
        view = self._view(lanes, np.tile(self.drawn, points.size))
        found = []
        for name, wanted in sampled.items():
            for place, point in enumerate(points):
                for row in np.flatnonzero(wanted == point):
                    part = np.arange(place * self.samples, (place + 1) * self.samples)
                    margin = self._ask(name, view.take(part)).margin
                    found.append((name, int(row), margin))
        return found

    def _lowest(self, corner: _Corner, sampled: Indices, drawn: Array) -> tuple[int, Array]:
        """Point and quantities of the lowest margin: the turned vertex, or a sample below it."""
        margins = np.where(np.isnan(drawn), np.inf, drawn)
        bound = corner.margin if np.isfinite(corner.margin) else 0.0
        if margins.size and margins.min() < bound:
            row, sample = np.unravel_index(int(np.argmin(margins)), margins.shape)
            return int(sampled[row]), self.drawn[:, sample]
        return corner.point, self._actual(corner.sides[:, None])[:, 0]

    def _each(self, lowest: Mapping[str, tuple[int, Array]]) -> dict[str, _Lane]:
        """Every question at a place of its own."""
        points = np.array([point for point, _ in lowest.values()])
        view = self._view(points, np.stack([actual for _, actual in lowest.values()], axis=1))
        found = {}
        for lane, name in enumerate(lowest):
            own = view.take(np.array([lane]))
            answer = self._ask(name, own)
            value, limit = (np.ravel(a)[0] for a in (answer.value, answer.limit))
            found[name] = _Lane(own, float(answer.margin[0]), float(value), float(limit))
        return found

    def _turn(self, corners: dict[_Way, _Corner]) -> None:
        """Improve vertices by turning over single quantities, as long as that helps."""
        moving = [way for way, corner in corners.items() if np.isfinite(corner.margin)]
        for _ in range(self.thrift.turns):
            if not moving:
                return
            trials = {way: _single_turns(corners[way].sides) for way in moving}
            tried = self._margins_at(trials, corners)
            after = {}
            for way in moving:
                corner = corners[way]
                helps = np.flatnonzero(tried[way] < corner.margin - 1e-9 * abs(corner.margin))
                if helps.size:
                    best = trials[way][:, helps[np.argmin(tried[way][helps])]]
                    after[way] = np.stack(
                        [_together(corner.sides, trials[way][:, helps]), best], axis=1
                    )
            reached = self._margins_at(after, corners)
            moving = []
            for way, margins in reached.items():
                choice = int(np.argmin(np.where(np.isnan(margins), np.inf, margins)))
                if margins[choice] < corners[way].margin:
                    sides = after[way][:, choice]
                    corners[way] = _Corner(corners[way].point, sides, float(margins[choice]))
                    moving.append(way)

    def _margins_at(
        self, trials: Mapping[_Way, NDArray[np.int8]], corners: Mapping[_Way, _Corner]
    ) -> dict[_Way, Array]:
        """Margins of each question at vertices (quantity, trial) of its own worst point."""
        found: dict[_Way, Array] = {}
        ways = list(trials)
        per_view = max(1, CHUNK // (2 * self.typical.size + 1))
        for group in _chunks(len(ways), per_view):
            some = [ways[i] for i in group]
            points = np.concatenate([np.full(trials[w].shape[1], corners[w].point) for w in some])
            columns = np.concatenate([trials[w] for w in some], axis=1)
            view = self._view(points, self._actual(columns))
            first = 0
            for way in some:
                lanes = np.arange(first, first + trials[way].shape[1])
                found[way] = self._ask(way.name, view.take(lanes)).margin
                first += lanes.size
        return found


@dataclass(frozen=True)
class _Way:
    """A question, and which of its margins the search follows."""

    name: str
    side: int


def _ways(name: str, answer: Answer) -> list[_Way]:
    return [_Way(name, side) for side in range(len(answer.margins) or 1)]


@dataclass(frozen=True)
class _Lane:
    """A single lane, and what a question finds there."""

    view: View
    margin: float
    value: float
    limit: float


@dataclass(frozen=True)
class _Corner:
    """A vertex of the spread at a point, with the margin there."""

    point: int
    sides: NDArray[np.int8]
    margin: float

    @property
    def rank(self) -> float:
        """Its margin; an unknown one ranks between those that fall short and those that hold."""
        return 0.0 if np.isnan(self.margin) else self.margin


def _single_turns(sides: NDArray[np.int8]) -> NDArray[np.int8]:
    """Vertices (quantity, trial) that differ from one in a single quantity, either way."""
    own = np.arange(sides.size)
    turned = np.repeat(sides[:, None], sides.size, axis=1)
    turned[own, own] = np.where(sides == 0, 1, -sides)
    free = own[sides == 0]
    other = np.repeat(sides[:, None], free.size, axis=1)
    other[free, np.arange(free.size)] = -1
    return np.concatenate([turned, other], axis=1)


def _together(sides: NDArray[np.int8], turned: NDArray[np.int8]) -> NDArray[np.int8]:
    """All the turns of several vertices made in one."""
    result = sides.copy()
    for column in turned.T:
        changed = column != sides
        result[changed] = column[changed]
    return result


def _pessimistic(margin: Array) -> Array:
    """Margins with what is unknown as the worst."""
    return np.where(np.isnan(margin), -np.inf, margin)


def _worst_point(margins: Array) -> int:
    """The point of the lowest margin; an unknown one counts as lower than any that holds."""
    known = np.where(np.isnan(margins), np.inf, margins)
    return int(np.argmin(known if known.min() < 0 else _pessimistic(margins)))


def _lowest_of(margins: Sequence[Array]) -> Array:
    """The lowest margin of each point; not-a-number where one is unknown and none is below nil."""
    lowest = np.min([np.where(np.isnan(m), np.inf, m) for m in margins], axis=0)
    unknown = np.any(np.isnan(margins), axis=0)
    return np.where(unknown & (lowest >= 0), np.nan, lowest)


def _worst_known(margins: Array, most: int) -> Indices:
    """The points of the lowest margins, of those where a margin is known."""
    order = np.argsort(_pessimistic(margins))
    return order[~np.isnan(margins[order])][:most]


def _range(margins: Array) -> float:
    """How far known margins lie apart."""
    known = margins[np.isfinite(margins)]
    return float(np.ptp(known)) if known.size else 0.0


def _shared_worst(margins: Mapping[str, Array], most: Mapping[str, int]) -> dict[str, Indices]:
    """For each question its worst points; of nearly equal ones those that others look at, too."""
    found: dict[str, Indices] = {}
    looked: set[int] = set()
    for name, own in margins.items():
        worst = _worst_known(own, own.size)
        last = _pessimistic(own)[worst[: most[name]]].max(initial=-np.inf)
        near = worst[_pessimistic(own)[worst] <= last + ALIKE * _range(own)]
        rest = sorted(near[1:].tolist(), key=lambda point: point not in looked)
        found[name] = np.array([*near[:1].tolist(), *rest][: most[name]], np.intp)
        looked.update(found[name].tolist())
    return found


def _shares(spans: Array) -> Array:
    """Shares of the quantities in the variance of a margin, from what each moves it."""
    squares = np.where(np.isfinite(spans), spans, 0.0) ** 2
    total = squares.sum()
    return squares / total if total > 0 else squares


def _chunks(count: int, size: int) -> Iterator[Indices]:
    for first in range(0, count, size):
        yield np.arange(first, min(first + size, count))


def _unique_lanes(points: Indices, columns: NDArray[np.int8]) -> tuple[Indices, Indices]:
    """First lane of each distinct (point, vertex), and for each lane the number of its like."""
    return distinct_rows(
        np.concatenate([points[:, None].astype(np.int32).view(np.int8), columns.T], axis=1)
    )
