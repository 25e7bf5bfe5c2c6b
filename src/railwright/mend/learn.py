"""What readings tell of the parts of a built supply in which nothing is wrong.

The likeliest values come first: Gauss-Newton steps from the sensitivities of the solved circuit,
each a least-squares problem within the limits of the spread (Bard, Nonlinear Parameter Estimation,
1974, ch. 5). What is left open is a set, not a bell curve: every value within its limits that no
reading contradicts by more than the meter may be off (errors that are bounded but of unknown
distribution: Milanese and Vicino, Optimal estimation theory for dynamic systems with set membership
uncertainty, Automatica 27, 1991). So a meter that reads everything a little high deceives nobody,
as it would if its errors counted as independent. The ends of the set are linear programs around
the likeliest values. They are solved in the circuit as it is, and by what straight lines missed
there the readings are trusted less.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import Reading
from railwright.circuit.design import Design
from railwright.engine.model import Name
from railwright.mend.built import Built
from railwright.mend.feasible import Feasible, LearnError
from railwright.quantity import Spread
from railwright.surveys.spread import Quantity

Array = NDArray[np.float64]
Numbers = NDArray[np.intp]
STEP = 0.1
"""Of the way from the middle to a limit, by which each value is moved for its effect."""
STEPS, SETTLED = 8, 1e-3
"""Gauss-Newton steps at most, and how little the last one moves anything (way to a limit = 1)."""
SHORTER = (1.0, 0.5, 0.2, 0.05)
"""Shares of a step that are tried, the first that is better is taken."""
NO_EFFECT = 1e-3
"""Of a meter's error: who moves no reading by more, from limit to limit, is left where it is."""
ROUNDS, BENT = 5, 1.2
"""Rounds in which the ends are sought, and times what lines missed by which the next one allows."""
KNOWN = 0.8
"""Of its spread before: a value of which no more is left counts as told by the readings."""
TIED = 0.5
"""Of what two values by themselves leave of their ratio: of no more left, the ratio is told."""
MOVER = 0.1
"""Share of a reading's spread from which on a value counts as one that makes it."""


@dataclass(frozen=True)
class Value:
    """One value of a part: its spread in the design, and what the readings leave of it."""

    ref: str
    name: str
    unit: str
    designed: Spread
    low: float
    likely: float
    high: float

    @property
    def left(self) -> float:
        """Share of its spread that is left."""
        return (self.high - self.low) / self.designed.width


@dataclass(frozen=True)
class Tied:
    """Parts whose values are known in proportion to each other, though none is by itself."""

    values: tuple[Value, ...]
    low: float
    """Of what all of them may be off together, as a share of the likely values."""
    high: float
    residue: float
    """By how much each may be off beside that, either way."""

    @property
    def refs(self) -> tuple[str, ...]:
        """Of its parts."""
        return tuple(value.ref for value in self.values)


@dataclass(frozen=True)
class Together:
    """A reading that tells of several values what they make together, but of none what it is."""

    reading: Reading
    values: tuple[Value, ...]


@dataclass(frozen=True)
class Learned:
    """What readings tell of the parts of a supply."""

    readings: tuple[Reading, ...]
    left_out: tuple[Reading, ...]
    """Readings of places that are not predicted."""
    values: tuple[Value, ...]
    """Each value of which the readings tell something by itself."""
    tied: tuple[Tied, ...]
    shifted: tuple[tuple[Value, ...], ...]
    """Values that share a draw by the design, of which the readings tell where it lies."""
    together: tuple[Together, ...]
    untold: tuple[Value, ...]
    """Values that stay as the design has them."""
    farthest: float
    """By how many times its meter's error a reading is off where the likely values are solved."""


def learn(design: Design, readings: Sequence[Reading]) -> Learned:
    """What readings tell. LearnError where no values within the spread explain them."""
    return Learning(Built(design, readings)).learned()


