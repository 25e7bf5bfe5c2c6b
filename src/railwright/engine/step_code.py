"""Compiled functions of a step: the Newton iteration, the error, the events, the observables.

Each works on the memory of one block of lanes (`rows.Rows`).
"""

from __future__ import annotations

from collections.abc import MutableMapping, Sequence
from typing import Any

from llvmlite import ir

from railwright.engine.expression import Expression
from railwright.engine.flow import POINTER, BlockFunction
from railwright.engine.rows import Rows
from railwright.engine.stepping import FAR
from railwright.engine.topology import STEP_LIMITS
from railwright.engine.vector_code import LONG

CONVERGED = 1.0
"""Share of the tolerance below which a Newton step counts as none."""
REACH = 0.3
"""Limit of a Newton step after a jump, as a share of the largest unknown of its unit."""


class StepFunction(BlockFunction):
    """A function that evaluates expressions of a step on a block's rows."""

    def __init__(
        self,
        module: ir.Module,
        name: str,
        rows: Rows,
        width: int,
        more: tuple[ir.Type, ...] | None = None,
    ) -> None:
        super().__init__(module, name, width, more or (), inner=more is None)
        self.rows = rows

    def row(self, name: str, place: int = 0) -> Any:
        """A row of the lanes' memory."""
        return self.load(self.rows[name] + place)

    def put(self, name: str, value: Any, place: int = 0) -> None:
        """Write a row of the lanes' memory."""
        self.store(self.rows[name] + place, value)

    def marked(self, name: str) -> Any:
        """Mask of the lanes in which a row is set."""
        return self.above(name, 0.5)

    def above(self, name: str, value: float) -> Any:
        """Mask of the lanes in which a row is greater than a value."""
        return self.builder.fcmp_ordered(">", self.row(name), self.code.splat(value))

    def settling(self) -> Any:
        """Mask of the lanes in which what is stiff settles behind a jump."""
        return self.above("restart", 1.5)

    def settled(self) -> Any:
        """Mask of the lanes whose step is the last one of those."""
        return self.builder.and_(self.settling(), self.builder.not_(self.above("restart", 2.5)))

    def jumping(self) -> Any:
        """Mask of the lanes whose step only finds a consistent state."""
        return self.builder.and_(self.marked("restart"), self.builder.not_(self.settling()))

    def values(self, roots: Sequence[Expression], constants: bool = True) -> list[Any]:
        """Code for expressions; what is computed once is loaded where it is needed."""
        return self.write_values(roots, Constants(self) if constants else {})

    def write_values(
        self, roots: Sequence[Expression], known: MutableMapping[int, Any]
    ) -> list[Any]:
        """Code for expressions, beside what is known already."""
        if not roots:
            return []
        return self.code.write(roots, self.unknown, self.parameter, known)

    def unknown(self, number: int) -> Any:
        """Load an unknown of the graph."""
        return self.row("x", number)

    def parameter(self, number: int) -> Any:
        """Load a parameter of the graph."""
        return self.row(*self.rows.parameter(number))


class Constants(dict[int, Any]):
    """Values by number of the operation; those computed once are loaded at their first use."""

    def __init__(self, part: StepFunction) -> None:
        super().__init__()
        self._part = part
        self._places = {number: place for place, number in enumerate(part.rows.constants)}

    def inside(self) -> Constants:
        """What is known here, for use in a block of its own."""
        copy = Constants(self._part)
        copy.update(self)
        return copy

    def __contains__(self, number: object) -> bool:
        return number in self._places or super().__contains__(number)

    def __missing__(self, number: int) -> Any:
        self[number] = self._part.row("constant", self._places[number])
        return self[number]


def write_functions(module: ir.Module, rows: Rows, width: int) -> None:
    """Write all functions of a step that the loop calls."""
    _write_prepare(module, rows, width)
    _write_iterate(module, "iterate", rows, width, cut=False)
    _write_iterate(module, "crawl", rows, width, cut=True)
    _write_amounts(module, rows, width)
    _write_judge(module, rows, width)
    _write_fire(module, rows, width)
    _write_observe(module, rows, width)


def _write_prepare(module: ir.Module, rows: Rows, width: int) -> None:
    part = StepFunction(module, "prepare", rows, width, ())
    graph = rows.step.graph
    roots = [Expression(graph, number) for number in rows.constants]
    for place, value in enumerate(part.values(roots, constants=False)):
        part.put("constant", value, place)
    part.put("pace", part.values([rows.step.pace])[0])
    for place, value in enumerate(part.values(rows.step.amounts)):
        part.put("begun", value, place)
        part.put("rate", part.code.splat(0.0), place)
    for place, value in enumerate(part.values([s.amount for s in rows.step.system.storages])):
        part.put("largest", part.code.abs(value), place)
        part.put("size", value, place)
    for place in range(len(rows.step.system.residuals)):
        part.put("first", part.row("x", place), place)
    part.close()


