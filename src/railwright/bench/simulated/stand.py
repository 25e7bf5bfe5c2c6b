"""A simulated supply on the bench, with what is connected to it, as instruments see it.

At rest everything is computed on the reference path (`bench.hidden`). Courses in time begin from
there and are followed by the transient engine, with the same hidden values and what is wrong.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railwright.bench.hidden import Conditions, Hidden, HiddenSupplies
from railwright.bench.reading import Place
from railwright.bench.steps import UNPOWERED, fitted_at
from railwright.circuit.design import Design
from railwright.engine.cycle import cycle
from railwright.engine.model import Name
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.solutions import OperatingPoints
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import transient
from railwright.engine.waveforms import Waveforms
from railwright.surveys.cycles import TICK
from railwright.surveys.fixture import load_ref, terminals

Array = NDArray[np.float64]
RISE = 1e-6
"""s in which a source or a load goes from one value to the next."""
MOST_STEPS = 1e6
PHASES = 512
"""Instants of a cycle."""


@dataclass(frozen=True)
class Change:
    """What was switched or turned, and how it was before."""

    before: Conditions
    after: Conditions


@dataclass
class Stand:
    """One supply, partly built or whole, with bench source, load, meter and scope."""

    design: Design
    hidden: Hidden
    stage: str = UNPOWERED
    volts: float = 0.0
    amperes: float = 0.0
    on: bool = False
    """The bench source: what it is set to, and whether it gives it."""
    load: float = 0.0
    loaded: bool = False
    positions: dict[str, float] = field(default_factory=dict)
    leads: Place | None = None
    """Where the meter's leads are."""
    rail: str = ""
    """At whose terminals load and scope are; the first one's where none is named."""
    joined: bool = False
    """Whether the scope's probe is on its own clip."""
    changed: Callable[[Change], None] = lambda change: None
    """Told of every change while it is on."""
    one_by_one: threading.Lock = field(default_factory=threading.Lock)
    """Whoever asks waits for the others."""
    _built: dict[str, HiddenSupplies] = field(default_factory=dict)
    _last: tuple[tuple[str, str], OperatingPoints] | None = None
    """Where it came to rest last, and under what; forgotten once it is switched off."""

    def __post_init__(self) -> None:
        self.rail = self.rail or self.design.need.output[0].name

    @property
    def built(self) -> HiddenSupplies:
        """What is fitted of it by now."""
        if self.stage not in self._built:
            whole = self.stage in ("", UNPOWERED)
            fitted = () if whole else fitted_at(self.design, self.stage)
            self._built[self.stage] = HiddenSupplies(self.design, [self.hidden], fitted)
        return self._built[self.stage]

    @property
    def conditions(self) -> Conditions:
        """How it is fed, set and loaded; several ends are fed in proportion."""
        feeds = self.built.bench.fixture.feeds
        first = next(iter(feeds.values()))
        share = self.volts / first if self.on else 0.0
        return Conditions(
            {ref: share * each for ref, each in feeds.items()},
            dict.fromkeys(feeds, max(self.amperes, 1e-3)),
            {self.rail: self.load if self.loaded else 0.0},
            dict(self.positions),
        )

    def change(self, **what: float | bool) -> None:
        """Switch or set something; who waits for it is told."""
        before = self.conditions
        for name, value in what.items():
            setattr(self, name, value)
        if not self.on:
            self._last = None
        after = self.conditions
        if (after.volts, after.loads) != (before.volts, before.loads):
            self.changed(Change(before, after))

    def turn(self, part: str, position: float) -> None:
        """Turn a knob, 0 to 1."""
        self.positions[part] = float(np.clip(position, 0.0, 1.0))

    def rest(self, under: Conditions) -> OperatingPoints:
        """Where it comes to rest from where it was; latches are as it is switched on, and stay."""
        key = self.stage, repr(under)
        if self._last is None or self._last[0] != key:
            before = self._last[1] if self._last and self._last[0][0] == self.stage else None
            self._last = key, self.built.settled(under, before)
        return self._last[1]

    def read(self, place: Place) -> float:
        """What an ideal meter reads; not-a-number where it comes to no rest."""
        if place.quantity == "resistance":
            return np.nan if self.on else float(self._resistances.get(place, [np.inf])[0])
        if not self.on:
            return 0.0
        under = self.conditions
        at = self.rest(under)
        if place.quantity == "voltage" and place.black != self.built.bench.common:
            return float(at.potential(place.red)[0] - at.potential(place.black)[0])
        return float(self.built.readings([place], under, at)[place][0])

    @cached_property
    def _resistances(self) -> dict[Place, Array]:
        return HiddenSupplies(self.design, [self.hidden]).resistances()

    def source_current(self) -> float:
        """What the bench source gives [A]."""
        if not self.on:
            return 0.0
        source = self.built.bench.sources[0]
        return float(self.rest(self.conditions).of(source.ref, "current")[0])

    def terminal_voltage(self) -> float:
        """At the rail's terminals [V]."""
        at = self.rest(self.conditions) if self.on else None
        if at is None:
            return 0.0
        nets = terminals(self.design.need.rail(self.rail) or self.design.need.output[0])
        return float(at.potential(nets.plus)[0] - at.potential(nets.minus)[0])

    def load_current(self) -> float:
        """What the load takes [A]; less than it is set to where the supply gives no more."""
        if not (self.on and self.loaded):
            return 0.0
        return float(self.rest(self.conditions).of(load_ref(self.rail), "current")[0])

    def source_voltage(self) -> float:
        """At the bench source's terminals [V]."""
        if not self.on:
            return 0.0
        source = self.built.bench.sources[0]
        return float(self.rest(self.conditions).of(source.ref, "voltage")[0])

    def course(self, change: Change, times: Array) -> Array:
        """Voltage at the rail's terminals while something is switched at 0 s (time)."""
        begin = self._quiescent(change.before)
        stimuli = {
            name: PiecewiseLinear(np.array([0.0, RISE]), np.array([low, high]))
            for name, low, high in self._moved(change)
        }
        if begin is None:
            return np.full(times.size, np.nan)
        found = transient(
            begin.model, begin.lanes, 1, times, begin.x, stimuli, most_steps=MOST_STEPS
        )
        return self._between(found)

    def _moved(self, change: Change) -> list[tuple[Name, float, float]]:
        """Inputs that have another value than before, or may have in another course."""
        before, after = change.before, change.after
        rows = [((ref, "voltage"), before.volts[ref], after.volts[ref]) for ref in before.volts]
        for rail in self.built.rails:
            low, high = before.loads.get(rail, 0.0), after.loads.get(rail, 0.0)
            rows.append(((load_ref(rail), "current"), low, high))
        return rows

    def _quiescent(self, under: Conditions, switched: bool = False) -> Quiescent | None:
        """At rest with temperatures held; None where it comes to no rest."""
        at = self.rest(under)
        if not at.solved.all():
            return None
        rest = quiescent(at, switched)
        return replace(rest, lanes={**self.built.lanes(under), **rest.lanes})

    def steady(self, times: Array) -> Array:
        """Voltage at the rail's terminals while nothing changes, its ripple included (time)."""
        mean = self.terminal_voltage()
        clock = self._clock() if self.on else None
        begin = self._quiescent(self.conditions, switched=True) if clock else None
        if begin is None or clock is None:
            return np.full(times.size, mean)
        found = cycle(begin.model, begin.lanes, 1, begin.x, clock, phases=PHASES)
        if not found.solved.all():
            return np.full(times.size, np.nan)
        turns = np.mod(times / float(found.period[0]), 1.0)
        volts: Array = np.interp(turns, found.phase, self._between(found), period=1.0)
        return volts

    def _between(self, waves: Waveforms) -> Array:
        """Voltage at the rail's terminals (time)."""
        nets = terminals(self.design.need.rail(self.rail) or self.design.need.output[0])
        found: Array = waves.potential(nets.plus)[0] - waves.potential(nets.minus)[0]
        return found

    def _clock(self) -> Name | None:
        return next(
            (
                (e.ref, TICK)
                for e in self.built.model.topology.elements
                if TICK in e.device.holds and e.device.switched_unknowns is not None
            ),
            None,
        )
