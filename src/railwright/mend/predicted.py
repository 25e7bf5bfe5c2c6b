"""What every suspect would read, everywhere, over the spread of the healthy parts.

Every variant of every suspect is a lane beside the sound supply, once for each sample of the
spread and each condition. What changes a value or bridges two nets is solved on one compiled
circuit; what joins a pin otherwise, or not at all, on another (`surveys.crossbar`). All lanes begin
in the state of the sound supply (`surveys.to_rest`). Typical parts go first: what has no solution
with them is given up.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import ALONE, Place
from railwright.circuit.circuit import Circuit, Part, PartValue
from railwright.circuit.design import Design
from railwright.devices import kinds
from railwright.engine.assembly import SYSTEM
from railwright.engine.model import ROOM, Lanes, Model, Name, chosen
from railwright.engine.operating_point import Reach, first_order, operating_point
from railwright.engine.patchboard import Moves
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import State
from railwright.quantity import Spread
from railwright.surveys.crossbar import NOWHERE, Crossbar
from railwright.surveys.fault_modes import Change, changed
from railwright.surveys.fixture import terminals
from railwright.surveys.ohms import Ohms, pairs_of, parts_alone
from railwright.surveys.samples import quasi_random
from railwright.surveys.single_faults import value_before
from railwright.surveys.stages import AWAY, METER, Bench, common
from railwright.surveys.states import settle
from railwright.surveys.suspects import Suspect, Suspects, Variant, suspects_of
from railwright.surveys.to_rest import ToRest

Array = NDArray[np.float64]
Which = NDArray[np.intp]
SAMPLES = 32
"""Of the spread of the healthy parts, under each suspect."""
HALF = 0.5
"""Of the greatest current that the need asks of a rail: what the load takes."""
UNLOADED, LOADED = "", "load"
TOGETHER = 200
"""Variants whose lanes are in memory at the same time."""
MIXED = 24
"""Lanes with pins moved at random, on which the order of elimination is chosen."""
REACHES: tuple[Reach, ...] = ("once", "near")
"""By which typical parts are tried from every sound state."""
FEW = 8
"""Lanes that are tried by all means: they are slow."""


@dataclass(frozen=True)
class Load:
    """A resistor that is connected to a rail."""

    rail: str
    plus: str
    minus: str
    ohms: float
    watts: float


class Supply:
    """A built supply, or a part of one, on the bench, with everything that may be wrong in it."""

    def __init__(
        self, design: Design, fitted: Sequence[str] = (), priors: Path | None = None
    ) -> None:
        """fitted: refs of the parts that are in it; all where empty."""
        refs = tuple(fitted) or tuple(part.ref for part in design.circuit.parts)
        own = Circuit(tuple(p for p in design.circuit.parts if p.ref in set(refs)))
        self.nets = _readable(own, common(design))
        ends = {
            output.name: terminals(output)
            for output in design.need.output
            if {terminals(output).plus, terminals(output).minus} <= own.nets.keys()
        }
        resistors = [_resistor(_load(r), both.plus, both.minus) for r, both in ends.items()]
        self.design = design
        self.bench = Bench(design, refs, refs, self.nets, tuple(resistors))
        self.spread = self.bench.spread
        sound = self.bench.model.topology
        found: Suspects = suspects_of(self.bench.circuit, sound, self.spread, priors)
        self.suspects = found.several
        self.model = Model(replace(found.topology, joints=()), self.bench.model.nominal)
        # With bridges as well: of two things at once one may move a pin, and one join nets.
        self.crossbar = Crossbar(
            self.model, [moves_of(v) for s in self.suspects for v in s.variants]
        )
        self.states = self._states()
        self.loads = self._loads(ends)
        self.conditions = (UNLOADED, LOADED) if self.loads else (UNLOADED,)
        self.pairs = pairs_of(self.bench.circuit, self.bench.common)
        self.alone = parts_alone(self.bench.circuit)
        self.places = (
            *(place for under in self.conditions for place in self._places(under)),
            *(Place("resistance", one, other) for one, other in self.pairs),
            *(Place("resistance", red, black, ref + ALONE) for ref, red, black in self.alone),
        )

    def suspecting(self, several: Sequence[Suspect]) -> Supply:
        """The same with other suspects, which move no other pins and bridge no other nets."""
        found = copy(self)
        found.suspects = tuple(several)
        return found

    def _places(self, under: str) -> Sequence[Place]:
        feeds = {(s.pins["plus"], s.pins["minus"]) for s in self.bench.sources}
        return [
            *(Place("current", *ends, under) for ends in sorted(feeds)),
            *(Place("voltage", net, self.bench.common, under) for net in self.nets),
        ]

    def metered(self) -> dict[Name, Array | float]:
        """A meter on every net: one that is loose is read as the meter leaves it."""
        return dict.fromkeys(self.bench.metered(np.zeros(1, np.intp)), METER)

    def _states(self) -> list[State]:
        """States in which its two-state parts may rest; that in which most is alive comes first: as
        switched on."""

        def alive(found: tuple[State, OperatingPoints, int]) -> float:
            _, at, lane = found
            black = at.potential(self.bench.common)[lane]
            return float(sum(abs(at.potential(net)[lane] - black) for net in self.nets))

        stable = sorted(self.bench.states().found, key=alive, reverse=True)
        return [state for state, _, _ in stable] or [{}]

    def _loads(self, ends: Mapping[str, object]) -> tuple[Load, ...]:
        """What takes half of the greatest current of each rail at the voltage that it has."""
        lanes = self.bench.lanes(self.spread.typical[:, None]) | self.metered()
        at = settle(self.bench.engine, lanes, 1, self.states[0])
        found = []
        for name in ends:
            output = next(o for o in self.design.need.output if o.name == name)
            both = terminals(output)
            volts = float(at.potential(both.plus)[0] - at.potential(both.minus)[0])
            amperes = HALF * output.current.max
            if np.isfinite(volts) and volts > 0.0 and amperes > 0.0:
                watts = volts * amperes
                found.append(Load(name, both.plus, both.minus, volts / amperes, watts))
        return tuple(found)

    def lanes(self, actual: Array, under: str) -> dict[Name, Array | float]:
        """Lanes with these quantities (quantity, lane), meters everywhere, in a condition."""
        lanes = self.bench.lanes(actual) | self.metered()
        for load in self.loads if under == LOADED else ():
            lanes[_load(load.rail), "resistance"] = load.ohms
        return lanes

    def read(self, at: OperatingPoints, place: Place) -> Array:
        """What a voltage or current is, over lanes."""
        if place.quantity == "current":
            return np.asarray(sum(at.of(s.ref, "current") for s in self._feeding(place)), float)
        return np.asarray(at.potential(place.red) - at.potential(place.black), float)

    def _feeding(self, place: Place) -> list[Part]:
        return [s for s in self.bench.sources if s.pins["plus"] == place.red]


class Round:
    """What every variant of every suspect reads at every place of a supply."""

    def __init__(self, supply: Supply, seed: int = 1, samples: int = SAMPLES) -> None:
        self.supply, self.samples = supply, samples
        spread = supply.spread
        drawn = spread.draw(quasi_random(spread.size, samples, seed))
        self.draws = np.hstack([drawn, spread.typical[:, None]])
        """Quantities (quantity, sample); typical parts are the last sample."""
        self.ways = [
            (number, variant)
            for number, suspect in enumerate(supply.suspects)
            for variant in suspect.variants
        ]
        """(suspect, variant), in the order of `rows`."""
        self.rows = np.full((len(self.ways), len(supply.places), samples + 1), np.nan)
        """What is read (variant, place, sample); not-a-number where a lane has no solution."""
        for under in supply.conditions:
            self._solve(under)
        self._measure_ohms(seed)

    def _measure_ohms(self, seed: int) -> None:
        supply = self.supply
        first = len(supply.places) - len(supply.pairs) - len(supply.alone)
        count = self.samples + 1
        values = supply.spread.lanes(self.draws, np.full(count, ROOM))
        ohms = Ohms(supply.bench.circuit, values, count, seed)
        lifted = first + len(supply.pairs)
        refs = [ref for ref, _, _ in supply.alone]
        self.rows[:, lifted:] = [ohms.alone(ref, ()) for ref in refs]
        for row, (number, variant) in enumerate(self.ways):
            changes, moves = values_of(variant), moves_of(variant)
            self.rows[row, first:lifted] = ohms.read(changes, moves, supply.pairs)
            for ref in {*refs} & {*supply.suspects[number].refs}:
                self.rows[row, lifted + refs.index(ref)] = ohms.alone(ref, changes)

    def _solve(self, under: str) -> None:
        supply = self.supply
        places = [
            i
            for i, place in enumerate(supply.places)
            if place.under == under and place.quantity != "resistance"
        ]
        lanes = _each(supply.lanes(self.draws, under), self.samples + 1)
        sound = [
            settle(supply.bench.engine, lanes, self.samples + 1, state) for state in supply.states
        ]
        for which in self._pieces():
            at = _Solving(supply, [self.ways[i][1] for i in which], lanes, sound).all_samples()
            for place in places:
                found = supply.read(at, supply.places[place])
                self.rows[which, place] = found.reshape(which.size, self.samples + 1)
        still = [i for i, (_, v) in enumerate(self.ways) if _is_stored(v)]
        self.rows[np.ix_(still, places)] = self.rows[0, places]

    def _pieces(self) -> Iterator[Which]:
        """Numbers of variants that are solved together: those that move pins apart."""
        moved = [bool(moves_of(v)) for _, v in self.ways]
        for group in (False, True):
            own = [i for i, m in enumerate(moved) if m == group and not _is_stored(self.ways[i][1])]
            for first in range(0, len(own), TOGETHER):
                yield np.array(own[first : first + TOGETHER], np.intp)


class _Solving:
    """Variants by samples, the samples of one variant side by side; typical parts are the last.

    Either all of them move pins, or none does.
    """

    def __init__(
        self,
        supply: Supply,
        ways: Sequence[Variant],
        lanes: dict[Name, Array | float],
        sound: Sequence[OperatingPoints],
    ) -> None:
        """sound: where the samples rest without a fault, in every state; the working one first."""
        self.count, self.samples = len(ways), sound[0].count
        self.model, begin = supply.model, list(sound)
        changes = [v.changes for v in ways]
        if moves_of(ways[0]):
            self.model, begin = supply.crossbar.model, [supply.crossbar.begun(at) for at in sound]
            changes = [(*values_of(v), *supply.crossbar.changes(moves_of(v))) for v in ways]
            mixed = supply.crossbar.mixed(MIXED)
            some = chosen(lanes, np.arange(MIXED) % self.samples)
            self.engine({**some, **mixed}, MIXED, None, "once")
        again = np.tile(np.arange(self.samples), self.count)
        before = partial(value_before, self.model, lanes)
        self.lanes = {**chosen(lanes, again), **changed(before, changes, self.samples)}
        # Where each sample begins: sound, in this circuit.
        self.sound = [self.engine(lanes, self.samples, at, "near") for at in begin]

    def engine(
        self,
        lanes: Lanes,
        count: int,
        start: OperatingPoints | None = None,
        reach: Reach = "all",
    ) -> OperatingPoints:
        return operating_point(self.model, lanes, count, start, None, reach)

    def step(self, lanes: Lanes, count: int, start: OperatingPoints) -> OperatingPoints:
        return first_order(self.model, lanes, count, start)

    def all_samples(self) -> OperatingPoints:
        """Where all lanes come to rest; unsolved where they do not."""
        typical, origin = self._typical()
        way = np.arange(self.count * self.samples) // self.samples
        at = typical.take(way).moved(typical.take(way).last.T)
        for number, sound in enumerate(self.sound):
            hopeful = np.flatnonzero(typical.solved[way] & (origin[way] == number))
            if hopeful.size:
                begin = sound.take(hopeful % self.samples)
                at = at.replaced(hopeful, self._rest(hopeful, begin, "once"))
        left = np.flatnonzero(~at.solved & typical.solved[way])
        if left.size:
            at = at.replaced(left, self._rest(left, typical.take(way[left]), "once"))
        return at

    def _typical(self) -> tuple[OperatingPoints, Which]:
        """Where lanes with typical parts come to rest, and from which of the sound states.

        What has nowhere to go from the working one goes on from another: it did not come up.
        """
        last = np.arange(1, self.count + 1) * self.samples - 1
        origin = np.zeros(self.count, np.intp)
        at = self._rest(last, self._begin(0, self.count), "once")
        for number, reach in self._attempts():
            left = np.flatnonzero(~at.solved)
            left = left[:FEW] if reach == "all" else left
            if left.size:
                some = self._rest(last[left], self._begin(number, left.size), reach)
                origin[left[some.solved]] = number
                at = at.replaced(left, some)
        return at, origin

    def _attempts(self) -> Iterator[tuple[int, Reach]]:
        """From which sound state, and how far, what is left is tried.

        The working one is given up only once a walk from there has failed: a supply that can work
        is not told to have stayed off.
        """
        for number in range(len(self.sound)):
            yield from ((number, reach) for reach in REACHES)
        yield 0, "all"

    def _begin(self, number: int, count: int) -> OperatingPoints:
        return self.sound[number].take(np.full(count, self.samples - 1))

    def _rest(self, which: Which, begin: OperatingPoints, reach: Reach) -> OperatingPoints:
        to_rest = ToRest(self.engine, self.step, chosen(self.lanes, which), begin)
        at = to_rest.follow(reach)
        return replace(at, solved=at.solved & ~to_rest.restless)


def _each(lanes: Mapping[Name, Array | float], count: int) -> dict[Name, Array | float]:
    return {n: np.broadcast_to(np.asarray(v, float), (count,)) for n, v in lanes.items()}


def _is_stored(variant: Variant) -> bool:
    """Whether nothing at rest depends on what it changes."""
    names = [change.name[1] for change in variant.changes]
    return bool(names) and not variant.moves and {*names} <= {"capacitance", "esr"}


def _is_joint(name: Name) -> bool:
    return name[0] == SYSTEM and name[1].startswith("joint ")


def values_of(variant: Variant) -> tuple[Change, ...]:
    """What it changes besides where pins are joined."""
    return tuple(c for c in variant.changes if not _is_joint(c.name))


def moves_of(variant: Variant) -> Moves:
    """Where it joins pins otherwise; an open joint leaves its pin nowhere."""
    found = dict(variant.moves)
    for change in variant.changes:
        if _is_joint(change.name):
            ref, _, pin = change.name[1].removeprefix("joint ").rpartition(".")
            found[ref, pin] = NOWHERE
    return found


def _readable(circuit: Circuit, black: str) -> tuple[str, ...]:
    """Every electrical net but the common one and those that jump."""
    jumping = {
        net
        for part in circuit.parts
        for pin, net in part.pins.items()
        if part.device.pins[pin].role == "switch"
    }
    return tuple(net for net in circuit.nets if net != black and net not in jumping)


def _load(rail: str) -> str:
    return f"load on {rail}"


def _resistor(ref: str, one: str, two: str) -> Part:
    value = PartValue(Spread.exact(AWAY), "Ω", "the bench", False)
    pins = {"one": one, "two": two}
    return Part(ref, "resistor", kinds()["resistor"], pins, {"resistance": value}, {}, {})
