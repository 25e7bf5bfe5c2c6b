"""How well every suspect explains readings, and what it expects of those that are not taken yet.

Each suspect has ways in which it may be so: its variants, and steps between two of them. Over the
spread of the healthy parts the readings of a way are taken as normal, and the meter's error comes
on top. Given some readings, the others are expected by regression on them: what a healthy part's
spread has moved here it has moved there as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import Meter, Place, Reading
from railwright.mend.predicted import Round
from railwright.surveys.suspects import METER, Variant

Array = NDArray[np.float64]
Which = NDArray[np.intp]
BETWEEN = 3
"""Steps between two variants of a suspect."""
OFF = (0.85, 0.88, 0.91, 0.94, 0.96, 0.975, 1.025, 1.04, 1.06, 1.09, 1.12, 1.15)
"""Factors by which a meter that is wrong may be off."""
FLOORS = {"V": 1e-3, "A": 1e-4, "Ω": 0.3}
"""Errors below which nothing is told apart [unit of the reading]."""
SMALL = 1.0
"""Ω that is added to resistances before their logarithm is taken: contacts and leads."""
SURPRISE = 0.003
"""Share of readings that nothing here explains: a slip of the pen, a bad contact."""
WIDE = 3.0
"""Times the greatest reading over which such a one may lie."""
FEW, ENOUGH = 2, 10
"""Samples that have to be solved for a way to be judged by them, and that tell its spread."""
ROUGH, ROUGH_FLOOR = 0.03, 5e-3
"""What a reading is off besides, as a share and in its unit, where they do not."""
GAP, LEAST_GAP = 4.0, 0.1
"""Times the spread on either side of it, and times the scale of a place, by which samples are apart
that are in different states."""
MOST_MODES = 3
ROUNDING = 1e-12
"""Decades; the end of a range belongs to the next one."""
EXPECTED = 64
"""Ways of which it is worked out what they expect, the likeliest."""


@dataclass(frozen=True)
class Expected:
    """What the likeliest ways expect of every place, given the readings."""

    ways: Which
    """Numbers of the ways."""
    weight: Array
    """Their probabilities (way), adding up to one."""
    mean: Array
    """(way, place); not-a-number where it is not known."""
    sigma: Array
    """Standard deviations, without the meter's (way, place)."""


class Ways:
    """Every way in which any suspect may be so, with what it reads (way, place, sample)."""

    def __init__(self, found: Round) -> None:
        rows = on_scale(found.rows[:, :, :-1], found.supply.places, 1)
        self.of: list[tuple[int, Variant]] = []
        """Suspect and variant of each way: of a step between two the nearer one."""
        self.variant: list[int] = []
        """Number of that variant in the round."""
        self._kept: list[Array] = []
        self._weights: list[float] = []
        scale = _scale(rows[0])
        for i, (number, variant) in enumerate(found.ways):
            if found.supply.suspects[number].words == METER:
                own = found.rows[i, :, :-1]
                for factor in OFF:
                    told = Variant((), words=f"factor {factor:.3g}")
                    read = on_scale(own * factor, found.supply.places, 0)
                    self._add(read, variant.weight / len(OFF), number, told, 0)
                continue
            if variant.weight or len(found.supply.suspects[number].variants) == 1:
                for part, share in _modes(rows[i], scale):
                    self._add(part, variant.weight * share, number, variant, i)
            if variant.onwards:
                for step in range(BETWEEN):
                    # Where in its step a value lies nobody knows: it has a spread of its own, that
                    # moves all readings together.
                    shares = (step + _within(rows.shape[2])) / BETWEEN
                    between = (1.0 - shares) * rows[i] + shares * rows[i + 1]
                    near = i if step + 0.5 < BETWEEN / 2 else i + 1
                    for part, own_share in _modes(between, scale):
                        weight = variant.onwards / BETWEEN * own_share
                        self._add(part, weight, number, found.ways[near][1], near)
        self.rows = np.array(self._kept)
        self.suspect = np.array([number for number, _ in self.of], np.intp)
        with np.errstate(divide="ignore"):
            self.log_weight = np.log(np.array(self._weights))

    def _add(self, rows: Array, weight: float, suspect: int, variant: Variant, number: int) -> None:
        self._kept.append(rows)
        self._weights.append(weight)
        self.of.append((suspect, variant))
        self.variant.append(number)

    @cached_property
    def finite(self) -> NDArray[np.bool_]:
        """What is known (way, place, sample)."""
        return np.asarray(np.isfinite(self.rows), bool)

    def moments(self, ways: Which, places: Which) -> tuple[Array, Array, Array]:
        """Means (way, place), covariances (way, place, place), and samples that tell (way)."""
        rows = self.rows[np.ix_(ways, places)]
        good = np.asarray(self.finite[np.ix_(ways, places)].all(axis=1))
        count = good.sum(axis=1)
        filled = np.where(good[:, None, :], rows, 0.0)
        mean = filled.sum(axis=2) / np.maximum(count, 1)[:, None]
        away = np.where(good[:, None, :], rows - mean[:, :, None], 0.0)
        covariance = away @ away.transpose(0, 2, 1) / np.maximum(count - 1, 1)[:, None, None]
        # Of so few samples the mean itself is off by some of it.
        covariance *= (1.0 + 1.0 / np.maximum(count, 1))[:, None, None]
        scarce = np.where(count < ENOUGH, ENOUGH / np.maximum(count, 1), 0.0)[:, None]
        more = scarce * ((ROUGH * mean) ** 2 + ROUGH_FLOOR**2)
        each = np.arange(places.size)
        covariance[:, each, each] += more
        return mean, covariance, count


