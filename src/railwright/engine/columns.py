"""How a small change at the start spreads through steps and events, as expressions.

Each column is one change of a charge or flux at the start. Within a step the method's own
equations are differentiated. At an event the instant moves by -dg / (dg/dt), and what is stored
changes by the difference of its rates times that delay, since it would have gone on at the old
rate until then. Source: Hiskens and Pai (2000), Trajectory sensitivity analysis of hybrid
systems, for the jump; Aprille and Trick (1972), Steady-state analysis of nonlinear circuits with
periodic inputs, for its use.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

from railwright.engine.assembly import TIME
from railwright.engine.elimination import solve_symbolically
from railwright.engine.expression import Expression, gradient
from railwright.engine.stepping import Step


class Columns:
    """Expressions of one column of sensitivities over a step.

    They read, beside the rows of the step, rows of the column: `history` (of what is stored),
    `held` (held quantities), `x` (unknowns), `delay` (of the last event), and of the lane:
    `slope` (rate of the unknowns at the end of the step).
    """

    def __init__(self, step: Step) -> None:
        self.step = step
        self.graph = step.graph
        sizes = {
            "history": len(step.stored),
            "held": len(step.holds),
            "x": len(step.system.residuals),
            "delay": 1,
            "slope": len(step.system.residuals),
        }
        first = len(step.system.parameters) + len(step.extras)
        self.extras: dict[tuple[str, int], int] = {}
        for name, size in sizes.items():
            for place in range(size):
                self.extras[name, place] = first + len(self.extras)

    @property
    def count(self) -> int:
        """Number of columns: one for each charge and flux."""
        return len(self.step.system.storages)

    def extra(self, name: str, place: int = 0) -> Expression:
        """One of the rows that these expressions read."""
        return self.graph.parameter(self.extras[name, place])

    @cached_property
    def of_column(self) -> frozenset[int]:
        """Parameters that differ from column to column."""
        return frozenset(n for (name, _), n in self.extras.items() if name != "slope")

    @cached_property
    def start(self) -> list[dict[int, float]]:
        """Column -> place among the stored rows -> change at the start."""
        found = []
        for storage in self.step.system.storages:
            ends = ((storage.plus, 1.0), (storage.minus, -1.0))
            found.append({self.step.stored.index(r): s for r, s in ends if r is not None})
        return found

    @cached_property
    def _held_numbers(self) -> list[int]:
        names = self.step.system.parameters
        return [names.index(name) for name in self.step.holds]

    def _by_held(self, root: Expression) -> Expression:
        """Change of an expression with the held quantities of the column."""
        slopes = gradient(root, "p")
        total: Expression = self.graph.constant(0.0)
        for place, number in enumerate(self._held_numbers):
            if number in slopes:
                total = total + slopes[number] * self.extra("held", place)
        return total

    def _by_unknowns(self, root: Expression, change: Sequence[Expression]) -> Expression:
        total: Expression = self.graph.constant(0.0)
        for column, slope in gradient(root).items():
            total = total + slope * change[column]
        return total

    @cached_property
    def unknowns(self) -> list[Expression]:
        """Change of the unknowns at the end of a stage."""
        right = [self._by_held(r) for r in self.step.residuals]
        for place, row in enumerate(self.step.stored):
            right[row] = right[row] - self.step.extra("inverse") * self.extra("history", place)
        return solve_symbolically(self.step.slopes, right, self.step.order)[0]

    @cached_property
    def amounts(self) -> list[Expression]:
        """Change of what is stored, row by row."""
        return [self._by_unknowns(a, self.unknowns) + self._by_held(a) for a in self.step.amounts]

    @cached_property
    def rates(self) -> list[Expression]:
        """Change of its rate."""
        return [
            self.step.extra("inverse") * (amount - self.extra("history", place))
            for place, amount in enumerate(self.amounts)
        ]

    def _own(self, name: str) -> list[Expression]:
        return [self.extra(name, place) for place in range(len(self.step.system.residuals))]

    def _in_time(self, root: Expression) -> Expression:
        """Rate of an expression along the course."""
        total = self._by_unknowns(root, self._own("slope"))
        if TIME in self.step.system.parameters:
            time = self.step.system.parameters.index(TIME)
            total = total + gradient(root, "p").get(time, self.graph.constant(0.0))
        return total

    def _at_instant(self, root: Expression) -> Expression:
        return self._by_unknowns(root, self._own("x")) + self._by_held(root)

    @cached_property
    def delays(self) -> list[Expression]:
        """How much later each event comes."""
        return [
            -self._at_instant(e.guard) / self._in_time(e.guard) for e in self.step.system.events
        ]

    @cached_property
    def changes(self) -> list[Mapping[int, Expression]]:
        """Event -> place of the held quantity -> its change behind the event."""
        return [
            {
                self.step.holds.index(name): self._at_instant(value)
                + self._in_time(value) * self.extra("delay")
                for name, value in event.changes.items()
            }
            for event in self.step.system.events
        ]

    @cached_property
    def ends(self) -> list[Expression]:
        """Change of each charge and flux, on the instant of the delayed event."""
        delay = self.extra("delay")
        return [
            self._at_instant(s.amount) + self._in_time(s.amount) * delay
            for s in self.step.system.storages
        ]
