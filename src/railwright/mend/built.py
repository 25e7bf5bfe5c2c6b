"""What would be read on a supply whose parts are known: what learning compares readings with.

Beside the spread of the parts it knows what a bench leaves open: how far from the middle a hand
put a knob, or where it stands where the output was set, how well source and load are set, how warm
the room is.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import At, Place, Reading
from railwright.bench.steps import fitted_by_stage
from railwright.circuit.design import Design
from railwright.engine.assembly import AMBIENT, SYSTEM
from railwright.engine.model import ROOM, Name
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import two_state_parts
from railwright.surveys.fixture import feeding_ref, load_ref
from railwright.surveys.spread import PartSpread
from railwright.surveys.stages import Bench
from railwright.surveys.states import Stable, settle, stable_states
from railwright.surveys.windows import NOBODY

Array = NDArray[np.float64]
HAND = 0.05
"""Of its travel by which a knob in the middle may be off (common practice, no source)."""
SET = 0.02
"""Of its voltage by which a bench source may be set wrong (common practice, no source)."""
LOADS = 0.005
"""Of its current by which a load may be set wrong (common practice, no source)."""
WARMER = 7.0
"""K by which a room may be warmer or colder than 25 °C."""
LEAST: Mapping[str, float] = {"voltage": 0.1, "current": 1e-3}
"""V and A below which what is read counts as nothing where states are told apart."""
CONFIDENT = 1e-6
"""Least error of a reading, as a share of it: the figures of a solution end there."""


FED = (SYSTEM, "bench source over its setting")
LOADED = (SYSTEM, "load over its setting")


@dataclass(frozen=True)
class Open:
    """What a bench leaves open: of which part, which input, and within which limits."""

    name: Name
    low: float
    typical: float
    high: float
    setting: float | None = None
    """Of a knob: the voltage that it was set for, None where it is in the middle."""


class Built:
    """A built supply, or several stages of one, with what was read on it."""

    def __init__(self, design: Design, readings: Sequence[Reading]) -> None:
        self.design = design
        self.spread = PartSpread.of(design.circuit)
        self.open = tuple(_open(design, readings))
        kept, self._stages = list[Reading](), list[_Stage]()
        fitted = fitted_by_stage(design) if any(reading.stage for reading in readings) else {}
        all_of_them = tuple(part.ref for part in design.circuit.parts)
        for (name, at), several in itertools.groupby(sorted(readings, key=_order), _stand):
            refs, new = fitted.get(name, (all_of_them, all_of_them))
            stage = _Stage(design, refs, new, at, tuple(several))
            if stage.readings:
                self._stages.append(stage)
                kept += stage.readings
        self.readings = tuple(kept)
        """Those that can be predicted, in the order of everything here."""
        self.left_out = tuple(reading for reading in readings if reading not in kept)

    @cached_property
    def low(self) -> Array:
        """Least value of every unknown (unknown,)."""
        return np.concatenate([self.spread.low, [each.low for each in self.open]])

    @cached_property
    def typical(self) -> Array:
        """What an unknown is before anything is read (unknown,)."""
        return np.concatenate([self.spread.typical, [each.typical for each in self.open]])

    @cached_property
    def high(self) -> Array:
        """Greatest value of every unknown (unknown,)."""
        return np.concatenate([self.spread.high, [each.high for each in self.open]])

    @property
    def values(self) -> Array:
        """What was read (reading,)."""
        return np.array([reading.value for reading in self.readings])

    @property
    def errors(self) -> Array:
        """By how much each reading may be off (reading,)."""
        return np.array([max(r.error, CONFIDENT * max(abs(r.value), 1.0)) for r in self.readings])

    def read(self, unknowns: Array) -> Array:
        """What would be read (reading, lane) with no meter in the way, of unknowns (unknown, lane).

        Not-a-number where a lane has no solution.
        """
        rows = [
            stage.read(self._lanes(unknowns, stage), unknowns.shape[1]) for stage in self._stages
        ]
        return np.concatenate(rows) if rows else np.zeros((0, unknowns.shape[1]))

    def metered(self, unknowns: Array) -> Array:
        """What would be read (reading,) with the meter where it reads, of unknowns (unknown,)."""
        column = unknowns[:, None]
        rows = [stage.metered(self._lanes(column, stage)) for stage in self._stages]
        return np.concatenate(rows) if rows else np.zeros(0)

    def _lanes(self, unknowns: Array, stage: _Stage) -> dict[Name, Array | float]:
        parts, rest = unknowns[: self.spread.size], unknowns[self.spread.size :]
        bench = {
            each.name: row
            for each, row in zip(self.open, rest, strict=True)
            if each.name[0] == SYSTEM or each.setting == stage.at.setting
        }
        if stage.at.ambient is not None:
            bench[AMBIENT] = bench[AMBIENT] + stage.at.ambient - ROOM
        return stage.own({**self.spread.lanes(parts, bench[AMBIENT]), **bench})


def _stand(reading: Reading) -> tuple[str, At]:
    return reading.stage, reading.at


def _order(reading: Reading) -> tuple[str, str]:
    return reading.stage, repr(reading.at)


def _open(design: Design, readings: Sequence[Reading]) -> Iterator[Open]:
    yield Open(AMBIENT, ROOM - WARMER, ROOM, ROOM + WARMER)
    yield Open(FED, 1.0 - SET, 1.0, 1.0 + SET)
    yield Open(LOADED, 1.0 - LOADS, 1.0, 1.0 + LOADS)
    for control in design.controls:
        name = (control.part, control.value)
        for setting in dict.fromkeys(reading.at.setting for reading in readings):
            if setting is None and control.role == "set":
                yield Open(name, 0.5 - HAND, 0.5, 0.5 + HAND)
            else:
                yield Open(name, 0.0, 0.5, 1.0, setting)


class _Loaded(Bench):
    """With the loads of the need, which take what lanes say."""

    def off(self) -> set[str]:
        return {feeding_ref(rail) for rail in self.fixture.rails}


def _constant(design: Design) -> Design:
    """A design whose loads take the same current at any voltage, as those of a bench do."""
    outputs = tuple(replace(output, load=()) for output in design.need.output)
    return replace(design, need=replace(design.need, output=outputs))


class _Stage:
    """The parts that are fitted at a stage, in the state that was read."""

    def __init__(
        self,
        design: Design,
        refs: Sequence[str],
        new: Sequence[str],
        at: At,
        readings: Sequence[Reading],
    ) -> None:
        """refs: of what is fitted; new: of what was fitted last."""
        self.at = at
        kind = _Loaded if at.load else Bench
        design = _constant(design) if at.load else design
        # As at bringing up where that will do: its circuit is compiled already.
        self.bench = kind(design, refs, new)
        wanted = self._wanted(readings)
        if not wanted <= set(self.bench.read):
            self.bench = kind(design, refs, new, sorted(wanted))
        self.readings = tuple(r for r in readings if self._reads(r.place) and np.isfinite(r.value))
        if self.readings:
            self._start, self._state = self._found()

    def _wanted(self, readings: Sequence[Reading]) -> set[str]:
        """Nets that a meter hangs on."""
        nets = {net for r in readings for net in (r.place.red, r.place.black)}
        return nets & self.bench.circuit.nets.keys() - {self.bench.common}

    def _reads(self, place: Place) -> bool:
        if self.at.load and len(self.bench.fixture.rails) > 1:
            return False  # which of them was loaded is not said
        if place.quantity == "current":
            return any(source.pins["plus"] == place.red for source in self.bench.sources)
        nets = {place.red, place.black} - {self.bench.common}
        return place.quantity == "voltage" and nets <= self.bench.circuit.nets.keys()

    def _found(self) -> tuple[OperatingPoints | None, Mapping[str, float]]:
        """Of the states in which it may rest the one that reads most like what was read."""

        def away(found: tuple[dict[str, float], OperatingPoints, int]) -> float:
            _, at, lane = found
            return sum(_apart(float(self._value(at, r.place)[lane]), r) for r in self.readings)

        stable = self._stable().found
        if not stable:
            return None, {}
        state, at, lane = min(stable, key=away)
        return at.take(np.array([lane])), state

    def _stable(self) -> Stable:
        """The states in which it may rest, with typical parts and its knobs in the middle."""
        if not self.at.load:
            return self.bench.states()
        lanes = self.bench.lanes(self.bench.spread.typical[:, None]) | self._loads(1.0)
        parts = two_state_parts(self.bench.model)
        if parts:
            return stable_states(self.bench.engine, parts, lanes)
        at = self.bench.engine(lanes, 1)
        return Stable([({}, at, 0)] if at.solved.all() else [], True)

    def _loads(self, factor: Array | float) -> dict[Name, Array | float]:
        """What loads take, over what was said of them."""
        amperes = self.at.load or 0.0
        return {(load_ref(rail), "current"): amperes * factor for rail in self.bench.fixture.rails}

    def own(self, lanes: Mapping[Name, Array | float]) -> dict[Name, Array | float]:
        """Of all lanes those of what is fitted, fed as it is here."""
        fitted = {SYSTEM, *(part.ref for part in self.bench.circuit.parts)}
        found = {name: row for name, row in lanes.items() if name[0] in fitted}
        share, taken = found.pop(FED), found.pop(LOADED)
        if self.at.input is not None:
            share = share * self.at.input / self.bench.design.need.input.voltage.nominal
        found |= {name: volts * share for name, volts in self.bench.fed().items()}
        return found | (self._loads(taken) if self.at.load else {})

    def read(self, lanes: Mapping[Name, Array | float], count: int) -> Array:
        off = self.bench.metered(np.full(count, NOBODY))
        at = settle(self.bench.engine, {**lanes, **off}, count, self._state, self._start)
        return np.array([self._value(at, reading.place) for reading in self.readings])

    def metered(self, lanes: Mapping[Name, Array | float]) -> Array:
        taken = np.array([self._meter(reading.place) for reading in self.readings], np.intp)
        wide = {name: np.broadcast_to(np.ravel(row), taken.size) for name, row in lanes.items()}
        on = self.bench.metered(taken)
        at = settle(self.bench.engine, {**wide, **on}, taken.size, self._state, self._start)
        return np.array([self._value(at, r.place)[i] for i, r in enumerate(self.readings)])

    def _meter(self, place: Place) -> int:
        """Number of the net on which the meter hangs; it hangs between it and the common one."""
        if place.quantity == "voltage" and place.black == self.bench.common:
            return list(self.bench.read).index(place.red)
        return NOBODY

    def _value(self, at: OperatingPoints, place: Place) -> Array:
        if place.quantity == "current":
            return at.of(self._source(place.red), "current")
        return at.potential(place.red) - at.potential(place.black)

    def _source(self, plus: str) -> str:
        return next(part.ref for part in self.bench.sources if part.pins["plus"] == plus)


def _apart(value: float, reading: Reading) -> float:
    """How far a value is from what was read, from 0 to 1: volts and amperes count the same."""
    size = max(abs(value), abs(reading.value), LEAST[reading.place.quantity])
    return min(abs(value - reading.value) / size, 1.0)