def _write_observe(module: ir.Module, rows: Rows, width: int) -> None:
    """Observables at recorded outputs: memory, times, their number, outputs, what is seen."""
    part = StepFunction(module, "observe", rows, width, (POINTER, LONG, POINTER, POINTER))
    times, count, outputs, seen = part.more
    b, observed = part.builder, list(rows.step.system.observed.values())
    kind = ir.PointerType(part.code.vector)

    def once(number: Any) -> Any:
        instant = part.code.everywhere(b.load(b.gep(times, [number])))
        instant = part.code.add(part.row("origin"), part.code.mul(part.row("span"), instant))
        part.put("time", instant)
        base = b.mul(number, LONG(len(rows.recorded) * width))
        for row, (name, place) in enumerate(rows.recorded):
            source = b.bitcast(b.gep(outputs, [b.add(base, LONG(row * width))]), kind)
            part.put(name, b.load(source, align=8), place)
        base = b.mul(number, LONG(len(observed) * width))
        for row, value in enumerate(part.values(observed)):
            target = b.bitcast(b.gep(seen, [b.add(base, LONG(row * width))]), kind)
            b.store(value, target, align=8)
        return b.icmp_signed("<", b.add(number, LONG(1)), count)

    part.repeat(once)
    part.close()


def _write_iterate(module: ir.Module, name: str, rows: Rows, width: int, cut: bool) -> None:
    """One Newton iteration, cut to the limits of its unknowns or not; lanes that rest stay put."""
    part = StepFunction(module, name, rows, width)
    code, moving = part.code, part.row("moving")
    size = code.splat(0.0)
    poison = code.splat(0.0)
    steps = part.values(rows.step.iteration)
    share = moving
    if cut:
        share = code.div(moving, _stretch(part, steps))
    for place, step in enumerate(steps):
        move = code.mul(step, share)
        part.put("x", code.add(part.row("x", place), move), place)
        size = code.max(code.mul(code.abs(move), part.row("weight", place)), size)
        poison = code.add(code.mul(step, code.splat(0.0)), poison)
    rests = code.at_least(code.splat(CONVERGED), code.add(size, poison))
    part.put("moving", code.choose(rests, code.splat(0.0), moving))
    part.close()


def _stretch(part: StepFunction, steps: Sequence[Any]) -> Any:
    """By how much the steps exceed their limits, which grow with what is reached already."""
    code, unknowns = part.code, part.rows.step.system.topology.unknowns
    limits: dict[str, Any] = {unit: code.splat(limit) for unit, limit in STEP_LIMITS.items()}
    for place, unknown in enumerate(unknowns):
        reached = code.mul(code.abs(part.row("x", place)), code.splat(REACH))
        limits[unknown.unit] = code.max(reached, limits[unknown.unit])
    stretch: Any = code.splat(1.0)
    for unknown, step in zip(unknowns, steps, strict=True):
        stretch = code.max(code.div(code.abs(step), limits[unknown.unit]), stretch)
    return stretch


def _write_amounts(module: ir.Module, rows: Rows, width: int) -> None:
    """What is stored at the present unknowns, and its rate of change."""
    part = StepFunction(module, "amounts", rows, width)
    code, inverse = part.code, part.row("inverse")
    for place, value in enumerate(part.values(rows.step.amounts)):
        part.put("amount", value, place)
        rate = code.mul(inverse, part.builder.fsub(value, part.row("history", place)))
        part.put("newest", rate, place)
    part.close()


def _write_judge(module: ir.Module, rows: Rows, width: int) -> None:
    """Error, trust and guards at the end of a step."""
    part = StepFunction(module, "judge", rows, width)
    code, step = part.code, rows.step
    timed = step.timed
    judged = [*step.estimate, step.bend, *step.guards, *timed.values()]
    error, trust, bend, *found = part.values(judged)
    guards, slopes = found[: len(step.guards)], found[len(step.guards) :]
    part.put("error", error)
    part.put("trust", trust)
    part.put("bend", bend)
    due: Any = code.splat(FAR)
    for place, slope in zip(timed, slopes, strict=True):
        # The time since the event was due.
        late = code.div(guards[place], slope)
        comes = part.builder.fcmp_ordered(">", slope, code.splat(0.0))
        guards[place] = code.choose(comes, late, code.splat(-FAR))
        when = code.sub(part.row("time"), guards[place])
        due = code.choose(code.at_least(when, due), due, when)
    part.put("due", due)
    for place, guard in enumerate(guards):
        part.put("guard", guard, place)
    for place, storage in enumerate(part.values([s.amount for s in step.system.storages])):
        away = code.abs(code.sub(storage, part.row("datum", place)))
        part.put("size", code.max(part.row("largest", place), away), place)
    part.close()


def _write_fire(module: ir.Module, rows: Rows, width: int) -> None:
    """Let the events act whose guards are not below nil, in lanes that are marked."""
    part = StepFunction(module, "fire", rows, width)
    code, step, b = part.code, rows.step, part.builder
    names = step.system.parameters
    marked = b.fcmp_ordered(">", part.row("fired"), code.splat(0.5))
    flat = [value for e in step.system.events for value in e.changes.values()]
    values = iter(part.values(flat))
    for place, event in enumerate(step.system.events):
        acts = b.and_(marked, code.at_least(part.row("guard", place), code.splat(0.0)))
        for name in event.changes:
            part.keep(rows["parameter"] + names.index(name), acts, next(values))
    part.close()