def _within(samples: int) -> Array:
    """Evenly spread between nil and one, in an order of chance (sample)."""
    order = np.random.default_rng(1).permutation(samples)
    return np.asarray((order + 0.5) / samples, float)


def _scale(sound: Array) -> Array:
    """How far readings of a place are apart that are certainly different (place)."""
    return np.asarray(np.maximum(np.abs(np.nanmean(sound, axis=1)), 1.0) * LEAST_GAP, float)


def _modes(rows: Array, scale: Array, most: int = MOST_MODES) -> list[tuple[Array, float]]:
    """Samples (place, sample) by the states that the supply is in, each with its share.

    A part that just fires in some samples and not in others splits them in two: taken together as
    normal they would expect what no sample reads.
    """
    good = np.flatnonzero(np.isfinite(rows).all(axis=0))
    if most < 2 or good.size < 2:
        return [(rows, 1.0)]
    values = np.sort(rows[:, good], axis=1)
    gaps = np.diff(values, axis=1) / scale[:, None]
    place, cut = np.unravel_index(int(np.argmax(gaps)), gaps.shape)
    below, above = values[place, : cut + 1], values[place, cut + 1 :]
    inner = max(float(np.ptp(below)), float(np.ptp(above))) / 2.0
    gap = float(values[place, cut + 1] - values[place, cut])
    if gaps[place, cut] < 1.0 or gap < GAP * inner / np.sqrt(3.0):
        return [(rows, 1.0)]
    middle = values[place, cut] + gap / 2.0
    found: list[tuple[Array, float]] = []
    for side in (rows[place] < middle, rows[place] >= middle):
        own = np.where(side, rows, np.nan)
        share = float(np.isfinite(own[:, good]).all(axis=0).sum()) / good.size
        found += [(part, share * s) for part, s in _modes(own, scale, most - 1)]
    return found


def on_scale(values: Array, places: Sequence[Place], axis: int) -> Array:
    """Values as they are compared: resistances by their logarithms, whose spread spans decades."""
    ohmic = np.array([place.quantity == "resistance" for place in places])
    shape = [1] * values.ndim
    shape[axis] = len(places)
    scaled = np.log(np.maximum(values, 0.0) + SMALL)
    return np.where(ohmic.reshape(shape), scaled, values)


def noise(values: Array, places: Sequence[Place], meter: Meter) -> Array:
    """Variances of the meter's errors at values on their scale (..., place)."""
    errors = np.empty(values.shape)
    for index, place in enumerate(places):
        row = np.nan_to_num(values[..., index])
        if place.quantity == "resistance":
            row = np.exp(np.clip(row, 0.0, 20.0)) - SMALL
        own = _error(row, place, meter)
        errors[..., index] = own / (np.abs(row) + SMALL) if place.quantity == "resistance" else own
    return errors**2


def _error(values: Array, place: Place, meter: Meter) -> Array:
    """Standard deviations of errors at values in the unit of the place."""
    decades = np.ceil(np.log10(np.maximum(np.abs(values), 1e-12) / meter.range(0.0)) + ROUNDING)
    full = meter.range(0.0) * 10.0 ** np.maximum(decades, 0.0)
    own = (meter.share * np.abs(values) + meter.counts * full / meter.of) / np.sqrt(3.0)
    return np.asarray(np.maximum(own, FLOORS[place.unit]), float)


