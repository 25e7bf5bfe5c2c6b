"""The search for all steady states of a circuit: many starts, and from one state to the next."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from railwright.engine import two_state
from railwright.engine.continuation import crossings
from railwright.engine.degree import balance, lone_signs, signs
from railwright.engine.kernel import Announce
from railwright.engine.ladders import driving, loading, scaled
from railwright.engine.model import Lanes, Model, Name, chosen
from railwright.engine.operating_point import Reach, operating_point
from railwright.engine.reduction import at_rest
from railwright.engine.solutions import OperatingPoints
from railwright.engine.system import trace

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Index = NDArray[np.intp]

SAME = {"V": 1e-5, "A": 1e-6, "K": 1e-3, "1": 1e-4}
"""Solutions that differ by less than this in every unknown are one, by unit."""
SAME_SHARE = 1e-6
"""And by this share of the unknown."""
UP = (0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0)
DOWN = (2.0, 1.75, 1.5, 1.3, 1.15, 1.05, 1.0)
LIGHTENED = (10.0, 5.0, 3.0, 2.0, 1.5, 1.2, 1.0)
STILL = (1.0,) * len(UP)
WALKS = ((UP, STILL), (DOWN, STILL), (STILL, UP), (STILL, LIGHTENED))
"""Of each walk: what all sources and what all loads are multiplied by, stage by stage."""
SPREAD = 32
"""Starts that are spread over the unknowns, half of them with every net low or high."""
MARGIN = 1.0
"""[V]. How far starts of a part's own voltages lie around those of known solutions."""
BETWEEN = np.linspace(0.1, 0.9, 9)
"""Starts on the line between two known states."""
DIRECTIONS = 2
"""Curves through every state, each for other currents."""
ROUNDS = 4
"""How often curves are followed from what others led to, and how often the search goes on where
signs tell that a state is missing."""


