"""Supplies with a hidden fault, for the study of fault finding: what a meter reads on them.

Values are drawn from the spread of the parts, those that nobody guarantees are off once more, and
the air has a temperature of its own (`bench.hidden`). What is read is solved on plain numpy with
row exchanges (`engine.plainly`); compiled code proposes where to begin, no more. Meters of 10 MΩ
stand on every net.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from railwright.bench.hidden import Hidden, HiddenSupplies
from railwright.engine import reference
from railwright.engine.model import Lanes, Model, Name, chosen
from railwright.engine.operating_point import Reach, first_order, operating_point
from railwright.engine.plainly import Plainly
from railwright.engine.solutions import OperatingPoints
from railwright.mend.predicted import Supply, moves_of, values_of
from railwright.surveys.fault_modes import Change
from railwright.surveys.ohms import Ohms
from railwright.surveys.single_faults import value_before
from railwright.surveys.states import Engine, settle
from railwright.surveys.suspects import METER, Suspect, Variant
from railwright.surveys.to_rest import Step, ToRest

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Fault:
    """What is wrong with a supply, and nobody is told."""

    suspect: int
    """Number of what should be found; nil where nothing is wrong."""
    variant: Variant
    words: str
    factor: float = 1.0
    """By which its meter is off."""


def drawn(suspects: Sequence[Suspect], rng: np.random.Generator) -> Fault:
    """A fault as often as its weight says, with a value of its own: any between two variants."""
    weight = np.array([s.weight for s in suspects])
    weight[0] = 0.0  # nothing wrong is none
    number = int(rng.choice(weight.size, p=weight / weight.sum()))
    suspect = suspects[number]
    if suspect.words == METER:
        factor = float(np.exp(rng.choice([-1.0, 1.0]) * rng.uniform(0.03, 0.15)))
        return Fault(number, Variant(()), f"{METER}: {factor:.3f}", factor)
    chance = np.array([(v.weight, v.onwards) for v in suspect.variants])
    place, between = divmod(int(rng.choice(chance.size, p=(chance / chance.sum()).ravel())), 2)
    variant = suspect.variants[place]
    if between:
        after = suspect.variants[place + 1]
        variant = Variant(_between(variant.changes, after.changes, rng.random()))
    values = ", ".join(f"{c.factor:.3g}x+{c.offset:.3g}" for c in variant.changes)
    return Fault(number, variant, f"{suspect.words} ({values})")


def _between(one: Sequence[Change], other: Sequence[Change], share: float) -> tuple[Change, ...]:
    """Changes on the way from some to others, by equal factors."""

    def mean(a: float, b: float) -> float:
        if a * b > 0.0:
            return float(np.sign(a) * abs(a) ** (1.0 - share) * abs(b) ** share)
        return (1.0 - share) * a + share * b

    return tuple(
        Change(a.name, mean(a.factor, b.factor), mean(a.offset, b.offset))
        for a, b in zip(one, other, strict=True)
    )


class Built:
    """Built supplies of one design, each with its seed and its fault (lane)."""

    def __init__(self, supply: Supply, seeds: Sequence[int], faults: Sequence[Fault]) -> None:
        self.supply, self.faults = supply, list(faults)
        self.known = HiddenSupplies(supply.design, [Hidden(seed) for seed in seeds])
        self.count = len(self.faults)
        self.seeds = list(seeds)

    @cached_property
    def readings(self) -> Array:
        """What ideal meters read (lane, place); not-a-number where a supply comes to no rest."""
        found = np.full((self.count, len(self.supply.places)), np.nan)
        moved = np.array([bool(moves_of(fault.variant)) for fault in self.faults])
        for group in (False, True):
            which = np.flatnonzero(moved == group)
            if which.size:
                found[which] = self._of(which, group)
        return found

    def _of(self, which: NDArray[np.intp], moved: bool) -> Array:
        supply = self.supply
        columns = []
        for under in supply.conditions:
            at = self._rest(which, under, moved)
            for place in supply.places:
                if place.under == under and place.quantity != "resistance":
                    known = at.solved.any()
                    row = supply.read(at, place) if known else np.full(which.size, np.nan)
                    columns.append(np.where(at.solved, row, np.nan))
        columns += list(self._ohms(which))
        factors = np.array([self.faults[i].factor for i in which])
        return np.asarray(np.array(columns).T * factors[:, None], float)

    def _ohms(self, which: NDArray[np.intp]) -> Array:
        """What an ohmmeter reads (pair, lane)."""
        supply = self.supply
        values = chosen(self.known.actual, which)
        pairs = len(supply.pairs)
        found = np.empty((pairs + len(supply.alone), which.size))
        for lane, i in enumerate(which):
            variant = self.faults[i].variant
            # What its circuits lead without power is the same whatever is wrong with a supply.
            own = chosen(values, np.array([lane]))
            ohms = Ohms(supply.bench.circuit, own, 1, self.seeds[i])
            changes = values_of(variant)
            found[:pairs, lane] = ohms.read(changes, moves_of(variant), supply.pairs)[:, 0]
            refs = supply.suspects[self.faults[i].suspect].refs
            found[pairs:, lane] = [
                ohms.alone(ref, changes if ref in refs else ())[0] for ref, _, _ in supply.alone
            ]
        return found

    def _rest(self, which: NDArray[np.intp], under: str, moved: bool) -> OperatingPoints:
        """Where supplies come to rest: from the state of a sound one that is switched on, else from
        its other states."""
        supply, count = self.supply, which.size
        model = supply.crossbar.model if moved else supply.model
        typical = np.repeat(supply.spread.typical[:, None], count, 1)
        lanes: dict[Name, Array | float] = {
            **supply.lanes(typical, under),
            **chosen(self.known.actual, which),
        }
        faulty = self._faulty(model, lanes, which, moved)
        begin = None
        for state in supply.states:
            left = np.arange(count) if begin is None else np.flatnonzero(~begin.solved)
            if not left.size:
                break
            sound = settle(supply.bench.engine, chosen(lanes, left), left.size, state)
            at = supply.crossbar.begun(sound) if moved else _of_model(model, sound)
            some = _rest(partial(_compiled, model), partial(first_order, model), faulty, left, at)
            begin = some if begin is None else begin.replaced(left, some)
        assert begin is not None
        engine = Plainly(model)
        good = np.flatnonzero(begin.solved)
        at = _of_model(model, begin)
        if good.size:
            own = _rest(engine, partial(_step, engine), faulty, good, begin.take(good))
            table = np.zeros((count, len(own.observables)))
            at = OperatingPoints.stated(model, own.observables, begin.last, table, begin.solved)
            at = at.replaced(good, own)
        return at

    def _faulty(
        self, model: Model, lanes: Lanes, which: NDArray[np.intp], moved: bool
    ) -> dict[Name, Array | float]:
        found = dict(lanes)
        for lane, i in enumerate(which):
            variant = self.faults[i].variant
            changes = values_of(variant)
            if moved:
                changes = (*changes, *self.supply.crossbar.changes(moves_of(variant)))
            for change in changes:
                before = value_before(model, found, change.name)
                row = np.array(np.broadcast_to(np.asarray(before, float), (which.size,)))
                row[lane] = change.of(row[lane])
                found[change.name] = row
        return found


def _rest(
    engine: Engine, step: Step, lanes: Lanes, which: NDArray[np.intp], begin: OperatingPoints
) -> OperatingPoints:
    to_rest = ToRest(engine, step, chosen(lanes, which), begin)
    at = to_rest.follow("near")
    return replace(at, solved=at.solved & ~to_rest.restless)


def _compiled(
    model: Model,
    lanes: Lanes,
    count: int,
    start: OperatingPoints | None = None,
    reach: Reach = "all",
) -> OperatingPoints:
    return operating_point(model, lanes, count, start, None, "near")


def _of_model(model: Model, at: OperatingPoints) -> OperatingPoints:
    """Solutions as a start in a model of the same unknowns."""
    return OperatingPoints.stated(model, (), at.last, np.zeros((at.count, 1)), at.solved)


def _step(engine: Plainly, lanes: Lanes, count: int, start: OperatingPoints) -> OperatingPoints:
    """One step on plain numpy."""
    known = engine.model.parameters(engine.names, lanes)
    x = start.last.T + reference.step(engine.model.topology, start.last.T, known)
    solved = np.asarray(np.isfinite(x).all(axis=0), bool)
    return OperatingPoints.stated(engine.model, (), x.T, np.zeros((count, 1)), solved)
