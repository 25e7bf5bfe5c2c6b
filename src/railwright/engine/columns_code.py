"""Compiled sensitivities: columns carried through accepted steps and through events."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from llvmlite import ir

from railwright.engine.columns import Columns
from railwright.engine.expression import Expression
from railwright.engine.rows import Rows
from railwright.engine.step_code import Constants, StepFunction
from railwright.engine.stepping import IMPLICIT, WEIGHT
from railwright.engine.vector_code import LONG


class ColumnFunction(StepFunction):
    """A function that runs over the columns of a block.

    What does not differ from column to column is computed before the loop.
    """

    def __init__(self, module: ir.Module, name: str, rows: Rows, width: int) -> None:
        super().__init__(module, name, rows, width, () if name == "finish" else None)
        assert rows.columns is not None
        self.columns: Columns = rows.columns
        starts, total = {}, 0
        for row, size in rows.in_column.items():
            starts[row] = total
            total += size
        self._starts: Mapping[str, int] = starts
        self._base: Any = None
        self.unknown_row = "x"
        self.time_row = "time"

    def common(self, roots: Sequence[Expression]) -> Constants:
        """Code for what the roots share over all columns."""
        graph = self.rows.step.graph
        edges = graph.settled(roots, self.columns.of_column, unknowns_move=False)
        known = Constants(self)
        self.write_values([Expression(graph, n) for n in edges if n not in known], known)
        return known

    def each(self, body: Callable[[], None]) -> None:
        """Run the body for every column."""
        b = self.builder

        def once(number: Any) -> Any:
            row = b.add(LONG(self.rows["columns"]), b.mul(number, LONG(self.rows.column)))
            self._base = b.gep(self.memory, [b.mul(row, LONG(self.width))])
            body()
            following = b.add(number, LONG(1))
            return b.icmp_signed("<", following, LONG(self.columns.count))

        if self.columns.count:
            self.repeat(once)

    def _place(self, name: str, place: int) -> Any:
        offset = (self._starts[name] + place) * self.width
        pointer = self.builder.gep(self._base, [LONG(offset)])
        return self.builder.bitcast(pointer, ir.PointerType(self.code.vector))

    def get(self, name: str, place: int = 0) -> Any:
        """A row of the present column."""
        return self.builder.load(self._place(name, place), align=8)

    def set(self, name: str, value: Any, place: int = 0, mask: Any = None) -> None:
        """Write a row of the present column, in the lanes of a mask."""
        if mask is not None:
            value = self.builder.select(mask, value, self.get(name, place))
        self.builder.store(value, self._place(name, place), align=8)

    def parameter(self, number: int) -> Any:
        name, place = self.rows.parameter(number)
        if number in self.columns.of_column:
            return self.get(name, place)
        return self.row(self.time_row if name == "time" else name, place)

    def unknown(self, number: int) -> Any:
        return self.row(self.unknown_row, number)


def write_columns(module: ir.Module, rows: Rows, width: int) -> None:
    """Write `spread`, `delay` and `finish`."""
    _write_first(module, rows, width)
    _write_second(module, rows, width)
    _write_delay(module, rows, width)
    _write_finish(module, rows, width)


def _write_first(module: ir.Module, rows: Rows, width: int) -> None:
    """Columns at the end of the first stage."""
    part = ColumnFunction(module, "spread first", rows, width)
    part.unknown_row, part.time_row = "halfway", "midway"
    code = part.code
    known = part.common(part.columns.rates)
    lead = code.mul(part.row("step"), code.splat(IMPLICIT))

    def body() -> None:
        for place in range(len(rows.step.stored)):
            moved = code.mul(lead, part.get("rate", place))
            part.set("history", code.add(part.get("begun", place), moved), place)
        for place, value in enumerate(part.write_values(part.columns.rates, known.inside())):
            part.set("middle", value, place)

    part.each(body)
    part.close()


def _write_second(module: ir.Module, rows: Rows, width: int) -> None:
    """Columns at the end of the step, in lanes that accepted it."""
    part = ColumnFunction(module, "spread second", rows, width)
    code, columns = part.code, part.columns
    stored = len(rows.step.stored)
    roots = [*columns.unknowns, *columns.amounts, *columns.rates]
    known = part.common(roots)
    accepted, single = part.marked("accepted"), part.marked("restart")
    settled = part.settled()
    share = code.mul(part.row("step"), code.splat(WEIGHT))

    def body() -> None:
        delay = part.get("delay")
        for place in range(stored):
            begun, rate = part.get("begun", place), part.get("rate", place)
            # Until the delayed event it would have gone on at the old rate. What is stiff has
            # settled by now: the jump and its edge count as one instant.
            lost = part.builder.fsub(part.row("outgoing", place), part.row("newest", place))
            jumped = code.add(begun, code.mul(lost, delay))
            moved = code.mul(share, code.add(rate, part.get("middle", place)))
            history = code.choose(single, begun, code.add(begun, moved))
            history = code.choose(settled, jumped, history)
            part.set("history", history, place)
        values = part.write_values(roots, known.inside())
        for place in range(len(columns.unknowns)):
            part.set("x", values[place], place, accepted)
        values = values[len(columns.unknowns) :]
        for place in range(stored):
            part.set("begun", values[place], place, accepted)
            part.set("rate", values[stored + place], place, accepted)

    part.each(body)
    part.close()


def _write_delay(module: ir.Module, rows: Rows, width: int) -> None:
    """By how much the event comes later that fires, and what it leaves behind."""
    part = ColumnFunction(module, "delay", rows, width)
    code, b, columns = part.code, part.builder, part.columns
    changes = [value for change in columns.changes for value in change.values()]
    known = part.common([*columns.delays, *changes])
    fired, jump = part.marked("fired"), part.jumping()
    cause = part.row("cause")
    # A lane that pauses has its event still before it.
    goes_on = b.fcmp_ordered("<", part.row("status"), code.splat(0.5))
    acts = [
        b.and_(b.and_(fired, goes_on), code.at_least(part.row("guard", place), code.splat(0.0)))
        for place in range(len(columns.delays))
    ]

    overtaken = b.and_(fired, b.and_(part.settling(), b.not_(part.settled())))

    def body() -> None:
        # The event before this one has not been accounted for yet.
        for place in range(len(rows.step.stored)):
            lost = b.fsub(part.row("outgoing", place), part.row("newest", place))
            moved = code.add(part.get("begun", place), code.mul(lost, part.get("delay")))
            part.set("begun", moved, place, overtaken)
        delay: Any = code.splat(0.0)
        delays = part.write_values(columns.delays, known.inside())
        for place, value in enumerate(delays):
            own = b.fcmp_ordered("==", cause, code.splat(float(place)))
            delay = code.choose(own, value, delay)
        # An event that another one brings about comes with that one.
        part.set("delay", code.choose(jump, part.get("delay"), delay), mask=fired)
        values = iter(part.write_values(changes, known.inside()) if changes else [])
        for act, change in zip(acts, columns.changes, strict=True):
            for held in change:
                part.set("held", next(values), held, act)

    part.each(body)
    part.close()


def _write_finish(module: ir.Module, rows: Rows, width: int) -> None:
    """Columns of charges and fluxes where the lane pauses."""
    part = ColumnFunction(module, "finish", rows, width)
    known = part.common(part.columns.ends)
    code = part.code
    for place, value in enumerate(part.values([s.amount for s in rows.step.system.storages])):
        part.put("size", value, place)
    for place, value in enumerate(part.values(part.columns.capacities)):
        part.put("capacity", value, place)
    # Where a lane pauses at a given instant nothing is delayed.
    given = code.at_least(part.row("laps"), code.splat(-0.5))

    def body() -> None:
        part.set("delay", code.splat(0.0), mask=given)
        for place, value in enumerate(part.write_values(part.columns.ends, known.inside())):
            part.set("end", value, place)

    part.each(body)
    part.close()