@dataclass
class Learning:
    """From what was read to what it tells of the parts. LearnError where that cannot be.

    Places are 0 in the middle between the limits of an unknown, -1 and 1 at them.
    """

    built: Built

    def __post_init__(self) -> None:
        if not self.built.readings:
            raise LearnError("none of the readings is of a place that can be predicted.")
        self.middle = (self.built.low + self.built.high) / 2.0
        self.half = (self.built.high - self.built.low) / 2.0
        self.usual = (self.built.typical - self.middle) / self.half
        self.likely = self._likeliest()
        self.slopes = self._slopes(self.likely)
        self.active = self._moving(self.slopes)
        self.idle = np.abs(np.delete(self.slopes, self.active, axis=1)).sum(axis=1)
        """What the others may do to each reading all together."""
        self.feasible = self._feasible()

    def unknowns(self, places: Array) -> Array:
        """Unknowns at places, one or several side by side (unknown, ...)."""
        return np.asarray((self.middle + self.half * places.T).T)

    def _metered(self, places: Array) -> Array:
        found = self.built.metered(self.unknowns(places))
        if not np.isfinite(found).all():
            raise LearnError("the supply has no operating point with the likeliest values.")
        return found

    def _likeliest(self) -> Array:
        """Places of the likeliest values."""
        from scipy.optimize import lsq_linear

        places, away = self.usual, self._away(self.usual)
        sigma = self.built.errors / np.sqrt(3.0)
        own = self._deviations()
        for _ in range(STEPS):
            slopes = self._slopes(places)
            # What moves nothing stays where it was before anything was read.
            some = self._moving(slopes)
            rows = np.vstack([slopes[:, some] / sigma[:, None], np.diag(1.0 / own[some])])
            wanted = (away + slopes[:, some] @ places[some]) / sigma
            wanted = np.concatenate([wanted, self.usual[some] / own[some]])
            found = places.copy()
            found[some] = lsq_linear(rows, wanted, bounds=(-1.0, 1.0)).x
            better = self._better(places, found, away)
            if better is None:
                break
            (places, away), moved = better, float(np.abs(better[0] - places).max())
            if moved < SETTLED:
                break
        return places

    def _better(self, places: Array, found: Array, away: Array) -> tuple[Array, Array] | None:
        """Places on the way to those that were found which are likelier, with what is still off
        there; None where none is: lines mislead."""
        before = self._unlikely(places, away)
        for share in SHORTER:
            there = places + share * (found - places)
            off = self._away(there)
            if np.isfinite(off).all() and self._unlikely(there, off) < before:
                return there, off
        return None

    def _away(self, places: Array) -> Array:
        """What was read beyond what would be read at places."""
        return np.asarray(self.built.values - self.built.metered(self.unknowns(places)))

    def _unlikely(self, places: Array, away: Array) -> float:
        """Twice the negative logarithm of how likely places are, but for a constant."""
        sigma, own = self.built.errors / np.sqrt(3.0), self._deviations()
        return float(((away / sigma) ** 2).sum() + (((places - self.usual) / own) ** 2).sum())

    def _deviations(self) -> Array:
        """Standard deviation of every unknown before anything is read: uniform or triangular."""
        shapes = [q.spread.shape for q in self.built.spread.quantities]
        shapes += ["uniform"] * len(self.built.open)
        triangular = np.sqrt((3.0 + self.usual**2) / 18.0)
        is_uniform = np.array(shapes) == "uniform"
        return np.asarray(np.where(is_uniform, 1.0 / np.sqrt(3.0), triangular))

    def _moving(self, slopes: Array) -> Numbers:
        """Unknowns that move some reading by more than a trifle."""
        moved = np.abs(slopes) / self.built.errors[:, None]
        return np.flatnonzero(moved.max(axis=0) > NO_EFFECT / 2.0)

    def _slopes(self, places: Array) -> Array:
        """How far a reading moves as an unknown goes from the middle to its limit."""
        size = places.size
        up, down = np.minimum(places + STEP, 1.0), np.maximum(places - STEP, -1.0)
        each = np.arange(size)
        lanes = np.repeat(places[:, None], 2 * size, axis=1)
        lanes[each, each], lanes[each, size + each] = up, down
        found = self.built.read(self.unknowns(lanes))
        slopes = np.asarray((found[:, :size] - found[:, size:]) / (up - down))
        if not np.isfinite(slopes).all():
            raise LearnError("the supply has no operating point near the likeliest values.")
        return slopes

    def _feasible(self) -> Feasible:
        """The set that the readings leave, wide enough for what lines miss at its ends."""
        places, slopes = self.likely[self.active], self.slopes[:, self.active]
        here = self._metered(self.likely)
        bare = self.built.read(self.unknowns(self.likely[:, None]))
        missed = np.zeros(len(self.built.readings))
        for turn in itertools.count():
            errors = self.built.errors + self.idle + missed
            found = Feasible(places, slopes, self.built.values - here, errors)
            worst = found.least_strain()
            if worst > 1.0:
                raise LearnError(self._contradiction(here, worst))
            ends = found.ends()
            lanes = np.repeat(self.likely[:, None], ends.shape[1], axis=1)
            lanes[self.active] = ends
            solved = self.built.read(self.unknowns(lanes)) - bare
            bent = np.abs(solved - slopes @ (ends - places[:, None])).max(axis=1)
            if not np.isfinite(bent).all():
                raise LearnError("the supply has no operating point at an end of what is left.")
            if (bent <= missed).all():
                break
            # What bends ever further as the ends move out is not learned from.
            further = BENT * bent if turn < ROUNDS else np.inf
            missed = np.where(bent > missed, further, missed)
        return found

    def _contradiction(self, here: Array, worst: float) -> str:
        away = np.abs(self.built.values - here) / self.built.errors
        first = self.built.readings[int(np.argmax(away))]
        return (
            "no values within the spread of the parts explain the readings, "
            f"{first.place.told} least of all: the meter would have to be off by {worst:.1f} "
            "times its error. Look for what is wrong first, or tell the meter's accuracy."
        )

    def learned(self) -> Learned:
        """Everything that the readings tell, in words of parts."""
        every = range(self.active.size)
        told = [place for place in every if self._is_told(place)]
        groups = self._groups(every)
        values = dict(self._values())
        tied = tuple(self._tied(group, values) for group in groups)
        shifted = tuple(self._shifted(told))
        named = {self._name(place) for place in (*told, *itertools.chain.from_iterable(groups))}
        known = {*named, *((value.ref, value.name) for several in shifted for value in several)}
        away = np.abs(self.built.values - self._metered(self.likely)) / self.built.errors
        return Learned(
            self.built.readings,
            self.built.left_out,
            tuple(values[name] for place in told if (name := self._name(place)) is not None),
            tied,
            shifted,
            tuple(self._together(values, known)),
            tuple(values[name] for name in self._by_effect() if name not in known),
            float(away.max()),
        )

    def _is_told(self, place: int) -> bool:
        low, high = self.feasible.range_of(place)
        is_part = self.active[place] < self.built.spread.size
        return is_part and self._quantity(place).role != "drift" and high - low <= 2.0 * KNOWN

    def _quantity(self, place: int) -> Quantity:
        found: Quantity = self.built.spread.quantities[self.active[place]]
        return found

    def _name(self, place: int) -> Name | None:
        """The value that an unknown is; None of what is none by itself."""
        if self.active[place] >= self.built.spread.size or self._quantity(place).role != "value":
            return None
        return self._quantity(place).moves[0]

    def _values(self) -> Iterator[tuple[Name, Value]]:
        """Every value that is an unknown of its own."""
        at = {int(unknown): place for place, unknown in enumerate(self.active)}
        for index, quantity in enumerate(self.built.spread.quantities):
            if quantity.role == "value":
                (name,) = quantity.moves
                ends = self.feasible.range_of(at[index]) if index in at else (-1.0, 1.0)
                likely = np.clip(self.likely[index], *ends)
                low, likely, high = (
                    float(self.middle[index] + self.half[index] * place)
                    for place in (ends[0], likely, ends[1])
                )
                yield name, Value(*name, self._unit(name), quantity.spread, low, likely, high)

    def _by_effect(self) -> list[Name]:
        """Values that are unknowns of their own, those first that move a reading most."""
        moved = (np.abs(self.slopes) / self.built.errors[:, None]).max(axis=0)
        quantities = self.built.spread.quantities
        order = sorted(range(len(quantities)), key=lambda index: -moved[index])
        return [quantities[i].moves[0] for i in order if quantities[i].role == "value"]

    def _unit(self, name: Name) -> str:
        return self.built.design.circuit.part(name[0]).values[name[1]].unit

    def _groups(self, places: Sequence[int]) -> list[list[int]]:
        """Groups of parts of one kind, of each two of which the ratio is told."""
        groups: list[list[int]] = []
        for one in filter(self._is_sole, places):
            for group in groups:
                if all(self._is_tied(one, other) for other in group):
                    group.append(one)
                    break
            else:
                groups.append([one])
        return [group for group in groups if len(group) > 1]

    def _is_sole(self, place: int) -> bool:
        """Whether a value is all that varies of its part, is nobody's copy, and has a ratio."""
        name = self._name(place)
        if name is None or self.built.low[self.active[place]] <= 0.0:
            return False
        part = self.built.design.circuit.part(name[0])
        own = [
            q
            for q in self.built.spread.quantities
            if q.role == "value" and q.moves[0][0] == part.ref
        ]
        return len(own) == 1 and part.tracks is None

    def _is_tied(self, one: int, other: int) -> bool:
        """Whether the ratio of two values is told, much better than by each of them."""
        circuit = self.built.design.circuit
        (first, a), (second, b) = (self._quantity(place).moves[0] for place in (one, other))
        if a != b or circuit.part(first).kind != circuit.part(second).kind:
            return False
        low, high = self.feasible.range(self._share(one) - self._share(other))
        alone = (self.feasible.range(self._share(place)) for place in (one, other))
        return high - low <= TIED * sum(end - begin for begin, end in alone)

    def _share(self, place: int) -> Array:
        """Weights of the places whose sum is a value over its likely one, but for a constant."""
        unknown = self.active[place]
        weights = np.zeros(self.active.size)
        weights[place] = self.half[unknown] / self.unknowns(self.likely)[unknown]
        return weights

    def _tied(self, group: Sequence[int], values: Mapping[Name, Value]) -> Tied:
        """How far the values of a group go together, and how far each goes alone."""
        shares = np.array([self._share(place) for place in group])
        mean = shares.mean(axis=0)
        likely = self.likely[self.active]
        low, high = (end - float(mean @ likely) for end in self.feasible.range(mean))
        apart = [
            abs(end - float((share - mean) @ likely))
            for share in shares
            for end in self.feasible.range(share - mean)
        ]
        # What both make together is a product: the sum above misses their own product.
        residue = max(apart) * (1.0 + max(abs(low), abs(high)))
        members = tuple(values[self._quantity(place).moves[0]] for place in group)
        return Tied(members, low, high, residue)

    def _shifted(self, told: Sequence[int]) -> Iterator[tuple[Value, ...]]:
        """Values that share a draw, of which the readings tell where it lies."""
        for place in told:
            if self._quantity(place).role == "shared":
                draws = (*self.feasible.range_of(place), float(self.likely[self.active[place]]))
                yield tuple(self._drawn(name, *draws) for name in self._quantity(place).moves)

    def _drawn(self, name: Name, low: float, high: float, likely: float) -> Value:
        """A value where its draw lies, from -1 at its low limit to 1 at its high one."""
        spread = self.built.spread.published[name]

        def at(draw: float) -> float:
            end = spread.high if draw > 0 else spread.low
            return spread.typical + abs(draw) * (end - spread.typical)

        return Value(*name, self._unit(name), spread, at(low), at(likely), at(high))

    def _together(
        self, values: Mapping[Name, Value], told: Collection[Name | None]
    ) -> Iterator[Together]:
        """Readings that values of which none is told make together."""
        seen = set[tuple[Name, ...]]()
        for row, reading, error in zip(
            np.abs(self.slopes[:, self.active]), self.built.readings, self.built.errors, strict=True
        ):
            movers = [place for place in np.argsort(-row) if row[place] > MOVER * row.sum()]
            names = tuple(name for place in movers if (name := self._name(place)) is not None)
            if (
                error <= TIED * row.sum()
                and len(names) > 1
                and names[0] == self._name(movers[0])
                and not set(names) & set(told)
                and names not in seen
            ):
                seen.add(names)
                yield Together(reading, tuple(values[name] for name in names))
