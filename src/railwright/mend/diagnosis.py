"""Which suspects explain what was read, and which reading would tell most.

Every suspect is solved with the spread of the healthy parts: so readings have a mean and a spread
under each, taken as normal, and the meter's error comes on top. Bayes' rule does the rest. What no
allowed reading tells apart is named as a group. The next reading is the one whose outcome is
expected to say most about which suspect it is (mutual information; Lindley, On a Measure of the
Information Provided by an Experiment, 1956).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import Meter, Place, Reading
from railwright.circuit.design import Design
from railwright.engine.model import Model, Name, chosen
from railwright.engine.operating_point import Reach, operating_point
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import State
from railwright.surveys.fault_modes import changed
from railwright.surveys.samples import quasi_random
from railwright.surveys.single_faults import value_before
from railwright.surveys.stages import Bench
from railwright.surveys.states import settle
from railwright.surveys.suspects import METER, NOTHING, Suspect, suspects_of

Array = NDArray[np.float64]
SAMPLES = 32
"""Of the spread of the healthy parts, under each suspect."""
OFF = 0.1
"""Share by which a meter that is wrong may be off."""
LEAST_SIGMA = 1e-3
"""V or A at 1 mA full scale below which nothing is told apart."""
SURPRISE = 0.01
"""Share of readings that nothing here explains: a slip of the pen, a bad contact."""
WIDE = 3.0
"""Times the greatest reading over which such a one may lie."""
FEW = 8
"""Samples that have to be solved for a suspect to be judged by them."""
ALIKE = 2.0
"""Standard deviations within which no reading tells two suspects apart."""
CONSIDERED = 40
"""Suspects among which the next reading is sought, the likeliest."""
UNLIKELY = 1e-3


@dataclass(frozen=True)
class Ranked:
    """A suspect with its probability after all readings."""

    suspect: Suspect
    probability: float


@dataclass(frozen=True)
class Diagnosis:
    """What is suspected, and what to read next."""

    ranked: tuple[Ranked, ...]
    """The likeliest first."""
    group: tuple[Suspect, ...]
    """The first of them, and all that no reading in reach tells from it."""
    next: Place | None
    """Where the next reading tells most; None where none tells anything."""
    information: float
    """That it is expected to bring [bit]."""
    unjudged: int
    """Suspects without enough solutions to be judged."""

    @property
    def is_fault(self) -> bool:
        """Whether something is likelier than that nothing is wrong."""
        return self.ranked[0].suspect.words != NOTHING


class Finder:
    """A built supply, or a part of one, with everything that may be wrong in it."""

    def __init__(self, design: Design, fitted: Sequence[str] = (), seed: int = 1) -> None:
        """fitted: refs of the parts that are in it; all where empty."""
        refs = tuple(fitted) or tuple(part.ref for part in design.circuit.parts)
        bare = Bench(design, refs, refs)
        nets = _readable(bare)
        self.bench = Bench(design, refs, refs, nets)
        found = suspects_of(self.bench.circuit, self.bench.model.topology, self.bench.spread)
        self.suspects = found.several
        self.model = Model(found.topology, self.bench.model.nominal)
        self.places = (
            *(Place("current", s.pins["plus"], s.pins["minus"]) for s in self.bench.sources),
            *(Place("voltage", net, self.bench.common) for net in nets),
        )
        self.predicted = self._predictions(seed)
        """What is read (suspect, place, sample); not-a-number where a lane has no solution."""

    def _predictions(self, seed: int) -> Array:
        spread = self.bench.spread
        draws = spread.draw(quasi_random(spread.size, SAMPLES, seed))
        lanes = self.bench.lanes(draws) | self.bench.metered(np.full(SAMPLES, -1))
        # Meters everywhere: a loose net is read as the meter leaves it.
        lanes |= dict.fromkeys(self.bench.metered(np.zeros(1, np.intp)), 10000000.0)
        count = len(self.suspects)
        rows = np.full((count, len(self.places), SAMPLES), np.nan)
        sound = settle(self._engine, lanes, SAMPLES, self._working())
        if not sound.solved.any():
            return rows
        again = np.tile(np.arange(SAMPLES), count)
        wide = chosen(_spread_out(lanes), again)
        variants = [suspect.changes for suspect in self.suspects]
        wide |= changed(partial(value_before, self.model, lanes), variants, SAMPLES)
        found = self._engine(wide, count * SAMPLES, sound.take(again))
        for place in range(len(self.places)):
            rows[:, place] = self._read(found, place).reshape(count, SAMPLES)
        return rows

    def _working(self) -> State:
        """The state of its two-state parts in which most is alive: as switched on."""

        def alive(found: tuple[State, OperatingPoints, int]) -> float:
            _, at, lane = found
            black = at.potential(self.bench.common)[lane]
            return float(sum(abs(at.potential(net)[lane] - black) for net in self.bench.read))

        stable = self.bench.states().found
        return max(stable, key=alive)[0] if stable else {}

    def _engine(
        self,
        lanes: Mapping[Name, Array | float],
        count: int,
        start: OperatingPoints | None = None,
        reach: Reach = "all",
    ) -> OperatingPoints:
        return operating_point(self.model, lanes, count, start, None, reach)

    def _read(self, at: OperatingPoints, place: int) -> Array:
        sources = self.bench.sources
        if place < len(sources):
            return at.of(sources[place].ref, "current")
        black = at.potential(self.bench.common)
        return at.potential(self.places[place].red) - black

    def diagnose(self, readings: Sequence[Reading], meter: Meter) -> Diagnosis:
        """What readings say; those of places that are not known here are left out."""
        known = {r.place: r for r in readings if r.place in self.places}
        means, covariances, judged = self._moments()
        log = np.log([suspect.weight for suspect in self.suspects])
        if known:
            which = np.array([self.places.index(place) for place in known], np.intp)
            values = np.array([r.value for r in known.values()])
            errors = np.array([max(r.error / np.sqrt(3.0), LEAST_SIGMA) for r in known.values()])
            log = log + np.array(
                [
                    _fit(values, errors, means[k][which], covariances[k][np.ix_(which, which)])
                    if judged[k]
                    else np.log(SURPRISE)
                    for k in range(len(self.suspects))
                ]
            )
        chance = np.exp(log - log.max())
        chance /= chance.sum()
        order = np.argsort(-chance)
        ranked = tuple(Ranked(self.suspects[k], float(chance[k])) for k in order)
        open_ = [i for i, place in enumerate(self.places) if place not in known]
        best, bits = self._next(chance, means, covariances, judged, open_, meter)
        return Diagnosis(
            ranked,
            self._group(int(order[0]), means, covariances, judged, meter),
            None if best is None else self.places[best],
            bits,
            int((~judged).sum()),
        )

    def _moments(self) -> tuple[Array, Array, NDArray[np.bool_]]:
        """Means (suspect, place), covariances (suspect, place, place), and who is judged."""
        count, places = len(self.suspects), len(self.places)
        means, covariances = np.zeros((count, places)), np.zeros((count, places, places))
        judged = np.zeros(count, bool)
        factors = 1.0 + OFF * np.linspace(-1.0, 1.0, SAMPLES)
        for k, suspect in enumerate(self.suspects):
            rows = self.predicted[k]
            if suspect.words == METER:
                rows = rows * factors
            good = rows[:, np.isfinite(rows).all(axis=0)]
            if good.shape[1] >= FEW:
                judged[k] = True
                means[k] = good.mean(axis=1)
                covariances[k] = np.atleast_2d(np.cov(good))
        return means, covariances, judged

    def _group(
        self,
        first: int,
        means: Array,
        covariances: Array,
        judged: NDArray[np.bool_],
        meter: Meter,
    ) -> tuple[Suspect, ...]:
        """Suspects of which every place reads about the same as of one."""
        found: list[Suspect] = []
        for k in range(len(self.suspects)):
            if k == first:
                found.insert(0, self.suspects[k])
                continue
            if not (judged[k] and judged[first]):
                continue
            spread = np.sqrt(
                np.diag(covariances[k])
                + np.diag(covariances[first])
                + 2.0 * self._noise(means[k], meter)
            )
            if (np.abs(means[k] - means[first]) < ALIKE * spread).all():
                found.append(self.suspects[k])
        return tuple(found)

    def _noise(self, values: Array, meter: Meter) -> Array:
        """Variances of the meter's own error at values."""
        errors = np.array([meter.error(float(v)) for v in values]) / np.sqrt(3.0)
        return np.asarray(np.maximum(errors, LEAST_SIGMA) ** 2, float)

    def _next(
        self,
        chance: Array,
        means: Array,
        covariances: Array,
        judged: NDArray[np.bool_],
        open_: Sequence[int],
        meter: Meter,
    ) -> tuple[int | None, float]:
        """The place whose reading is expected to tell most, and how much [bit]."""
        order = np.argsort(-chance)[:CONSIDERED]
        likely = order[judged[order] & (chance[order] > UNLIKELY)]
        if likely.size < 2:
            return None, 0.0
        weight = chance[likely] / chance[likely].sum()
        told = []
        for place in open_:
            mean = means[likely, place]
            sigma = np.sqrt(covariances[likely, place, place] + self._noise(mean, meter))
            told.append((_information(weight, mean, sigma), place))
        bits, best = max(told, default=(0.0, None))
        return (best, bits) if bits > UNLIKELY else (None, 0.0)


