"""Bringing up: partly built supplies, fed from a bench source, and what a meter reads on them.

A stage is a supply with some of its blocks fitted, unloaded, at nominal input and 25 °C. It stands
when every input of its parts is led, every lane over the spread has an operating point in every
state in which it may rest, no disturbance grows there, and no part is beyond a rating. Only what
stands is asked for: a block that does not stand alone is fitted together with the next.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from railwright.circuit.circuit import Circuit, Part, PartValue, is_thermal
from railwright.circuit.design import Design
from railwright.devices import kinds
from railwright.devices.device import Role
from railwright.engine.linear import linearise
from railwright.engine.model import ROOM, Lanes, MissingValue, Model, Name
from railwright.engine.operating_point import Reach, operating_point
from railwright.engine.poles import poles
from railwright.engine.quiescent import quiescent
from railwright.engine.solutions import OperatingPoints
from railwright.engine.topology import AIR, Topology
from railwright.engine.two_state import two_state_parts
from railwright.quantity import Spread, show
from railwright.surveys.fixture import Fixture, feeding_ref, load_ref, terminals, transforms
from railwright.surveys.small_signals import least_decaying
from railwright.surveys.spread import PartSpread
from railwright.surveys.states import Engine, Stable, settle, stable_states
from railwright.surveys.windows import Read, Window, windows

Array = NDArray[np.float64]
METER = 10e6
"""Ω of a usual digital multimeter (common practice, no source)."""
AWAY = 1e12
"""Ω of one that is not there."""
NOTHING = 0.1
"""V; what reads less is not fed."""
MOST_READ = 6
"""Nets that are measured in one stage."""
LED: frozenset[Role] = frozenset(
    {"logic-input", "plus", "minus", "input", "enable", "feedback", "adjust", "gate", "base"}
)
"""Roles of pins that have to be led: loose, they make a part do anything."""
TELLING: Mapping[Role, int] = {
    "power-output": 0,
    "output": 1,
    "supply": 2,
    "power-input": 2,
    "cathode": 3,
    "feedback": 3,
    "adjust": 3,
}
"""Roles of pins whose nets tell whether a block works, the most telling first."""
NOT_READ: frozenset[Role] = frozenset({"switch"})
"""Roles of pins on whose nets a meter reads nothing of use."""
MOVES, MOST_MOVERS = 0.1, 4
"""Share of the greatest effect on a reading from which on one counts, and parts that are told."""
LIMIT_OVER, LEAST_LIMIT = 1.5, 20e-3
"""Times the current that is taken at most, and A at least, to which a bench source is set."""


@dataclass(frozen=True)
class Rest:
    """A state in which a stage may rest, with what is read in it."""

    state: Mapping[str, float]
    """Two-state part -> 0 or 1; empty where the stage has none."""
    volts: Mapping[str, Window]
    """Net -> what a meter reads from the common net to there."""
    amperes: Mapping[str, Window]
    """Feed -> what it gives."""
    movers: Mapping[str, Sequence[str]]
    """Net -> parts whose values move its reading most."""


@dataclass(frozen=True)
class Feed:
    """A bench source: its ends, and what it is set to [V, A]."""

    ref: str
    plus: str
    minus: str
    volts: float
    limit: float


@dataclass(frozen=True)
class Stage:
    """Blocks that are fitted together, and what is measured then."""

    name: str
    refs: tuple[str, ...]
    feeds: tuple[Feed, ...]
    common: str
    """Net that readings count from."""
    rests: tuple[Rest, ...]
    omitted: tuple[str, ...] = ()
    """Parts that are fitted and stand aside: a transformer, in whose place a feed is."""


@dataclass(frozen=True)
class BringUp:
    """Stages in their order, and why the rest is not asked for."""

    stages: tuple[Stage, ...]
    refused: str = ""


@dataclass(frozen=True)
class Objection:
    """Why a partly built supply is not asked for."""

    reason: str


def bring_up(design: Design) -> BringUp:
    """The stages of a design: its own, or its blocks in an order in which each stands.

    Refused from the first of its own stages on that does not stand, or where no more blocks do.
    """
    if design.stages:
        return _stated(design)
    groups = _groups(design.circuit)
    fitted: list[str] = []
    stages: list[Stage] = []
    reason = ""
    left = dict(groups)
    while left:
        found = _next(design, left, fitted)
        if isinstance(found, Objection):
            reason = f"{', '.join(left)}: {found.reason}"
            break
        names, stage = found
        stages.append(stage)
        for name in names:
            fitted += left.pop(name)
    return BringUp(tuple(stages), reason)


def _stated(design: Design) -> BringUp:
    stages: list[Stage] = []
    fitted: list[str] = []
    for said in design.stages:
        refs = tuple(said.parts)
        found = Bench(design, (*fitted, *refs), refs, said.measure).stage(said.name)
        if isinstance(found, Objection):
            return BringUp(tuple(stages), f"{said.name}: {found.reason}")
        stages.append(found)
        fitted += refs
    return BringUp(tuple(stages))


def _groups(circuit: Circuit) -> dict[str, list[str]]:
    """Refs by block, in the order of the file; what only cools goes with what it cools."""
    found: dict[str, list[str]] = {}
    homes: dict[str, str] = {}
    for part in circuit.parts:
        if not _only_thermal(part):
            homes[part.ref] = part.block
            found.setdefault(part.block, []).append(part.ref)
    for part in circuit.parts:
        if part.ref not in homes:
            found.setdefault(_cooled(circuit, part, homes), []).append(part.ref)
    return found


def _only_thermal(part: Part) -> bool:
    return all(is_thermal(part.device, pin) for pin in part.pins)


def _cooled(circuit: Circuit, part: Part, homes: Mapping[str, str]) -> str:
    """The block of what a thermal part leads heat from, through others of its kind."""
    seen, pending = {part.ref}, [part]
    while pending:
        for net in pending.pop().pins.values():
            for other, _ in circuit.on_net(net):
                if other.ref in homes and net in circuit.thermal_nets and not _is_air(net):
                    return homes[other.ref]
                if other.ref not in seen and _only_thermal(other) and not _is_air(net):
                    seen.add(other.ref)
                    pending.append(other)
    return part.block


def _is_air(net: str) -> bool:
    return net == AIR


def _next(
    design: Design, left: Mapping[str, Sequence[str]], fitted: Sequence[str]
) -> tuple[list[str], Stage] | Objection:
    """The fewest blocks that stand when they are fitted next, the earliest first."""
    names = list(left)
    first: Objection | None = None
    for count in range(1, len(names) + 1):
        for begin in range(len(names) - count + 1):
            several = names[begin : begin + count]
            refs = tuple(ref for name in several for ref in left[name])
            found = Bench(design, (*fitted, *refs), refs).stage(", ".join(several))
            if isinstance(found, Stage):
                return several, found
            first = first or found
    assert first is not None
    return first


@dataclass
class Bench:
    """Some parts of a design on the bench: fed, unloaded, with a meter on the nets to be read.

    new: those fitted last.
    """

    design: Design
    fitted: Sequence[str]
    new: Sequence[str]
    wanted: Sequence[str] = ()
    """Nets to be measured; found where none is named."""
    beside: Sequence[Part] = ()
    """What is connected besides, such as loads."""

    def __post_init__(self) -> None:
        own = set(self.fitted)
        parts = tuple(p for p in self.design.circuit.parts if p.ref in own)
        self.circuit = Circuit(parts)
        """Without sources and meters."""
        self.fixture = Fixture.of(self.design, self.circuit)
        off = self.off()
        powered = [p for p in self.fixture.at_rest.parts if p.ref not in off]
        self.sources = [p for p in powered if p.ref in self.fixture.feeds]
        self.common = common(self.design)
        self.read = self._read()
        meters = [self._meter(net) for net in self.read]
        self.powered = Circuit((*powered, *meters, *self.beside))
        topology = Topology.of(self.powered.parts, self.fixture.ground)
        nominal = {
            (part.ref, name): value.spread.typical
            for part in self.powered.parts
            for name, value in part.values.items()
        }
        self.model = Model(topology, nominal)
        self.spread = PartSpread.of(self.circuit)

    def off(self) -> set[str]:
        """Refs of what the need connects to its rails: none of it is here."""
        rails = self.fixture.rails
        return {ref(rail) for rail in rails for ref in (load_ref, feeding_ref)}

    def stage(self, name: str) -> Stage | Objection:
        """What is read on it, where it stands."""
        loose = next(self._loose(), None)
        if loose is not None:
            return Objection(loose)
        stable = self.states()
        if not stable.found:
            return Objection("no operating point was found")
        if not stable.complete:
            return Objection("not every state of its latches could be looked at")
        rests = []
        for state, at, lane in stable.found:
            found = self._rest(state, at.take(np.array([lane])))
            if isinstance(found, Objection):
                return found
            rests.append(found)
        if not self._tells(rests):
            return Objection("nothing of it is fed: there is nothing to read on it yet")
        feeds = tuple(self._feed(part, rests) for part in self.sources)
        aside = tuple(part.ref for part in self.circuit.parts if transforms(part))
        return Stage(name, tuple(self.new), feeds, self.common, tuple(rests), aside)

    def _tells(self, rests: Sequence[Rest]) -> bool:
        """Whether any reading is more than nothing."""
        return any(abs(w.typical) > NOTHING for rest in rests for w in rest.volts.values())

    def _loose(self) -> Iterator[str]:
        """Inputs to which nothing that is fitted leads."""
        led = self._led()
        for part in self.circuit.parts:
            for pin, net in part.pins.items():
                if part.device.pins[pin].role in LED and net not in led:
                    yield f"{pin} of {part.ref} is loose: nothing that is fitted leads to {net}"

    def _led(self) -> set[str]:
        """Nets with a path for direct current to ground or a feed, through whatever is fitted."""
        found = {self.fixture.ground, *(n for p in self.sources for n in p.pins.values())}
        pairs = [
            {part.pins[one], part.pins[other]}
            for part in self.circuit.parts
            for one, other in part.device.conducts
            if one in part.pins and other in part.pins
        ]
        while grown := [pair for pair in pairs if pair & found and pair - found]:
            found = found.union(*grown)
        return found

    def _read(self) -> list[str]:
        """Nets to put a meter on, the most telling first."""
        if self.wanted:
            return list(self.wanted)
        own = set(self.new)
        known = {n for p in self.circuit.parts if p.ref not in own for n in p.pins.values()}
        pairs = [terminals(output) for output in self.design.need.output]
        rails = {net for pair in pairs for net in (pair.plus, pair.minus)}
        ranked: dict[str, tuple[bool, int, int]] = {}
        for place, (net, ends) in enumerate(self.circuit.nets.items()):
            roles = {self.circuit.part(ref).device.pins[pin].role for ref, pin in ends}
            if net == self.common or roles & NOT_READ or not own & {r for r, _ in ends}:
                continue
            there = self.design.circuit.on_net(net)
            joins = len({part.block for part, _ in there}) > 1
            rank = min((TELLING[r] for r in roles if r in TELLING), default=4)
            rank = min(rank, 1) if net in rails else rank
            if joins or rank < 4:
                ranked[net] = net in known, rank + (not joins), place
        return sorted(ranked, key=ranked.__getitem__)[:MOST_READ]

    def _meter(self, net: str) -> Part:
        value = PartValue(Spread.exact(AWAY), "Ω", "the meter", False)
        pins = {"one": net, "two": self.common}
        return Part(
            _meter(net), "resistor", kinds()["resistor"], pins, {"resistance": value}, {}, {}
        )

    def _solve(
        self,
        lanes: Lanes,
        count: int,
        start: OperatingPoints | None = None,
        reach: Reach = "all",
    ) -> OperatingPoints:
        return operating_point(self.model, lanes, count, start, None, reach)

    @property
    def engine(self) -> Engine:
        return self._solve

    def lanes(self, actual: Array) -> dict[Name, Array | float]:
        """Lanes with these quantities (quantity, lane), in the air of a room."""
        count = actual.shape[1]
        return self.spread.lanes(actual, np.full(count, ROOM)) | self.fed()

    def fed(self) -> dict[Name, float]:
        """What the bench sources are set to."""
        volts = self.design.need.input.voltage.nominal
        return {(ref, "voltage"): volts * share for ref, share in self.fixture.feeds.items()}

    def states(self) -> Stable:
        """Every state in which it may rest, with typical parts."""
        parts = two_state_parts(self.model)
        lanes = self.lanes(self.spread.typical[:, None])
        if parts:
            return stable_states(self.engine, parts, lanes)
        at = self.engine(lanes, 1)
        return Stable([({}, at, 0)] if at.solved.all() else [], True)

    def metered(self, taken: NDArray[np.intp]) -> dict[Name, Array | float]:
        """Lanes with the meter on the net of a number (lane); on none where there is none of it."""
        return {
            (_meter(net), "resistance"): np.where(taken == index, METER, AWAY)
            for index, net in enumerate(self.read)
        }

    def _rest(self, state: Mapping[str, float], start: OperatingPoints) -> Rest | Objection:
        def solve(actual: Array, taken: NDArray[np.intp]) -> OperatingPoints:
            lanes = self.lanes(actual) | self.metered(taken)
            return settle(self.engine, lanes, actual.shape[1], state, start)

        volts = {net: _potential(net, self.common) for net in self.read}
        amperes = {part.ref: _current(part.ref) for part in self.sources}
        found = windows(self.spread, solve, volts | amperes)
        if found.unsolved:
            return Objection(f"{found.unsolved} lanes over its spread have no operating point")
        broken = next(filter(None, map(self._beyond, found.lanes)), "") or self._grows(start)
        if broken:
            return Objection(broken)
        return Rest(
            state,
            {net: found.of[net] for net in volts},
            {ref: found.of[ref] for ref in amperes},
            {net: self._movers(found.moved_by[net]) for net in volts},
        )

    def _movers(self, moved: Array) -> tuple[str, ...]:
        """Parts whose values move a reading most."""
        order = np.argsort(-np.abs(moved))
        telling = [i for i in order if abs(moved[i]) > MOVES * np.abs(moved).max()]
        refs = [ref for i in telling for ref, _ in self.spread.quantities[i].moves]
        return tuple(dict.fromkeys(refs))[:MOST_MOVERS]

    def _beyond(self, at: OperatingPoints) -> str:
        """A part that is beyond one of its ratings; empty where none is."""
        for part in self.circuit.parts:
            for name, rating in part.device.ratings.items():
                if name not in part.ratings or (part.ref, rating.bounds) not in at.observables:
                    continue
                seen = float(np.max(np.abs(at.of(part.ref, rating.bounds))))
                if seen > part.ratings[name]:
                    limit = show(part.ratings[name], rating.unit)
                    words = name.replace("_", " ")
                    return f"{part.ref} sees {show(seen, rating.unit)}; its {words} is {limit}"
        return ""

    def _grows(self, start: OperatingPoints) -> str:
        """What is said where a disturbance grows, or that cannot be told; else empty."""
        try:
            slowest = least_decaying(poles(linearise(quiescent(start)), exact=False))
        except MissingValue as error:
            return f"whether it is stable cannot be told: {error}"
        if np.isnan(slowest).any():
            return "whether a disturbance dies away is hidden by rounding"
        return "a disturbance grows: it would oscillate" if (slowest.real > 0).any() else ""

    def _feed(self, part: Part, rests: Sequence[Rest]) -> Feed:
        most = max(rest.amperes[part.ref].high for rest in rests)
        limit = max(LEAST_LIMIT, LIMIT_OVER * most)
        volts = self.design.need.input.voltage.nominal * self.fixture.feeds[part.ref]
        own = self.design.need.input.limit
        if own is not None:
            limit = min(limit, own.current)
        return Feed(part.ref, part.pins["plus"], part.pins["minus"], volts, limit)


def common(design: Design) -> str:
    """The net outside that most ends share, and then most parts: the black lead stays there."""
    need = design.need
    pairs = [terminals(output) for output in need.output]
    pairs += [] if need.input.kind == "ac" else [terminals(need.input)]
    ends = [net for pair in pairs for net in (pair.minus, pair.plus)]

    def shared(net: str) -> tuple[int, int]:
        return ends.count(net), len(design.circuit.on_net(net))

    return max(dict.fromkeys(ends), key=shared)


def _potential(net: str, common: str) -> Read:
    return lambda at: at.potential(net) - at.potential(common)


def _current(ref: str) -> Read:
    return lambda at: at.of(ref, "current")


def _meter(net: str) -> str:
    return f"meter on {net}"
