"""One step of the integration in time, as expressions over a traced system.

The method is TR-BDF2 in its form with one Newton matrix for both stages: a trapezoidal stage to
the share gamma of the step, then a second-order backward difference. It is L-stable, so that
stiff parts come to rest and algebraic equations cannot ring. Source: Bank, Coughran, Fichtner,
Grosse, Rose and Smith (1985), Transient simulation of silicon devices and circuits; Hosea and
Shampine (1996), Analysis and implementation of TR-BDF2, for the error estimate and its filter.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cached_property

from railwright.engine.assembly import TIME, Storage
from railwright.engine.elimination import Place, solve_symbolically
from railwright.engine.expression import Expression, gradient
from railwright.engine.system import Name, System, slopes_of

GAMMA = 2.0 - math.sqrt(2.0)
"""Where the first stage ends, as a share of the step."""
IMPLICIT = 0.5 * GAMMA
"""Share of the step that multiplies the newest rate, in both stages."""
WEIGHT = 0.25 * math.sqrt(2.0)
"""Share of the step that multiplies each older rate, in the second stage."""
ERROR = ((4.0 * WEIGHT - 1.0) / 3.0, -1.0 / 3.0, 2.0 * IMPLICIT / 3.0)
"""Weights of the three rates in the difference from the embedded third-order method."""

FAR = 1e30
"""Stands for an instant that never comes; its negative for the guard of an event that would
change nothing."""
CHAIN = 1e-4
"""What losses of several pivots in a row count for in a step, see `solve_symbolically`."""
PARASITIC = (300.0, 3e4)
"""By what the tolerances, relative and absolute, of parasitic charges are larger: the shape of an
edge of some nanoseconds need not be exact to a part in ten thousand."""


class Step:
    """Expressions of a step.

    Beyond the parameters of the system they read rows of their own, numbered after those:
    `inverse` (1 over the implicit share of the step), `step`, whether it has but one stage
    (`restart`), `history`, the rates at the start (`rate`) and after the first stage (`middle`),
    the `largest` distance of each storage from its `datum` so far, `relative` and `absolute`
    tolerance.
    """

    def __init__(
        self,
        system: System,
        driven: Sequence[Name],
        order: Sequence[Place],
        clock: Name | None = None,
    ) -> None:
        self.system = system
        self.graph = system.graph
        self.driven = tuple(driven)
        self.order = order
        self.clock = self._event_of(clock)
        self.stored = tuple(sorted(system.stored))
        self.extras: dict[tuple[str, int], int] = {}
        self._number()

    def _event_of(self, held: Name | None) -> int | None:
        """Number of the event that changes a held quantity."""
        changing = [i for i, e in enumerate(self.system.events) if held in e.changes]
        return changing[0] if changing else None

    def _number(self) -> None:
        sizes = {
            "inverse": 1,
            "step": 1,
            "restart": 1,
            "relative": 1,
            "absolute": 1,
            "history": len(self.stored),
            "rate": len(self.stored),
            "middle": len(self.stored),
            "largest": len(self.system.storages),
            "datum": len(self.system.storages),
        }
        for name, size in sizes.items():
            for place in range(size):
                self.extras[name, place] = len(self.system.parameters) + len(self.extras)

    def extra(self, name: str, place: int = 0) -> Expression:
        """One of the step's own rows."""
        return self.graph.parameter(self.extras[name, place])

    @cached_property
    def holds(self) -> tuple[Name, ...]:
        """Held quantities that some event changes."""
        return tuple(dict.fromkeys(name for e in self.system.events for name in e.changes))

    @cached_property
    def moving(self) -> frozenset[int]:
        """Parameters that change in the course of time."""
        names = {TIME, *self.holds, *self.driven}
        own = {i for i, name in enumerate(self.system.parameters) if name in names}
        return frozenset(own | set(self.extras.values()))

    @cached_property
    def amounts(self) -> list[Expression]:
        """What is stored, row by row of `stored`."""
        return [self.system.stored[row] for row in self.stored]

    @cached_property
    def rates(self) -> list[Expression]:
        """Rates of change at the newest stage."""
        return [
            self.extra("inverse") * (amount - self.extra("history", place))
            for place, amount in enumerate(self.amounts)
        ]

    @cached_property
    def residuals(self) -> list[Expression]:
        """What the Newton iteration of a stage brings to nil."""
        found = list(self.system.residuals)
        for row, rate in zip(self.stored, self.rates, strict=True):
            found[row] = found[row] + rate
        return found

    @cached_property
    def slopes(self) -> Mapping[Place, Expression]:
        """Derivatives of the residuals by the unknowns."""
        return slopes_of(self.residuals)

    @cached_property
    def iteration(self) -> list[Expression]:
        """The Newton step of every unknown."""
        return solve_symbolically(self.slopes, self.residuals, self.order)[0]

    @cached_property
    def estimate(self) -> tuple[Expression, Expression]:
        """The step's error over its tolerance, and the trust in the pivots that filtered it."""
        right: list[Expression] = [self.graph.constant(0.0)] * len(self.residuals)
        scale = self.extra("step") * self.extra("inverse")
        for place, row in enumerate(self.stored):
            right[row] = -(scale * self._totals[place])
        errors, trust = solve_symbolically(self.slopes, right, self.order, CHAIN)
        worst = self.graph.constant(0.0)
        for place, storage in enumerate(self.system.storages):
            worst = self.graph.make("max", worst, self._share(place, storage, errors))
        return worst, trust

    @cached_property
    def _totals(self) -> list[Expression]:
        """Difference from the embedded method, over the step, of what is stored by row."""
        found = []
        for place, rate in enumerate(self.rates):
            old, middle = self.extra("rate", place), self.extra("middle", place)
            total = ERROR[0] * old + ERROR[1] * middle + ERROR[2] * rate
            # A backward Euler step is off by half of what its rate has changed.
            found.append(total.select(self._settles, 0.5 * (rate - old), total))
        return found

    @cached_property
    def bend(self) -> Expression:
        """By how much what is stored leaves the parabola of the step, over its tolerance.

        What becomes stiff within the step, as the current of a coil whose diode turns off, is
        exact at its end but not on the way there. The error estimate, which is filtered, does not
        tell. Rows with parasitic charges are not asked.
        """
        worst = self.graph.constant(0.0)
        for place, row in enumerate(self.stored):
            here = [(i, s) for i, s in enumerate(self.system.storages) if row in (s.plus, s.minus)]
            if any(s.parasitic for _, s in here):
                continue
            allowed: Expression = self.graph.constant(1e-300)
            for number, storage in here:
                allowed = allowed + self._allowed(number, storage)
            off = abs(self.extra("step") * self._totals[place])
            worst = self.graph.make("max", worst, off / allowed)
        return worst

    def _share(self, place: int, storage: Storage, errors: Sequence[Expression]) -> Expression:
        """Error of one storage over its tolerance."""
        off: Expression = self.graph.constant(0.0)
        for column, slope in gradient(storage.amount).items():
            off = off + slope * errors[column]
        share = abs(off) / self._allowed(place, storage)
        # While it settles the way does not matter: in the end it is at rest.
        nothing = self.graph.constant(0.0)
        return share.select(self._settles, nothing, share) if storage.parasitic else share

    def _allowed(self, place: int, storage: Storage) -> Expression:
        """Error that a storage may have."""
        slopes: Expression = self.graph.constant(1e-300)
        for slope in gradient(storage.amount).values():
            slopes = slopes + abs(slope)
        away = abs(storage.amount - self.extra("datum", place))
        size = self.graph.make("max", self.extra("largest", place), away)
        loose = PARASITIC if storage.parasitic else (1.0, 1.0)
        relative, absolute = self.extra("relative") * loose[0], self.extra("absolute") * loose[1]
        return relative * size + absolute * slopes

    @property
    def _settles(self) -> Expression:
        """Not below nil in a step of one stage."""
        return self.extra("restart") - 0.5

    @cached_property
    def pace(self) -> Expression:
        """The longest step that every part allows [s]."""
        shortest = self.graph.constant(FAR)
        for pace in self.system.paces:
            shortest = pace.select(pace - shortest, shortest, pace)
        return shortest

    @cached_property
    def guards(self) -> list[Expression]:
        """Guards of the events, far below nil where an event would change nothing."""
        found = []
        for event in self.system.events:
            change: Expression = self.graph.constant(0.0)
            for name, value in event.changes.items():
                change = change + abs(value - self.held(name))
            asleep = self.graph.constant(-FAR)
            found.append(asleep.select(-change, asleep, event.guard))
        return found

    def held(self, name: Name) -> Expression:
        """The present value of a held quantity."""
        return self.graph.parameter(self.system.parameters.index(name))

    @cached_property
    def timed(self) -> Mapping[int, Expression]:
        """Events that depend on time and held quantities only -> slope of the guard in time."""
        if TIME not in self.system.parameters:
            return {}
        time = self.system.parameters.index(TIME)
        found = {}
        for place, event in enumerate(self.system.events):
            guard: Expression = event.guard
            kinds = {self.graph.nodes[n][0] for n in self.graph.needed([guard])}
            if "x" not in kinds and not self._driven_below(guard):
                found[place] = gradient(guard, "p").get(time, self.graph.constant(0.0))
        return found

    def _driven_below(self, guard: Expression) -> bool:
        rows = {self.system.parameters.index(n) for n in self.driven if n in self.system.parameters}
        nodes = (self.graph.nodes[n] for n in self.graph.needed([guard]))
        return any(op == "p" and rest[0] in rows for op, *rest in nodes)
