"""From a sound state to rest: two-state parts turn over as their inputs tell them.

Lanes in which something was changed begin in the state in which the sound circuit was. Every
two-state part is held in it while the rest settles; what is driven over then turns over, again and
again, until nothing turns over any more: what latches, trips or fires is in the state that follows
from the sound one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Lanes, Name, chosen
from railwright.engine.operating_point import Reach
from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import two_state_parts
from railwright.surveys.states import Engine, level

Array = NDArray[np.float64]
Which = NDArray[np.intp]
ROUNDS = 16
"""Times that two-state parts may turn over before a supply counts as one that comes to no rest."""
PAST = 0.1
"""How far beyond its bend a state is held: near enough for one step of the search to show whether
it is driven over, far enough for nothing else to depend on it."""
DRIVEN = 1e-3
"""How far a state is driven that turns over."""


class Step(Protocol):
    """Makes one step of the search from solutions nearby (`engine.operating_point.first_order`)."""

    def __call__(self, lanes: Lanes, count: int, start: OperatingPoints) -> OperatingPoints:
        """Where it leads."""
        ...


Seen = Callable[[Which, OperatingPoints], None]
"""Told of lanes, and of their solutions, on the way."""


class ToRest:
    """Lanes on their way from the sound states of their two-state parts to rest."""

    def __init__(
        self,
        engine: Engine,
        step: Step,
        lanes: Lanes,
        sound: OperatingPoints,
        seen: Seen = lambda which, at: None,
    ) -> None:
        """sound: where each lane begins."""
        self.engine, self.step = engine, step
        self.lanes = dict(lanes)
        self.sound = sound
        self.seen = seen
        self.count = sound.count
        self.parts = two_state_parts(sound.model)
        self.stuck = {
            ref: np.broadcast_to(np.asarray(lanes.get((ref, "free"), 1.0)) == 0.0, self.count)
            for ref in self.parts
        }
        self.states = {ref: np.round(level(sound, ref)) for ref in self.parts}
        """Of each part, where lanes are."""
        self.reached = {ref: states.copy() for ref, states in self.states.items()}
        """How far each part was active at most on the way, 0 or 1."""
        self.restless = np.zeros(self.count, bool)
        """Lanes in which parts keep turning over."""

    def follow(self, reach: Reach = "all") -> OperatingPoints:
        """Where all lanes come to rest; reach: as of `operating_point`."""
        at = self.held_at(np.arange(self.count), self.sound, reach)
        self.seen(np.arange(self.count), at)
        moving = self._turn_over(at, np.flatnonzero(at.solved))
        if not moving.size:
            return at
        return at.replaced(moving, self._go_on(moving, at.take(moving), reach))

    def _go_on(self, which: Which, at: OperatingPoints, reach: Reach) -> OperatingPoints:
        """Where lanes come to rest in which something has turned over."""
        moving = np.arange(which.size)
        for _ in range(ROUNDS):
            some = self.held_at(which[moving], at.take(moving), reach)
            at = at.replaced(moving, some)
            self.seen(which[moving], some)
            moving = moving[some.solved]
            turned = self._turn_over(at.take(moving), which[moving])
            moving = moving[np.isin(which[moving], turned)]
            if not moving.size:
                return at
        self.restless[which[moving]] = True
        return at

    def held_at(self, which: Which, start: OperatingPoints, reach: Reach) -> OperatingPoints:
        """These lanes with every two-state part held at its state."""
        lanes = {**chosen(self.lanes, which), **self._held(which)}
        return self.engine(lanes, which.size, start, reach)

    def _held(self, which: Which) -> dict[Name, Array]:
        """Every two-state part held at its state, those stuck where they are stuck."""
        found: dict[Name, Array] = {}
        for ref in self.parts:
            state, stuck = self.states[ref][which], self.stuck[ref][which]
            where = np.broadcast_to(self.lanes.get((ref, "forced"), 0.0), (self.count,))[which]
            found[ref, "free"] = np.zeros(which.size)
            found[ref, "forced"] = np.where(stuck, where, np.where(state > 0.5, 1.0 + PAST, -PAST))
        return found

    def _turn_over(self, at: OperatingPoints, which: Which) -> Which:
        """Turn over the states that are driven over; the lanes in which there are such.

        at: of these lanes, or of all.

        A state that is let go steps, all else at rest, by how far it is driven.
        """
        if not self.parts or not which.size:
            return which[:0]
        start = at if at.count == which.size else at.take(which)
        step = self.step(chosen(self.lanes, which), which.size, start)
        turned = np.zeros(which.size, bool)
        for ref in self.parts:
            state = self.states[ref][which]
            reached = step.unknown(ref, "state")
            over = np.where(state > 0.5, reached < 1.0 - DRIVEN, reached > DRIVEN)
            over &= ~self.stuck[ref][which]
            self.states[ref][which[over]] = 1.0 - state[over]
            self.reached[ref] = np.maximum(self.reached[ref], self.states[ref])
            turned |= over
        return which[turned]
