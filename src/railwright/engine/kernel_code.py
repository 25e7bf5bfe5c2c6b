"""The compiled loops of a system: Newton iteration over blocks of lanes, and inspection.

Both functions work on memory laid out as (block, row, W). `newton` iterates a block until
all its lanes have come to rest or the iterations are used up; lanes that rest stay put. Steps
are shortened to the limits of their unknowns, and then by the damping.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from llvmlite import ir

from railwright.engine.elimination import Place, solve_symbolically
from railwright.engine.expression import Expression
from railwright.engine.system import Name, System
from railwright.engine.topology import (
    CUT_ALONE,
    FLOORS,
    LONG_PATIENCE,
    PATIENCE,
    REACH,
    SHRINKAGE,
    SHRINKING,
    STEP_LIMITS,
)
from railwright.engine.vector_code import DOUBLE, LONG, VectorCode

POINTER = ir.PointerType(DOUBLE)
REPORT_ROWS = 4
"""Rows that `newton` reports: 1 where at rest, iterations used, trust in the pivots at last, and
the least trust on the way, nil where it was no number.
"""
RELATIVE_STEP = 1e-9
"""A lane rests when no unknown moves by more than this share (or by its floor)."""


def kernel_module(
    system: System, order: Sequence[Place], observables: Sequence[Name], width: int
) -> ir.Module:
    """The LLVM module with `newton` and `inspect`."""
    module = ir.Module("railwright")
    steps, trust = solve_symbolically(system.slopes, system.residuals, order)
    _write_newton(module, system, steps, trust, width)
    seen = [*(system.observed[name] for name in observables), _imbalance(system)]
    _write_inspect(module, system, seen, width)
    return module


def _imbalance(system: System) -> Expression:
    """The largest residual, over the magnitudes of its terms."""
    worst = system.graph.constant(0.0)
    for residual, size in zip(system.residuals, system.magnitudes, strict=True):
        worst = system.graph.make("max", worst, abs(residual) / size)
    return worst


class Blocks:
    """A function that loops over blocks of lanes, with its pointers moved to each block."""

    def __init__(
        self,
        module: ir.Module,
        name: str,
        strides: Sequence[int],
        width: int,
        extra: Sequence[ir.Type] = (),
    ) -> None:
        arguments = [POINTER] * len(strides) + [LONG, *extra]
        function = ir.Function(module, ir.FunctionType(ir.VoidType(), arguments), name)
        for argument in function.args[: len(strides)]:
            argument.add_attribute("noalias")
        self.function = function
        self.extra = function.args[len(strides) + 1 :]
        self.builder = ir.IRBuilder(function.append_basic_block("entry"))
        self.width = width
        self._count = function.args[len(strides)]
        self._entry = self.builder.block
        self._head = function.append_basic_block("block")
        self.end = function.append_basic_block("end")
        self.builder.cbranch(
            self.builder.icmp_signed(">", self._count, LONG(0)), self._head, self.end
        )
        self.builder.position_at_end(self._head)
        self.block = self.builder.phi(LONG)
        self.block.add_incoming(LONG(0), self._entry)
        self.pointers = [
            self.builder.gep(argument, [self.builder.mul(self.block, LONG(stride * width))])
            for argument, stride in zip(function.args, strides, strict=False)
        ]
        self.code = VectorCode(self.builder, width)

    def address(self, pointer: int, row: int) -> Any:
        """Address of a row of the current block."""
        place = self.builder.gep(self.pointers[pointer], [LONG(row * self.width)])
        return self.builder.bitcast(place, ir.PointerType(self.code.vector))

    def load(self, pointer: int, row: int) -> Any:
        """A row of W numbers."""
        return self.builder.load(self.address(pointer, row), align=8)

    def store(self, pointer: int, row: int, value: Any) -> None:
        """Write a row of W numbers."""
        self.builder.store(value, self.address(pointer, row), align=8)

    def close(self) -> None:
        """End of the work on one block; go on with the next."""
        following = self.builder.add(self.block, LONG(1))
        self.block.add_incoming(following, self.builder.block)
        again = self.builder.icmp_signed("<", following, self._count)
        self.builder.cbranch(again, self._head, self.end)
        self.builder.position_at_end(self.end)
        self.builder.ret_void()


def _write_inspect(
    module: ir.Module, system: System, roots: Sequence[Expression], width: int
) -> None:
    size = len(system.residuals)
    loop = Blocks(module, "inspect", [size, len(system.parameters), len(roots)], width)
    values = loop.code.write(roots, lambda i: loop.load(0, i), lambda i: loop.load(1, i))
    for row, value in enumerate(values):
        loop.store(2, row, value)
    loop.close()


def _growing(code: VectorCode, used: Any, patience: float) -> Any:
    """By how much limits are closer after `used` iterations."""
    late = code.max(code.sub(used, code.splat(patience)), code.splat(0.0))
    late = code.choose(code.at_least(code.splat(SHRINKING), late), late, code.splat(0.0))
    return code.add(code.splat(1.0), code.mul(late, code.splat(SHRINKAGE)))


def _limit(code: VectorCode, loop: Blocks, row: int, unit: str) -> Any:
    """Largest change of an unknown from where it is."""
    reached = code.mul(code.abs(loop.load(0, row)), code.splat(REACH))
    return code.max(reached, code.splat(STEP_LIMITS[unit]))


def _write_newton(
    module: ir.Module, system: System, steps: Sequence[Expression], trust: Expression, width: int
) -> None:
    size = len(steps)
    loop = Blocks(
        module, "newton", [size, len(system.parameters), REPORT_ROWS], width, [LONG, DOUBLE]
    )
    b, code = loop.builder, loop.code
    zero, one = code.splat(0.0), code.splat(1.0)
    before = b.block
    head = loop.function.append_basic_block("iteration")
    after = loop.function.append_basic_block("rested")
    b.branch(head)
    b.position_at_end(head)
    iteration = b.phi(LONG)
    iteration.add_incoming(LONG(0), before)
    moving = b.phi(code.vector)  # 1 in lanes that still move
    moving.add_incoming(one, before)
    used = b.phi(code.vector)
    used.add_incoming(zero, before)
    least = b.phi(code.vector)
    least.add_incoming(one, before)

    *step, trusted = code.write(
        [*steps, trust], lambda i: loop.load(0, i), lambda i: loop.load(1, i)
    )
    excess = code.splat(-1.0)
    poison = zero  # stays nil, but turns not-a-number in a lane with such a step
    stretch = zero
    for row, unknown in enumerate(system.topology.unknowns):
        move = code.abs(step[row])
        allowed = code.add(
            code.mul(code.abs(loop.load(0, row)), code.splat(RELATIVE_STEP)),
            code.splat(FLOORS[unknown.unit]),
        )
        excess = code.max(code.sub(move, allowed), excess)
        poison = code.add(code.mul(step[row], zero), poison)
        if unknown.unit not in CUT_ALONE:
            stretch = code.max(code.div(move, _limit(code, loop, row, unknown.unit)), stretch)
    excess = code.add(excess, poison)
    shrinking = code.div(one, _growing(code, used, PATIENCE))
    stretch = code.max(code.mul(stretch, _growing(code, used, LONG_PATIENCE)), one)
    damping = code.everywhere(loop.extra[1])
    share = code.mul(code.div(damping, stretch), moving)
    for row, unknown in enumerate(system.topology.unknowns):
        move = code.mul(share, step[row])
        if unknown.unit in CUT_ALONE:
            limit = code.mul(shrinking, _limit(code, loop, row, unknown.unit))
            move = code.within(move, code.sub(zero, limit), limit)
        loop.store(0, row, code.add(loop.load(0, row), move))
    used_now = code.add(used, moving)
    moving_now = code.choose(code.at_least(zero, excess), zero, moving)
    known = code.choose(code.at_least(trusted, zero), trusted, zero)
    lower = code.choose(code.at_least(known, least), least, known)
    least_now = code.choose(code.at_least(zero, moving), least, lower)
    following = b.add(iteration, LONG(1))
    here = b.block
    iteration.add_incoming(following, here)
    moving.add_incoming(moving_now, here)
    used.add_incoming(used_now, here)
    least.add_incoming(least_now, here)
    restless = b.icmp_unsigned(
        "!=",
        b.bitcast(b.fcmp_ordered(">", moving_now, code.splat(0.5)), ir.IntType(width)),
        ir.Constant(ir.IntType(width), 0),
    )
    more = b.icmp_signed("<", following, loop.extra[0])
    b.cbranch(b.and_(restless, more), head, after)
    b.position_at_end(after)
    loop.store(2, 0, code.sub(one, moving_now))
    loop.store(2, 1, used_now)
    loop.store(2, 2, trusted)
    loop.store(2, 3, least_now)
    loop.close()
