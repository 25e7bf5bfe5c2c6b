"""Built supplies that are simulated: their parts drawn from the spread, with what nobody was told.

To try measuring and mending on. What they read is computed on the reference path alone, from
parameters that no answer of the tool can know: every value is drawn, those that no maker
guarantees are off once more, the air has a temperature of its own, and something may be wrong.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import Place
from railwright.circuit.circuit import Circuit
from railwright.circuit.design import Design
from railwright.engine.assembly import AMBIENT, bridge_name, joint_name
from railwright.engine.model import ROOM, Lanes, Model, Name, chosen
from railwright.engine.operating_point import operating_point
from railwright.engine.plainly import Plainly
from railwright.engine.solutions import OperatingPoints
from railwright.engine.topology import Topology
from railwright.engine.two_state import State, combinations, held, two_state_parts
from railwright.surveys.fixture import load_ref, transforms
from railwright.surveys.single_faults import value_before
from railwright.surveys.spread import PartSpread
from railwright.surveys.stages import AWAY, METER, Bench
from railwright.surveys.states import level, stable_states
from railwright.surveys.suspects import Suspect, Suspects, suspects_of
from railwright.surveys.unpowered import MOST, Unpowered, ohms

Array = NDArray[np.float64]
PERTURBED = 0.05
"""Standard deviation of the logarithm by which values that nobody guarantees are off once more."""
WARMER = 5.0
"""K by which the air may be warmer or colder than a room."""

SAME_STATE = 0.5
GRADUALLY = (1e11, 1e10, 1e9, 1e8, METER)
"""Ω of a voltmeter on its way to a net."""


@dataclass(frozen=True)
class Hidden:
    """What nobody was told about a built supply."""

    seed: int
    """Of its parts and of the air around it."""
    faults: tuple[Suspect, ...] = ()


@dataclass(frozen=True)
class Conditions:
    """How supplies are fed, set and loaded; what is not said is as at bring-up."""

    volts: Mapping[str, float] = field(default_factory=dict)
    """Source -> what it is set to [V]; its nominal one where nothing is said."""
    amperes: Mapping[str, float] = field(default_factory=dict)
    """Source -> its current limit [A]."""
    loads: Mapping[str, float] = field(default_factory=dict)
    """Rail -> what a constant-current load takes [A]; nothing where nothing is said."""
    positions: Mapping[str, float] = field(default_factory=dict)
    """Part of a control -> where its knob stands, 0 to 1; the middle where nothing is said."""


def suspects(design: Design, fitted: Sequence[str] = ()) -> tuple[Suspect, ...]:
    """Everything that can be wrong with a built supply, to choose faults from."""
    bench = _bench(design, fitted)
    return _suspected(bench.circuit, bench.model.topology).several


class HiddenSupplies:
    """Built supplies of one design, side by side (lane), and what a meter reads on them."""

    def __init__(
        self, design: Design, hidden: Sequence[Hidden], fitted: Sequence[str] = ()
    ) -> None:
        """fitted: refs of the parts that are in it; all where empty."""
        self.design, self.hidden = design, tuple(hidden)
        self.bench = _bench(design, fitted)
        self.places = (
            *(Place("current", s.pins["plus"], s.pins["minus"]) for s in self.bench.sources),
            *(Place("voltage", net, self.bench.common) for net in self.bench.read),
        )
        """Where they can be read."""
        self.rails = [
            name
            for name, output in self.bench.fixture.rails.items()
            if output.nets and {output.nets.plus, output.nets.minus} <= {*self.bench.circuit.nets}
        ]
        self.model = self._model()
        self.engine = Plainly(self.model)

    @property
    def count(self) -> int:
        """Number of supplies."""
        return len(self.hidden)

    def _model(self) -> Model:
        """The circuit with loads, and with the joints and bridges at which something is wrong."""
        loads = [
            replace(part, options={**part.options, "style": "constant-current"})
            for part in self.bench.fixture.at_rest.parts
            if part.ref in map(load_ref, self.rails)
        ]
        circuit = Circuit((*self.bench.powered.parts, *loads))
        sound = Topology.of(circuit.parts, self.bench.fixture.ground)
        return Model(self._with_faults(sound, self.bench.circuit), self.bench.model.nominal)

    def _with_faults(self, sound: Topology, circuit: Circuit) -> Topology:
        """A topology with the joints and bridges of all that is wrong with some supply."""
        known = _suspected(circuit, sound).topology
        changed = {c.name for h in self.hidden for fault in h.faults for c in fault.changes}
        return replace(
            sound,
            joints=tuple(joint for joint in known.joints if joint_name(*joint) in changed),
            bridges=tuple(bridge for bridge in known.bridges if bridge_name(*bridge) in changed),
        )

    @cached_property
    def actual(self) -> dict[Name, Array | float]:
        """Values and the air (lane), nothing being wrong yet."""
        rngs = [np.random.default_rng([each.seed, 488]) for each in self.hidden]
        uniform = np.array([rng.random(self.bench.spread.size) for rng in rngs]).T
        air = ROOM + WARMER * np.array([rng.uniform(-1.0, 1.0) for rng in rngs])
        drawn = self.bench.spread.draw(uniform.reshape(self.bench.spread.size, self.count))
        lanes: dict[Name, Array | float] = {**self.bench.spread.lanes(drawn, air), AMBIENT: air}
        for part in self.bench.circuit.parts:
            for name, value in part.values.items():
                if value.assumed:
                    off = np.exp(PERTURBED * np.array([rng.standard_normal() for rng in rngs]))
                    was = lanes.get((part.ref, name), value.spread.typical)
                    lanes[part.ref, name] = was * off
        return lanes

    def lanes(self, under: Conditions) -> dict[Name, Array | float]:
        """Everything that differs from the model's nominal values, what is wrong included."""
        lanes = dict(self.actual)
        nominal = self.design.need.input.voltage.nominal
        for ref, share in self.bench.fixture.feeds.items():
            lanes[ref, "voltage"] = under.volts.get(ref, nominal * share)
            if ref in under.amperes:
                lanes[ref, "current_limit"] = under.amperes[ref]
        for rail in self.rails:
            lanes[load_ref(rail), "current"] = under.loads.get(rail, 0.0)
        for control in self.design.controls:
            if control.part in under.positions:
                lanes[control.part, control.value] = under.positions[control.part]
        return self._wrong(lanes)

    def _wrong(
        self, lanes: Mapping[Name, Array | float], model: Model | None = None
    ) -> dict[Name, Array | float]:
        """The same lanes with what is wrong in each."""
        model, found = model or self.model, dict(lanes)
        for lane, each in enumerate(self.hidden):
            for change in (change for fault in each.faults for change in fault.changes):
                owner, _ = change.name
                if owner and owner not in model.topology.element:
                    continue  # not fitted yet
                before = value_before(model, found, change.name)
                row = np.array(np.broadcast_to(np.asarray(before, float), (self.count,)))
                row[lane] = change.of(row[lane])
                found[change.name] = row
        return found

    @cached_property
    def _states(self) -> Sequence[State]:
        """States of two-state parts that may be left, the one of a supply switched on first.

        That is the stable one with typical parts in which most is alive; the others come in the
        order of how much of it has to turn over.
        """
        parts = two_state_parts(self.model)
        if not parts:
            return [{}]

        def alive(found: tuple[State, OperatingPoints, int]) -> float:
            _, at, lane = found
            return float(sum(abs(self._volts(at, net)[lane]) for net in self.bench.read))

        lanes = self.bench.lanes(self.bench.spread.typical[:, None])
        stable = stable_states(self.engine, parts, lanes).found
        first = max(stable, key=alive)[0] if stable else dict.fromkeys(parts, 0.0)
        every = [dict(zip(parts, row, strict=False)) for row in combinations(parts).T]
        return sorted(every, key=lambda s: sum(abs(s[ref] - first[ref]) for ref in s))

    def _volts(self, at: OperatingPoints, net: str) -> Array:
        return at.potential(net) - at.potential(self.bench.common)

    def settled(
        self, under: Conditions = Conditions(), before: OperatingPoints | None = None
    ) -> OperatingPoints:
        """Where supplies come to rest (lane), no meter being on them.

        before: from where they come. Else latches and comparators are let go from where they are
        in a sound supply that is switched on; those that have to turn over do.
        """
        lanes = self.lanes(under)
        if before is not None and before.solved.all():
            at = self.engine(lanes, self.count, before, "near")
            if at.solved.all():
                return at
        at = self._left(lanes, self.count, self._states[0])
        for state in self._states[1:]:
            open_ = np.flatnonzero(~at.solved)
            if not open_.size:
                return at
            at = at.replaced(open_, self._left(chosen(lanes, open_), open_.size, state))
        return self._confirmed(lanes, at)

    def _confirmed(
        self, lanes: Lanes, at: OperatingPoints, start: OperatingPoints | None = None
    ) -> OperatingPoints:
        """Lanes that the reference path does not find by itself, begun where the fast path ends.

        What counts is what the reference path makes of it: a solution of its own, or none. start:
        from where each comes.
        """
        open_ = np.flatnonzero(~at.solved)
        if not open_.size:
            return at
        some, state = chosen(lanes, open_), self._states[0]
        first = None if start is None else start.take(open_)
        if first is None and state:
            first = self.engine({**some, **held(tuple(state), state)}, open_.size)
        found = operating_point(self.model, some, open_.size, first)
        sure = self.engine(some, open_.size, found, "near")
        return at.replaced(open_, replace(sure, solved=sure.solved & found.solved))

    def _left(self, lanes: Lanes, count: int, state: State) -> OperatingPoints:
        """Where lanes come to rest from a state in which two-state parts are held at first."""
        if not state:
            return self.engine(lanes, count)
        bound = self.engine({**lanes, **held(tuple(state), state)}, count)
        freed = self.engine(lanes, count, bound, "near")
        return replace(freed, solved=freed.solved & bound.solved)

    def readings(
        self,
        places: Sequence[Place] = (),
        under: Conditions = Conditions(),
        alone: OperatingPoints | None = None,
    ) -> dict[Place, Array]:
        """What an ideal meter reads at places (lane), all where none is named.

        A voltmeter loads what it is on with its resistance. Not-a-number where a supply does not
        come to rest. alone: where they do without a meter, if that is known.
        """
        alone, wanted = alone or self.settled(under), tuple(places or self.places)
        nets = [place.red for place in wanted if place.quantity == "voltage"]
        on = self._metered(alone, nets, under) if nets else alone
        found = {}
        for place in wanted:
            if place.quantity == "current":
                source = next(s for s in self.bench.sources if s.pins["plus"] == place.red)
                found[place] = alone.of(source.ref, "current")
            else:
                first = nets.index(place.red) * self.count
                found[place] = self._volts(on, place.red)[first : first + self.count]
        return found

    def _metered(
        self, alone: OperatingPoints, nets: Sequence[str], under: Conditions
    ) -> OperatingPoints:
        """The same with a voltmeter on each net in turn (net, lane)."""
        each = np.tile(np.arange(self.count), len(nets))
        taken = np.repeat([self.bench.read.index(net) for net in nets], self.count).astype(np.intp)
        lanes = chosen(self.lanes(under), each) | self.bench.metered(taken)
        start = alone.take(each)
        near: OperatingPoints | None = None
        on = self.engine(lanes, each.size, start, "near")
        if not on.solved.all():
            # The meter comes closer by and by.
            for ohms in GRADUALLY:
                closer = {
                    n: np.where(v < AWAY, ohms, v) for n, v in self.bench.metered(taken).items()
                }
                near = self.engine({**lanes, **closer}, each.size, near or start, "near")
            assert near is not None
            open_ = np.flatnonzero(~on.solved)
            on = self._confirmed(lanes, on.replaced(open_, near.take(open_)), start)
        # A voltmeter turns no latch over: what is found in another state is no reading.
        same = start.solved
        for ref in two_state_parts(self.model):
            same = same & (np.abs(level(on, ref) - level(start, ref)) < SAME_STATE)
        return replace(on, solved=on.solved & same)

    def resistances(self) -> dict[Place, Array]:
        """What an ohmmeter reads while nothing feeds them (lane).

        Infinite beyond what it shows.
        """
        dead = Unpowered(self.design, across=True)
        topology = self._with_faults(dead.model.topology, dead.circuit)
        model = Model(topology, dead.model.nominal)
        lanes = self._wrong(self.actual, model)
        each = np.tile(np.arange(self.count), len(dead.pairs))
        taken = np.repeat(np.arange(len(dead.pairs)), self.count)
        at = Plainly(model)(chosen(lanes, each) | dead.connected(taken), each.size)
        found = {}
        for index, pair in enumerate(dead.pairs):
            row = ohms(*pair)(at)[index * self.count : (index + 1) * self.count]
            found[Place("resistance", *pair)] = np.where(row >= MOST, np.inf, row)
        return found


def _bench(design: Design, fitted: Sequence[str]) -> Bench:
    """All nets of what is fitted but the common one and those that jump, with a meter for each."""
    refs = tuple(fitted) or tuple(part.ref for part in design.circuit.parts)
    bare = Bench(design, refs, refs)
    return Bench(design, refs, refs, readable(bare))


def readable(bench: Bench) -> tuple[str, ...]:
    """Every electrical net but the common one and those that jump."""
    return tuple(
        net for net in bench.circuit.nets if net != bench.common and net not in _jumping(bench)
    )


def _suspected(circuit: Circuit, sound: Topology) -> Suspects:
    """What may be wrong with a circuit as the bench feeds it: transformers stand aside."""
    fed = Circuit(tuple(part for part in circuit.parts if not transforms(part)))
    return suspects_of(fed, sound, PartSpread.of(fed))


def _jumping(bench: Bench) -> Iterator[str]:
    for part in bench.circuit.parts:
        for pin, net in part.pins.items():
            if part.device.pins[pin].role == "switch":
                yield net