def _readable(bench: Bench) -> tuple[str, ...]:
    """Every electrical net but the common one and those that jump."""
    jumping = {
        net
        for part in bench.circuit.parts
        for pin, net in part.pins.items()
        if part.device.pins[pin].role == "switch"
    }
    return tuple(net for net in bench.circuit.nets if net != bench.common and net not in jumping)


def _spread_out(lanes: Mapping[Name, Array | float]) -> dict[Name, Array | float]:
    return {n: np.broadcast_to(np.asarray(v, float), (SAMPLES,)) for n, v in lanes.items()}


def _fit(values: Array, errors: Array, mean: Array, covariance: Array) -> float:
    """Logarithm of how well readings fit a normal prediction, surprises allowed for."""
    both = covariance + np.diag(errors**2)
    away = values - mean
    _, size = np.linalg.slogdet(both)
    fits = -0.5 * float(away @ np.linalg.solve(both, away)) - 0.5 * size
    fits -= 0.5 * values.size * np.log(2.0 * np.pi)
    span = WIDE * max(float(np.abs(values).max()), 1.0)
    anything = -values.size * np.log(span)
    return float(np.logaddexp(np.log1p(-SURPRISE) + fits, np.log(SURPRISE) + anything))


_NODES, _SHARES = np.polynomial.hermite_e.hermegauss(9)


def _information(weight: Array, mean: Array, sigma: Array) -> float:
    """Mutual information of which suspect it is and a reading, of normal predictions [bit]."""
    values = mean[:, None] + sigma[:, None] * _NODES
    apart = (values[:, :, None] - mean) / sigma
    density = np.exp(-0.5 * apart**2) / sigma
    own = np.exp(-0.5 * _NODES**2)[None, :] / sigma[:, None]
    mixed = density @ weight
    shares = _SHARES / _SHARES.sum()
    told = weight @ (np.log2(own / np.maximum(mixed, 1e-300)) @ shares)
    return max(0.0, float(told))
