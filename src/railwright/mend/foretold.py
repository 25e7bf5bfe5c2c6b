"""What the supply on the bench will do by what was read on it, closer than the design could say.

A design file holds limits of values, and at best what goes in proportion. What readings tell of a
product, such as a shunt times a gain, has no place in it; here it counts: a quantity is least and
greatest over everything that no reading contradicts, sought along straight lines and solved there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from railwright.bench.expected import Asked, Expected, expected, points_of
from railwright.bench.reading import At
from railwright.checks import every
from railwright.mend.learn import STEP, Learning
from railwright.prove.run import looked_past
from railwright.quantity import show
from railwright.surveys.fixture import Fixture
from railwright.surveys.mains import as_fed
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
FORETOLD = {
    "overload.acts": "trips at",
    "overload.limit-acts": "is limited to",
    "output.range-top": "goes up to",
    "output.range-bottom": "goes down to",
    "output.accuracy": "is off by",
    "output.load-regulation": "moves under load by",
}
"""Questions of the proof whose values a person wants to know beforehand, and how they are told."""
CLOSER = 0.8
"""Of what the design leaves open: what is no closer is not told."""


@dataclass(frozen=True)
class Foretold:
    """One value of a rail, by the design alone and by the readings."""

    id: str
    rail: str
    unit: str
    designed: Expected
    low: float
    likely: float
    high: float

    @property
    def words(self) -> str:
        """What it is, as "main trips at"."""
        return f"{self.rail} {FORETOLD[self.id]}"


def foretold(learning: Learning) -> list[Foretold]:
    """What is known closer than by the design: at full setting and load, nominal input, 25 °C."""
    survey = looked_past(Survey(Fixture.of(learning.built.design)))
    if survey.spread.quantities != learning.built.spread.quantities:
        return []  # a fault of wiring is looked past: it is another circuit
    found = []
    for check in every():
        if check.id not in FORETOLD:
            continue
        for rail in check.subjects(survey):
            situation = as_fed(survey, check.situation)
            if check.missing(survey, rail) or not situation.applies(survey):
                continue
            asked = Asked(situation, partial(check.answer, subject=rail))
            told = _Told(learning, survey, asked, rail).told()
            if told is not None:
                designed, low, likely, high = told
                unit = check.unit_of(survey, rail)
                found.append(Foretold(check.id, rail, unit, designed, low, likely, high))
    return found


@dataclass
class _Told:
    learning: Learning
    survey: Survey
    asked: Asked
    rail: str

    def __post_init__(self) -> None:
        axes = self.survey.range
        self.at = At(
            setting=float(axes.settings[self.rail][-1]), load=float(axes.loads[self.rail][-1])
        )
        self.size = self.learning.built.spread.size
        self.here = self.learning.likely[: self.size]

    def told(self) -> tuple[Expected, float, float, float] | None:
        """By the design, and least, likely and greatest by the readings; None where it is not
        known, or no closer."""
        (designed,) = expected(self.survey, self.asked, self.rail, [self.at])
        if isinstance(designed, str):
            return None
        slopes = self._slopes()
        ends = np.column_stack([self._end(slopes), self._end(-slopes), self.here])
        low, high, likely = (float(value) for value in self._solved(ends))
        along = [likely + float(slopes @ (end - self.here)) for end in ends.T[:2]]
        least, most = min(low, along[0], likely), max(high, along[1], likely)
        if not np.isfinite([least, most]).all():
            return None
        if most - least > CLOSER * (designed.high - designed.low):
            return None
        return designed, max(least, designed.low), likely, min(most, designed.high)

    def _slopes(self) -> Array:
        """How far the quantity moves as each part's value goes from the middle to its limit."""
        up, down = np.minimum(self.here + STEP, 1.0), np.maximum(self.here - STEP, -1.0)
        each = np.arange(self.size)
        lanes = np.repeat(self.here[:, None], 2 * self.size, axis=1)
        lanes[each, each], lanes[each, self.size + each] = up, down
        found = self._solved(lanes)
        return np.asarray((found[: self.size] - found[self.size :]) / (up - down))

    def _end(self, slopes: Array) -> Array:
        """Where the quantity is least, of everything that no reading contradicts."""
        if not np.isfinite(slopes).all():
            return np.full(self.size, np.nan)
        place = np.where(slopes > 0.0, -1.0, 1.0)
        place[slopes == 0.0] = self.here[slopes == 0.0]
        active = self.learning.active
        weights = np.zeros(active.size)
        parts = active < self.size
        weights[parts] = slopes[active[parts]]
        place[active[parts]] = self.learning.feasible.end(weights)[parts]
        return place

    def _solved(self, places: Array) -> Array:
        """The quantity (lane,) with part values at places (quantity, lane)."""
        count = places.shape[1]
        whole = np.repeat(self.learning.likely[:, None], count, axis=1)
        whole[: self.size] = places
        actual = self.learning.unknowns(whole)[: self.size]
        points = points_of(self.survey, self.rail, [self.at] * count)
        view = self.asked.situation.view(self.survey, points, actual, None)
        return np.where(view.solved, self.asked.answer(view).value, np.nan)


def lines(found: Sequence[Foretold]) -> list[str]:
    """Each in a sentence."""
    return [
        f"{each.words} {show(each.likely, each.unit, 3)}: {show(each.low, each.unit, 4)} to "
        f"{show(each.high, each.unit, 4)}, where the design leaves "
        f"{show(each.designed.low, each.unit, 4)} to {show(each.designed.high, each.unit, 4)}"
        for each in found
    ]