def _error_of(reading: Reading) -> float:
    """Standard deviation of a reading on its scale."""
    own = max(reading.error / math.sqrt(3.0), FLOORS[reading.place.unit])
    return own / (reading.value + SMALL) if reading.place.quantity == "resistance" else own


class Evidence:
    """What readings say of every way."""

    def __init__(self, ways: Ways, places: Sequence[Place], readings: Sequence[Reading]) -> None:
        """places: of what is read in `ways`; readings: of some of them, one each."""
        self.ways, self.places = ways, places
        self.read = np.array([places.index(r.place) for r in readings], np.intp)
        told = np.array([r.value for r in readings])
        self.values = on_scale(told, [r.place for r in readings], 0)
        self.errors = np.array([_error_of(r) for r in readings])
        everything = np.arange(len(ways.of))
        self.mean, covariance, self.count = ways.moments(everything, self.read)
        self.both = covariance + np.diag(self.errors**2)
        self.judged = self.count >= FEW
        self.log_fit = self._fits()

    def _fits(self) -> Array:
        """Logarithm of how well each way fits, surprises allowed for (way)."""
        size = self.read.size
        if not size:
            return np.zeros(len(self.ways.of))
        away = self.values - self.mean
        _, log_size = np.linalg.slogdet(self.both)
        weighed = np.linalg.solve(self.both, away[:, :, None])[:, :, 0]
        fits = -0.5 * (away * weighed).sum(axis=1) - 0.5 * log_size - 0.5 * size * np.log(2 * np.pi)
        fits = np.where(self.judged, fits, -np.inf)
        span = WIDE * np.maximum(np.abs(self.values), 1.0)
        anything = -np.log(span).sum()
        found: Array = np.logaddexp(np.log1p(-SURPRISE) + fits, np.log(SURPRISE) + anything)
        return found

    @cached_property
    def log_posterior(self) -> Array:
        """Logarithm of the probability of each way, up to a constant (way)."""
        found: Array = self.ways.log_weight + self.log_fit
        return found

    def of_suspects(self, count: int) -> tuple[Array, Array]:
        """Probabilities of suspects, and logarithms of how well they fit (suspect).

        These are up to a constant, and means over the ways of a suspect: one that fits by a single
        value out of many explains less than one that is so in no other way (marginal likelihood).
        """
        chance = np.exp(self.log_posterior - self.log_posterior.max())
        total = np.bincount(self.ways.suspect, chance, count)
        weight = np.bincount(self.ways.suspect, np.exp(self.ways.log_weight), count)
        with np.errstate(divide="ignore", invalid="ignore"):
            fit = np.log(total / weight)
        return total / total.sum(), np.where(weight > 0.0, fit, -np.inf)

    def best_way(self, suspect: int) -> int:
        """Number of a suspect's likeliest way."""
        own = np.flatnonzero(self.ways.suspect == suspect)
        return int(own[np.argmax(self.log_posterior[own])])

    def expected(self, ways: Which) -> Expected:
        """What these ways expect of every place."""
        everything = np.arange(len(self.places))
        chance = np.exp(self.log_posterior[ways] - self.log_posterior[ways].max())
        mean = np.full((ways.size, everything.size), np.nan)
        sigma = np.full((ways.size, everything.size), np.nan)
        for place in everything:
            row, deviation = self._one(ways, int(place))
            mean[:, place], sigma[:, place] = row, deviation
        return Expected(ways, chance / chance.sum(), mean, sigma)

    def _one(self, ways: Which, place: int) -> tuple[Array, Array]:
        """Mean and standard deviation of one place, given the readings (way)."""
        size = self.read.size
        mean, covariance, count = self.ways.moments(ways, np.append(self.read, place))
        own, variance = mean[:, -1], covariance[:, -1, -1]
        if size:
            with_it = covariance[:, :-1, -1]
            both = covariance[:, :-1, :-1] + np.diag(self.errors**2)
            slopes = np.linalg.solve(both, with_it[:, :, None])[:, :, 0]
            own = own + (slopes * (self.values - mean[:, :-1])).sum(axis=1)
            variance = np.maximum(variance - (slopes * with_it).sum(axis=1), 0.0)
            # Of chance, regression on so few samples leaves too little.
            variance = variance * np.maximum(count - 1, 1) / np.maximum(count - 1 - size, 1)
        known = count >= FEW
        return np.where(known, own, np.nan), np.where(known, np.sqrt(variance), np.nan)

    def likeliest(self, most: int = EXPECTED) -> Which:
        """Numbers of the likeliest ways that are judged."""
        order = np.argsort(-self.log_posterior)
        return order[self.judged[order]][:most]
