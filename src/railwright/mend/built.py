"""What would be read on a supply whose parts are known: what learning compares readings with.

Beside the spread of the parts it knows what a bench leaves open: how far from the middle a hand
put a knob, how well the bench source is set, how warm the room is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from railwright.bench.reading import Place, Reading
from railwright.bench.steps import fitted_by_stage
from railwright.circuit.design import Design
from railwright.engine.assembly import AMBIENT
from railwright.engine.model import ROOM, Name
from railwright.engine.solutions import OperatingPoints
from railwright.surveys.spread import PartSpread
from railwright.surveys.stages import Bench
from railwright.surveys.states import settle
from railwright.surveys.windows import NOBODY

Array = NDArray[np.float64]
HAND = 0.05
"""Of its travel by which a knob in the middle may be off (common practice, no source)."""
SET = 0.02
"""Of its voltage by which a bench source may be set wrong (common practice, no source)."""
WARMER = 7.0
"""K by which a room may be warmer or colder than 25 °C."""
CONFIDENT = 1e-6
"""Least error of a reading, as a share of it: the figures of a solution end there."""


@dataclass(frozen=True)
class Open:
    """What a bench leaves open: of which part, which input, and within which limits."""

    name: Name
    low: float
    typical: float
    high: float


class Built:
    """A built supply, or several stages of one, with what was read on it."""

    def __init__(self, design: Design, readings: Sequence[Reading]) -> None:
        self.design = design
        self.spread = PartSpread.of(design.circuit)
        self.open = tuple(_open(design))
        kept, self._stages = list[Reading](), list[_Stage]()
        fitted = fitted_by_stage(design) if any(map(_stage_of, readings)) else {}
        all_of_them = tuple(part.ref for part in design.circuit.parts)
        for name, several in groupby(sorted(readings, key=_stage_of), _stage_of):
            stage = _Stage(design, fitted.get(name, all_of_them), tuple(several))
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
        air = dict(zip([each.name for each in self.open], rest, strict=True))[AMBIENT]
        lanes: dict[Name, Array | float] = dict(self.spread.lanes(parts, air))
        lanes |= {each.name: row for each, row in zip(self.open, rest, strict=True)}
        return stage.own(lanes)


def _stage_of(reading: Reading) -> str:
    return reading.stage


def _open(design: Design) -> Iterator[Open]:
    yield Open(AMBIENT, ROOM - WARMER, ROOM, ROOM + WARMER)
    yield Open(FED, 1.0 - SET, 1.0, 1.0 + SET)
    for control in design.controls:
        name = (control.part, control.value)
        if control.role == "trim":
            yield Open(name, 0.0, 0.5, 1.0)
        else:
            yield Open(name, 0.5 - HAND, 0.5, 0.5 + HAND)


FED = ("", "bench source over its setting")


class _Stage:
    """The parts that are fitted at a stage, in the state that was read."""

    def __init__(self, design: Design, refs: Sequence[str], readings: Sequence[Reading]) -> None:
        nets = dict.fromkeys(
            net for reading in readings for net in (reading.place.red, reading.place.black)
        )
        bare = Bench(design, refs, refs, ("",))
        wanted = [net for net in nets if net in bare.circuit.nets and net != bare.common]
        self.bench = Bench(design, refs, refs, wanted or (next(iter(bare.circuit.nets)),))
        self.readings = tuple(r for r in readings if self._reads(r.place) and np.isfinite(r.value))
        if self.readings:
            self._start, self._state = self._found()

    def _reads(self, place: Place) -> bool:
        if place.quantity == "current":
            return any(source.pins["plus"] == place.red for source in self.bench.sources)
        nets = {place.red, place.black} - {self.bench.common}
        return place.quantity == "voltage" and nets <= set(self.bench.read)

    def _found(self) -> tuple[OperatingPoints | None, Mapping[str, float]]:
        """Of the states in which it may rest the one that reads most like what was read."""

        def away(found: tuple[dict[str, float], OperatingPoints, int]) -> float:
            _, at, lane = found
            return float(
                sum(
                    abs(self._value(at, reading.place)[lane] - reading.value)
                    for reading in self.readings
                )
            )

        stable = self.bench.states().found
        if not stable:
            return None, {}
        state, at, lane = min(stable, key=away)
        return at.take(np.array([lane])), state

    def own(self, lanes: Mapping[Name, Array | float]) -> dict[Name, Array | float]:
        """Of all lanes those of what is fitted, fed as it is here."""
        fitted = {"", *(part.ref for part in self.bench.circuit.parts)}
        found = {name: row for name, row in lanes.items() if name[0] in fitted}
        share = found.pop(FED)
        return found | {name: volts * share for name, volts in self.bench.fed().items()}

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
