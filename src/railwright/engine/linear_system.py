"""A topology linearised in symbols: G and C of G dx + C d(dx)/dt + (slopes by inputs) = 0.

Residuals are F(x) + d/dt Q(x) = 0; G holds the slopes of F and C those of Q, both at an
operating point. All that is differentiated is traced from the parts' own values.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from railwright.engine.elimination import Place
from railwright.engine.expression import Expression, partials
from railwright.engine.reduction import at_rest, reduced
from railwright.engine.system import Name, System, trace
from railwright.engine.topology import Topology

Row = Mapping[int, Expression]
Leaf = tuple[str, int]
"""What derivatives are taken by, as `partials` names it."""


@dataclass(frozen=True)
class LinearSystem:
    """Slopes of a system's residuals and storages by unknowns, values, inputs and marks."""

    whole: System
    """All that the parts state."""

    @classmethod
    def of(cls, topology: Topology) -> LinearSystem:
        """The linearised equations of a topology."""
        return cls(trace(topology, from_values=True))

    @cached_property
    def system(self) -> System:
        """What is linearised: storages and signals too, where anything moves.

        The charge of a junction that leaps goes to and fro with each edge: what the mean voltage
        does says nothing of it, and beyond the clock a mean of the duty must not answer to it.
        A course in time keeps it: a coil that has run empty needs a net to swing.
        """
        if not self.whole.topology.moving:
            return at_rest(self.whole)
        settled = tuple(each for each in self.whole.storages if not each.leaps)
        return reduced(replace(self.whole, storages=settled), "storages", "signals")

    @cached_property
    def noisy(self) -> System:
        """What makes noise; it reads values that nothing else needs."""
        return reduced(self.whole, "noises")

    @property
    def size(self) -> int:
        """Number of unknowns."""
        return len(self.system.residuals)

    @property
    def slopes(self) -> Mapping[Place, Expression]:
        """G: (row, column) -> slope of a residual."""
        return self.system.slopes

    @cached_property
    def storing(self) -> Mapping[Place, Expression]:
        """C: (row, column) -> slope of what a row stores."""
        return {
            (row, index): slope
            for row, parts in self._storage_partials.items()
            for (op, index), slope in parts.items()
            if op == "x" and slope.value != 0.0
        }

    @property
    def pattern(self) -> tuple[Place, ...]:
        """Places of G and C that can differ from nil."""
        return tuple(dict.fromkeys([*self.slopes, *self.storing]))

    @cached_property
    def entries(self) -> tuple[Expression, ...]:
        """All slopes of G and C that are no mere numbers, each once."""
        found = [*self.slopes.values(), *self.storing.values()]
        return tuple({e.id: e for e in found if e.value is None}.values())

    @cached_property
    def storages(self) -> tuple[tuple[int | None, int | None, Row], ...]:
        """Of each storage: the row that it feeds, the row that it drains, and its slopes."""
        return tuple(
            (each.plus, each.minus, row_by_unknowns(each.amount)) for each in self.system.storages
        )

    @property
    def owners(self) -> tuple[str, ...]:
        """Ref of the part, or the net, that each storage belongs to."""
        return tuple(each.owner for each in self.system.storages)

    @cached_property
    def _residual_partials(self) -> Mapping[int, Mapping[Leaf, Expression]]:
        return {row: partials(e) for row, e in enumerate(self.system.residuals)}

    @cached_property
    def _storage_partials(self) -> Mapping[int, Mapping[Leaf, Expression]]:
        return {row: partials(e) for row, e in self.system.stored.items()}

    def by(self, leaf: Leaf) -> tuple[Row, Row]:
        """Slopes of residuals and of storages by a value, an input or a mark."""
        return _column(self._residual_partials, leaf), _column(self._storage_partials, leaf)

    def parameter(self, name: Name) -> Leaf | None:
        """The leaf of a value, an input or a system parameter; None where nothing reads it."""
        rows = self.system.parameters
        return ("p", rows.index(name)) if name in rows else None

    @cached_property
    def signals(self) -> Mapping[Name, tuple[Leaf, Row]]:
        """Each place where loops can be opened: its mark, and its slopes by unknowns.

        A signal that depends on nothing closes no loop and is left out.
        """
        found: dict[Name, tuple[Leaf, Row]] = {}
        for name, signal in self.system.signals.items():
            op, *rest = signal.graph.nodes[signal.id]
            if op == "mark":
                number = Expression(signal.graph, rest[1]).value
                assert number is not None
                found[name] = ("mark", int(number)), row_by_unknowns(signal)
        return found


def row_by_unknowns(expression: Expression) -> Row:
    """Column -> slope of an expression by an unknown."""
    return {index: s for (op, index), s in partials(expression).items() if op == "x"}


def _column(rows: Mapping[int, Mapping[Leaf, Expression]], leaf: Leaf) -> Row:
    return {
        row: parts[leaf]
        for row, parts in rows.items()
        if leaf in parts and parts[leaf].value != 0.0
    }