class Search:
    """States found so far, and the ways to find more."""

    def __init__(
        self, model: Model, lanes: Lanes, count: int, seed: int, announce: Announce | None
    ) -> None:
        self.model, self.lanes, self.count = model, lanes, count
        self.rng = np.random.default_rng(seed)
        self.plain = operating_point(model, lanes, count, announce=announce)
        system = trace(model.topology)
        self.read, self.wanted = system.parameters, at_rest(system).parameters
        self.lone = lone_signs(model, lanes, count, self._filled)
        units = [u.unit for u in model.topology.unknowns]
        self.same = np.array([SAME[unit] for unit in units])[:, None]
        self.x = np.empty((len(units), 0))
        self.lane = np.zeros(0, np.intp)
        self.sign = np.zeros(0)
        self._keep(self.plain, np.arange(count))

    def held(self) -> str:
        """Two-state parts held at each combination and let go."""
        parts = two_state.two_state_parts(self.model)
        if not parts:
            return ""
        trials = two_state.combinations(parts)
        which = np.repeat(np.arange(self.count), trials.shape[1])
        states = {r: np.tile(row, self.count) for r, row in zip(parts, trials, strict=False)}
        own = chosen(self.lanes, which)
        bound = operating_point(self.model, own | two_state.held(tuple(states), states), which.size)
        freed = operating_point(self.model, own, which.size, bound, reach="first")
        self._keep(freed, which)
        left = [ref for ref in parts if ref not in states]
        return f"{trials.shape[1]} combinations of {', '.join(states)}, held and let go" + (
            f" ({', '.join(left)} not held)" if left else ""
        )

    def walked(self) -> str:
        """Sources and loads changed step by step, each from both sides."""
        which = np.repeat(np.arange(self.count), len(WALKS))
        own = chosen(self.lanes, which)
        at = None
        for stage in range(len(UP)):
            sources, loads = (
                np.tile([walk[side][stage] for walk in WALKS], self.count) for side in (0, 1)
            )
            changed = own | scaled(self.model, own, driving, sources)
            changed |= scaled(self.model, own, loading, loads)
            reach: Reach = "all" if at is None else "near"
            at = operating_point(self.model, changed, which.size, at, reach=reach)
        assert at is not None
        self._keep(at, which)
        return (
            f"sources walked up from nil and down from {DOWN[0]:.0f} times as much, "
            f"loads from none and from {LIGHTENED[0]:.0f} times as much"
        )

    def spread(self, starts: int) -> str:
        """Starts spread over what the unknowns can be."""
        if not starts:
            return ""
        which = np.repeat(np.arange(self.count), starts)
        low, high = self._ranges()
        low, high = low[:, which], high[:, which]
        share = self.rng.random(low.shape)
        extreme = np.arange(which.size) % 2 == 0
        share = np.where(extreme, np.round(share), share)
        self._begin(which, low + share * (high - low))
        return f"{starts} starts spread over the unknowns"

    def _ranges(self) -> tuple[Array, Array]:
        """Least and greatest start of each unknown (row, lane)."""
        last = self.plain.last.T
        low = np.where(np.isfinite(last), last, self.model.cold_start(self.count))
        high = low.copy()
        np.minimum.at(low.T, self.lane, self.x.T)
        np.maximum.at(high.T, self.lane, self.x.T)
        driven = scaled(self.model, self.lanes, driving, 1.0)
        rails = [np.zeros(self.count)]
        rails += [np.broadcast_to(volts, self.count) for volts in driven.values()]
        bottom, top = np.min(rails, axis=0), np.max(rails, axis=0)
        for row, unknown in enumerate(self.model.topology.unknowns):
            if unknown.unit == "V" and not unknown.name:
                low[row], high[row] = np.minimum(low[row], bottom), np.maximum(high[row], top)
            elif unknown.unit == "V":
                low[row], high[row] = low[row] - MARGIN, high[row] + MARGIN
            elif unknown.unit == "1":
                low[row], high[row] = np.minimum(low[row], 0.0), np.maximum(high[row], 1.0)
        return low, high

    def followed(self, directions: int) -> str:
        """Curves through all states, and through those that they lead to."""
        if not directions:
            return ""
        done = 0
        for _ in range(ROUNDS):
            fresh = np.arange(done, self.lane.size)
            done = self.lane.size
            self._follow(np.repeat(fresh, directions))
        return f"{directions} curves through each state, on which currents into all nets change"

    def completed(self) -> str:
        """The search goes on in lanes where a state must be missing."""
        rounds = 0
        for _ in range(ROUNDS):
            total = balance(self.sign, self.lane, self.count)
            short = (total != 1.0) & ~np.isnan(total)
            states = np.flatnonzero(short[self.lane])
            if states.size:
                rounds += 1
                self._between(states)
                self._follow(states)
        if not rounds:
            return ""
        return f"{rounds} times more where states were missing, also on lines between known ones"

    def _follow(self, states: Index) -> None:
        """Curves through states on which random currents flow into all nets."""
        nets = np.array([u.balanced and u.unit == "V" for u in self.model.topology.unknowns])
        if states.size and nets.any():
            push = self.rng.standard_normal((nets.size, states.size)) * nets[:, None]
            which = self.lane[states]
            at = self._parameters(which)
            whence, x = crossings(self.model.topology, self.x[:, states], at, push)
            self._begin(which[whence], x)

    def _between(self, states: Index) -> None:
        """Starts on the lines between known states of a lane."""
        own = [states[self.lane[states] == lane] for lane in np.unique(self.lane[states])]
        pairs = [pair for some in own for pair in combinations(some.tolist(), 2)]
        if pairs:
            first, second = np.repeat(np.array(pairs).T, BETWEEN.size, axis=1)
            share = np.tile(BETWEEN, len(pairs))
            x = (1.0 - share) * self.x[:, first] + share * self.x[:, second]
            self._begin(self.lane[first], x)

    def _begin(self, which: Index, x: Array) -> None:
        """Look for solutions of lanes from unknowns (row, start)."""
        if which.size:
            start = self.plain.take(which).moved(x)
            own = chosen(self.lanes, which)
            self._keep(operating_point(self.model, own, which.size, start, reach="first"), which)

    def _keep(self, points: OperatingPoints, which: Index) -> None:
        """Add solutions that are not known yet."""
        x = points.last.T
        solved = np.flatnonzero(points.solved)
        fresh: list[int] = []
        for lane in np.unique(which[solved]):
            known = self.x[:, self.lane == lane]
            fresh += self._distinct(known, x, solved[which[solved] == lane])
        if fresh:
            lanes = which[fresh]
            sign = signs(self.model.topology, x[:, fresh], self._parameters(lanes))
            self.x = np.hstack([self.x, x[:, fresh]])
            self.lane = np.concatenate([self.lane, lanes])
            self.sign = np.concatenate([self.sign, sign * self.lone[lanes] + 0.0])

    def _distinct(self, known: Array, x: Array, which: Index) -> list[int]:
        """Those columns of x that differ from all known ones, and from one another."""
        near = self._same(x[:, which, None], known[:, None, :]).any(axis=1)
        rest, found = which[~near], []
        while rest.size:
            found.append(int(rest[0]))
            rest = rest[~self._same(x[:, rest, None], x[:, None, rest[:1]])[:, 0]]
        return found

    def _same(self, first: Array, second: Array) -> Mask:
        """Which solutions (row, one, other) are the same."""
        near = self.same[..., None] + SAME_SHARE * np.abs(second)
        return np.asarray((np.abs(first - second) <= near).all(axis=0), bool)

    def _parameters(self, which: Index) -> dict[Name, Array | float]:
        return self._filled(chosen(self.lanes, which), which.size)

    def _filled(self, lanes: Lanes, count: int) -> dict[Name, Array | float]:
        """Every parameter that the equations read, over lanes.

        What takes no part in steady states (noise, or what a grounded pin multiplies by nil) may
        not be known and may be any number.
        """
        found = self.model.parameters(self.wanted, lanes)
        return {name: np.broadcast_to(found.get(name, 1.0), count) for name in self.read}

    def solutions(self) -> tuple[OperatingPoints, Index, Array]:
        """All states, lane by lane: solutions, whose lane they are, and their signs."""
        order = np.argsort(self.lane, kind="stable")
        lane, sign = self.lane[order], self.sign[order]
        points = self.plain.take(lane)
        if lane.size:
            own, start = chosen(self.lanes, lane), points.moved(self.x[:, order])
            points = operating_point(self.model, own, lane.size, start, reach="first")
        kept = np.flatnonzero(points.solved)
        return points.take(kept), lane[kept], sign[kept]
