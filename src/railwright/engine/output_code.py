"""Words of the compiled loop, and its output at the times asked for.

The state between the ends of steps is a parabola through the start, the end of the first stage
and the end; behind a jump it is a line or the end itself. Where the parabola leaves what is stored
by more than the tolerance the loop makes the output an end of a step.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from typing import Any

from llvmlite import ir

from railwright.engine.flow import POINTER
from railwright.engine.rows import Rows
from railwright.engine.step_code import StepFunction
from railwright.engine.stepping import FAR, GAMMA
from railwright.engine.vector_code import DOUBLE, LONG


class LoopFunction(StepFunction):
    """A function over all steps of a block, with small words for vectors and masks."""

    end: Any
    """Instant at which the step ends that is under way."""

    def __init__(self, module: ir.Module, rows: Rows, width: int) -> None:
        arguments = (POINTER, LONG, POINTER, DOUBLE, ir.PointerType(LONG))
        super().__init__(module, "run", rows, width, arguments)
        self.times, self.count, self.output, self.budget, self.counter = self.more
        self.unknowns = len(rows.step.system.residuals)
        self.stored = len(rows.step.stored)
        self.events = len(rows.step.system.events)
        self.module = module

    # Small words for vectors and masks.

    def splat(self, value: float) -> Any:
        """The same number in every lane."""
        return self.code.splat(value)

    def greater(self, a: Any, b: Any) -> Any:
        """Mask of lanes where a > b."""
        return self.builder.fcmp_ordered(">", a, b)

    def both(self, a: Any, b: Any) -> Any:
        """Mask of lanes in both masks."""
        return self.builder.and_(a, b)

    def either(self, a: Any, b: Any) -> Any:
        """Mask of lanes in either mask."""
        return self.builder.or_(a, b)

    def no(self, a: Any) -> Any:
        """Mask of the other lanes."""
        return self.builder.not_(a)

    def smaller(self, a: Any, b: Any) -> Any:
        """The smaller one, lane by lane."""
        return self.code.choose(self.code.at_least(a, b), b, a)

    def call(self, name: str) -> None:
        """Run another function of the module on the block."""
        self.builder.call(self.module.get_global(name), [self.memory])

    def single(self) -> Any:
        """Mask of lanes whose step has one stage: they jump, or settle behind a jump."""
        return self.above("restart", 0.5)

    def running(self) -> Any:
        """Mask of lanes that are under way."""
        return self.greater(self.splat(0.5), self.row("status"))


class OutputFunction(LoopFunction):
    """Writes what is recorded at the times that a step passes."""

    def write_outputs(self, accepted: Any, done: Any) -> None:
        """Write the outputs of accepted steps; done: lanes whose last output is due at its end."""
        code, b = self.code, self.builder
        one, zero = self.splat(1.0), self.splat(0.0)
        done = self.both(done, self.above("final", 0.5))
        self.put("fired", code.choose(accepted, one, zero))
        # At the end of the step the state behind an event is wanted: the next step writes it.
        inclusive = code.choose(self.either(done, self.jumping()), one, zero)
        for lane in range(self.width):
            self._write_lane(lane, b.extract_element(inclusive, ir.IntType(32)(lane)))

    def awaited(self) -> Any:
        """Instant of each lane's next output; far where none is left."""
        b, found = self.builder, self.splat(FAR)
        for lane in range(self.width):
            number = b.fptosi(b.load(self._scalar("next", lane)), LONG)
            there = b.icmp_signed("<", number, self.count)
            time = self._output_time(lane, b.select(there, number, LONG(0)))
            time = b.select(there, time, DOUBLE(FAR))
            found = b.insert_element(found, time, ir.IntType(32)(lane))
        return found

    def _scalar(self, name: str, lane: int, place: int = 0) -> Any:
        index = (self.rows[name] + place) * self.width + lane
        return self.builder.gep(self.memory, [LONG(index)])

    def _output_time(self, lane: int, number: Any) -> Any:
        b = self.builder
        origin, span = b.load(self._scalar("origin", lane)), b.load(self._scalar("span", lane))
        return b.fadd(origin, b.fmul(span, b.load(b.gep(self.times, [number]))))

    @cached_property
    def _driven(self) -> Mapping[int, int]:
        """Parameter -> its place among the driven inputs."""
        names = self.rows.step.system.parameters
        driven = enumerate(self.rows.step.driven)
        return {names.index(name): place for place, name in driven if name in names}

    def _driven_at(self, lane: int, place: int, time: Any) -> Any:
        """A driven input at an instant within the step, not at its end."""
        b = self.builder
        value, slope, since = (
            b.load(self._scalar(name, lane, place))
            for name in ("drive", "drive slope", "drive since")
        )
        return b.fadd(value, b.fmul(slope, b.fsub(time, since)))

    def _output_weights(self, lane: int, at: Any) -> list[Any]:
        """Weights of start, first stage and end: a parabola, a line, or the end of a jump."""
        b = self.builder
        restart = b.load(self._scalar("restart", lane))
        jumped = b.fcmp_ordered(">", restart, DOUBLE(0.5))
        settled = b.fcmp_ordered(">", restart, DOUBLE(1.5))
        line = (b.fsub(DOUBLE(1.0), at), DOUBLE(0.0), at)
        ended = (DOUBLE(0.0), DOUBLE(0.0), DOUBLE(1.0))
        return [
            b.select(settled, straight, b.select(jumped, last, curved))
            for straight, last, curved in zip(line, ended, _scalar_lagrange(b, at), strict=True)
        ]

    def _write_lane(self, lane: int, inclusive: Any) -> None:
        b = self.builder
        end = b.extract_element(self.end, ir.IntType(32)(lane))
        accepted = b.fcmp_ordered(">", b.load(self._scalar("fired", lane)), DOUBLE(0.5))
        counted = self._scalar("next", lane)

        def due() -> Any:
            number = b.fptosi(b.load(counted), LONG)
            there = b.icmp_signed("<", number, self.count)
            inside = b.select(there, number, LONG(0))
            time = self._output_time(lane, inside)
            # Rounding of the instant must not lose the last output.
            slack = b.fadd(end, b.fmul(end, DOUBLE(4e-15)))
            behind = b.fcmp_ordered(">", inclusive, DOUBLE(0.5))
            at_end = b.and_(b.fcmp_ordered("<=", time, slack), behind)
            reached = b.or_(b.fcmp_ordered("<", time, end), at_end)
            return b.and_(there, reached)

        def write(_: Any) -> Any:
            number = b.fptosi(b.load(counted), LONG)
            time = self._output_time(lane, number)
            start, step = b.load(self._scalar("start", lane)), b.load(self._scalar("step", lane))
            at = b.fdiv(b.fsub(time, start), step)
            weights = self._output_weights(lane, at)
            recorded = self.rows.recorded
            base = b.mul(number, LONG(len(recorded) * self.width))
            for row, (kind, place) in enumerate(recorded):
                total: Any = DOUBLE(0.0)
                if kind == "x":
                    for name, w in zip(("first", "halfway", "x"), weights, strict=True):
                        total = b.fadd(total, b.fmul(w, b.load(self._scalar(name, lane, place))))
                elif place in self._driven:
                    total = self._driven_at(lane, self._driven[place], time)
                else:
                    total = b.load(self._scalar(kind, lane, place))
                offset = b.add(base, LONG(row * self.width + lane))
                b.store(total, b.gep(self.output, [offset]))
            b.store(b.fadd(b.load(counted), DOUBLE(1.0)), counted)
            return due()

        self.when(b.and_(accepted, due()), lambda: self.repeat(write))


def _scalar_lagrange(b: Any, at: Any) -> list[Any]:
    """The same for one lane within a step: start, end of the first stage, end."""
    nodes = (0.0, GAMMA, 1.0)
    weights = []
    for own in range(3):
        first, second = (nodes[i] for i in range(3) if i != own)
        scale = 1.0 / ((nodes[own] - first) * (nodes[own] - second))
        product = b.fmul(b.fsub(at, DOUBLE(first)), b.fsub(at, DOUBLE(second)))
        weights.append(b.fmul(product, DOUBLE(scale)))
    return weights
