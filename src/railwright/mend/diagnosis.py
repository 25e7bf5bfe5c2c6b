"""Which suspects explain what was read, and which reading would tell most.

Bayes' rule over everything that may be wrong (`surveys.suspects`), each with what it would read
(`mend.predicted`, `mend.evidence`). What no allowed reading tells apart is named as a group. The
next reading is the one whose outcome is expected to say most about which suspect it is (mutual
information; Lindley, On a Measure of the Information Provided by an Experiment, 1956), where what
is cheap and safe comes first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import ALONE, Meter, Place, Reading
from railwright.engine.assembly import SYSTEM
from railwright.engine.model import Name
from railwright.mend.evidence import Evidence, Expected, Ways, noise
from railwright.mend.predicted import Round, Supply
from railwright.mend.reasons import reason
from railwright.surveys.suspects import NOTHING, SOUND, Suspect, Variant, pairs_of

Array = NDArray[np.float64]
ALIKE = 2.5
"""Standard deviations within which no reading tells two suspects apart."""
FITS_AS_WELL = 3.0
"""Natural logarithm of the factor by which another suspect may explain the readings worse, over all
ways in which it may be so, and still count as not told apart by them."""
UNLIKELY = 1e-3
PAIRED = 12
"""Suspects of which any two are suspected at once, the likeliest."""
EXPLAINED = 8
"""Suspects that are told with their reason, the likeliest."""
NOTHING_MORE = 0.02
"""Bit below which no reading is worth while."""
WORTH = {"voltage": 1.0, "current": 0.95, "resistance": 0.95}
"""What a bit is worth that comes from a reading: one for which a lead is opened, or a board freed
of its feed, is wanted only where it tells more."""
WORTH_LOADED = 0.9
"""The same of what takes a load that has to be connected."""
WORTH_LIFTED = 0.5
"""The same of what takes a soldering iron: a lead that is lifted."""


@dataclass(frozen=True)
class Ranked:
    """A suspect with its probability after all readings."""

    suspect: Suspect
    probability: float
    words: str
    """What would be so, with the value that fits best."""
    variant: Variant
    """In which way."""
    because: str
    """What is read otherwise then; of the likeliest alone."""


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
    shorted: float
    """Probability that nets are joined that should not be."""

    @property
    def is_fault(self) -> bool:
        """Whether something is likelier than that nothing is wrong."""
        return self.ranked[0].suspect.words != NOTHING


def is_short(suspect: Suspect) -> bool:
    """Whether it joins nets that should not be joined."""
    return any(owner == SYSTEM and name.startswith("bridge ") for (owner, name) in _names(suspect))


def _names(suspect: Suspect) -> list[Name]:
    return [change.name for variant in suspect.variants for change in variant.changes]


class Finder:
    """A built supply with everything that may be wrong in it, ready for readings."""

    def __init__(
        self, supply: Supply, found: Round | None = None, seed: int = 1, *, plain: bool = False
    ) -> None:
        """found: what every suspect reads; worked out where it is not given. plain: whether only
        voltages and currents without a load are asked for."""
        self.plain = plain
        self.supply = supply
        self.suspects = supply.suspects
        self.round = Round(supply, seed) if found is None else found
        self.places = supply.places
        self.ways = Ways(self.round)

    def with_pairs(self, found: Diagnosis) -> Finder:
        """A finder that suspects two things at once as well: the likeliest of those in `found`, and
        everything of these two by two."""
        single = [r.suspect for r in found.ranked if r.suspect.variants[0] != SOUND]
        supply = self.supply.suspecting((*self.suspects, *pairs_of(single[:PAIRED])))
        return Finder(supply, plain=self.plain)

    def diagnose(self, readings: Sequence[Reading], meter: Meter) -> Diagnosis:
        """What readings say; those of places that are not known here are left out."""
        known = {r.place: r for r in readings if r.place in self.places}
        evidence = Evidence(self.ways, self.places, tuple(known.values()))
        chance, fit = evidence.of_suspects(len(self.suspects))
        order = np.argsort(-chance, kind="stable")
        ranked = tuple(
            self._ranked(evidence, int(k), float(chance[k]), place < EXPLAINED)
            for place, k in enumerate(order)
        )
        expected = evidence.expected(evidence.likeliest())
        best, bits = self._next(expected, set(map(int, evidence.read)), meter)
        judged = np.zeros(len(self.suspects), bool)
        judged[self.ways.suspect[evidence.judged]] = True
        return Diagnosis(
            ranked,
            self._group(evidence, int(order[0]), fit, meter),
            None if best is None else self.places[best],
            bits,
            int((~judged).sum()),
            sum(r.probability for r in ranked if is_short(r.suspect)),
        )

    def next_place(self, readings: Sequence[Reading], meter: Meter) -> Place | None:
        """Where the next reading tells most; None where none tells anything."""
        known = {r.place: r for r in readings if r.place in self.places}
        evidence = Evidence(self.ways, self.places, tuple(known.values()))
        best, _ = self._next(
            evidence.expected(evidence.likeliest()), set(map(int, evidence.read)), meter
        )
        return None if best is None else self.places[best]

    def _ranked(self, evidence: Evidence, suspect: int, chance: float, explained: bool) -> Ranked:
        way = evidence.best_way(suspect)
        variant = self.ways.of[way][1]
        words = self.suspects[suspect].words
        words = f"{words}: {variant.words}" if variant.words else words
        number = self.ways.variant[way]
        because = reason(self.round, number) if explained and number else ""
        return Ranked(self.suspects[suspect], chance, words, variant, because)

    def _group(
        self, evidence: Evidence, first: int, fit: Array, meter: Meter
    ) -> tuple[Suspect, ...]:
        """The first suspect, and those of which every place reads about the same from here on."""
        near = np.flatnonzero(fit > fit[first] - FITS_AS_WELL)
        others = [int(k) for k in near if k != first]
        ways = np.array([evidence.best_way(k) for k in (first, *others)], np.intp)
        expected = evidence.expected(ways)
        errors = noise(expected.mean, self.places, meter)
        variance = expected.sigma**2 + errors
        apart = np.abs(expected.mean - expected.mean[0]) > ALIKE * np.sqrt(variance + variance[0])
        apart[:, evidence.read] = False
        alike = ~apart.any(axis=1) & evidence.judged[ways]
        found = [self.suspects[k] for k, same in zip(others, alike[1:], strict=True) if same]
        return (self.suspects[first], *found)

    def _may_ask(self, place: Place) -> bool:
        return not self.plain or (place.quantity != "resistance" and not place.under)

    def _next(self, expected: Expected, read: set[int], meter: Meter) -> tuple[int | None, float]:
        """The place whose reading is expected to tell most for what it takes, and how much."""
        likely = expected.weight > UNLIKELY * expected.weight.max(initial=0.0)
        suspect = self.ways.suspect[expected.ways[likely]]
        if np.unique(suspect).size < 2:
            return None, 0.0
        weight = expected.weight[likely] / expected.weight[likely].sum()
        mean, sigma = expected.mean[likely], expected.sigma[likely]
        errors = noise(mean, self.places, meter)
        told: list[tuple[float, float, int]] = []
        for place in range(len(self.places)):
            known = np.isfinite(mean[:, place])
            if place in read or not known.any() or not self._may_ask(self.places[place]):
                continue
            own = weight[known]
            sigmas = np.sqrt(sigma[known, place] ** 2 + errors[known, place])
            bits = _information(own / own.sum(), mean[known, place], sigmas, suspect[known])
            told.append((bits * own.sum() * _worth(self.places[place]), bits, place))
        worth, bits, best = max(told, default=(0.0, 0.0, None))
        return (best, bits) if worth > NOTHING_MORE else (None, 0.0)


def _worth(place: Place) -> float:
    if place.under.endswith(ALONE):
        return WORTH_LIFTED
    return WORTH[place.quantity] * (WORTH_LOADED if place.under else 1.0)


_NODES, _SHARES = np.polynomial.hermite_e.hermegauss(7)


def _information(weight: Array, mean: Array, sigma: Array, suspect: NDArray[np.intp]) -> float:
    """Mutual information of which suspect it is and a reading, of normal predictions [bit]."""
    values = mean[:, None] + sigma[:, None] * _NODES
    apart = (values[:, :, None] - mean) / sigma
    density = np.exp(-0.5 * apart**2) / sigma * weight
    same = suspect[:, None] == suspect
    mine = np.einsum("ijk,ik->ij", density, same.astype(float))
    total = (same * weight).sum(axis=1)
    mixed = density.sum(axis=2)
    ratio = np.maximum(mine, 1e-300) / total[:, None] / np.maximum(mixed, 1e-300)
    shares = _SHARES / _SHARES.sum()
    return max(0.0, float(weight @ (np.log2(ratio) @ shares)))
