"""The compiled loops of a linearised system: its slopes over lanes, and transfers at frequencies.

`linearise` works on blocks of lanes, as the operating point does. `transfer` takes one lane
after the other with W frequencies side by side, so that a lane's slopes are the same in all of
them. It solves the transposed system once, for one output; every right-hand side then costs one
sum: what an input does to the output is how strongly the output listens to that input's rows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from llvmlite import ir

from railwright.engine.complex_pair import ComplexPair
from railwright.engine.elimination import Place, solve_symbolically
from railwright.engine.expression import Expression, Graph
from railwright.engine.kernel_code import POINTER, Blocks
from railwright.engine.linear_system import LinearSystem
from railwright.engine.vector_code import LONG, VectorCode

BACKWARD_ERROR = 1e-11
"""Largest residual of an equation of the solution, as a share of the terms it is the sum of."""


def linear_module(linear: LinearSystem, order: Sequence[Place], width: int) -> ir.Module:
    """The LLVM module with `linearise` and `transfer`; the order is that of the transposed."""
    module = ir.Module("railwright")
    _write_linearise(module, linear, width)
    _write_transfer(module, linear, order, width)
    return module


def _write_linearise(module: ir.Module, linear: LinearSystem, width: int) -> None:
    entries, system = linear.entries, linear.system
    strides = [linear.size, len(system.parameters), len(entries)]
    loop = Blocks(module, "linearise", strides, width)
    if entries:
        values = loop.code.write(entries, lambda i: loop.load(0, i), lambda i: loop.load(1, i))
        for row, value in enumerate(values):
            loop.store(2, row, value)
    loop.close()


def matrix(linear: LinearSystem, graph: Graph) -> dict[Place, ComplexPair]:
    """G + jω C, where ω is the graph's first unknown and the entries are its parameters."""
    omega, zero = graph.unknown(0), graph.constant(0.0)
    rows = {entry.id: graph.parameter(i) for i, entry in enumerate(linear.entries)}

    def entry(slope: Expression | None) -> Expression:
        if slope is None:
            return zero
        return rows[slope.id] if slope.value is None else graph.constant(slope.value)

    return {
        place: ComplexPair(
            entry(linear.slopes.get(place)), omega * entry(linear.storing.get(place))
        )
        for place in linear.pattern
    }


def solution(linear: LinearSystem, order: Sequence[Place]) -> list[Expression]:
    """What `transfer` computes at one frequency: real and imaginary parts, then a verdict.

    The solution y of (G + jω C)^T y + c = 0; c are the parameters after the entries. The
    verdict is 1 where the residual of every equation is small against its terms, else -1: such
    a y is the exact solution of equations that differ by rounding (Oettli and Prager 1964).
    """
    graph = Graph()
    zero = graph.constant(0.0)
    transposed = {(j, i): e for (i, j), e in matrix(linear, graph).items()}
    first = len(linear.entries)
    c = [ComplexPair(graph.parameter(first + i), zero) for i in range(linear.size)]
    y, _ = solve_symbolically(transposed, c, order)
    verdict = graph.constant(1.0)
    for row in range(linear.size):
        residual, size = c[row], abs(c[row])
        for (i, j), entry in transposed.items():
            if i == row:
                residual = residual + entry * y[j]
                size = size + abs(entry) * abs(y[j])
        # Not-a-number compares as false, so that it gives the verdict -1.
        spare = BACKWARD_ERROR * size - abs(residual)
        verdict = graph.make("select", spare, verdict, graph.constant(-1.0))
    return [*(part for each in y for part in (each.real, each.imaginary)), verdict]


def _write_transfer(
    module: ir.Module, linear: LinearSystem, order: Sequence[Place], width: int
) -> None:
    """transfer(entries, c, b, ω, results, verdicts, lanes, blocks, rights, stride of ω).

    entries (lane, entry); c (lane, row); b (lane, right, row); ω (lane or 1, block, W);
    results (lane, right, block, W) complex; verdicts (lane, block, W).
    """
    arguments = [POINTER] * 6 + [LONG] * 4
    function = ir.Function(module, ir.FunctionType(ir.VoidType(), arguments), "transfer")
    for argument in function.args[:6]:
        argument.add_attribute("noalias")
    entries, c, b, omegas, results, verdicts, lanes, blocks, rights, stride = function.args
    builder = ir.IRBuilder(function.append_basic_block("entry"))
    code = VectorCode(builder, width)
    size = linear.size

    def at(base: Any, *terms: Any) -> Any:
        for term in terms:
            base = builder.gep(base, [term])
        return base

    def everywhere(base: Any, row: int) -> Any:
        return code.everywhere(builder.load(at(base, LONG(row))))

    with counted(builder, lanes) as lane:
        own_entries = at(entries, builder.mul(lane, LONG(len(linear.entries))))
        own_c = at(c, builder.mul(lane, LONG(size)))
        with counted(builder, blocks) as block:
            place = builder.mul(block, LONG(width))
            omega = _load(builder, code, at(omegas, builder.mul(lane, stride), place))
            *y, verdict = code.write(
                solution(linear, order),
                lambda row: omega,
                lambda row: (
                    everywhere(own_entries, row)
                    if row < len(linear.entries)
                    else everywhere(own_c, row - len(linear.entries))
                ),
            )
            a_lane = builder.mul(blocks, LONG(width))
            _store(builder, verdict, at(verdicts, builder.mul(lane, a_lane), place))
            with counted(builder, rights) as right:
                number = builder.add(builder.mul(lane, rights), right)
                own_b = at(b, builder.mul(number, LONG(size)))
                real: Any = code.splat(0.0)
                imaginary: Any = code.splat(0.0)
                for row in range(size):
                    weight = everywhere(own_b, row)
                    real = code.add(code.mul(weight, y[2 * row]), real)
                    imaginary = code.add(code.mul(weight, y[2 * row + 1]), imaginary)
                first = builder.add(builder.mul(number, a_lane), place)
                target = at(results, builder.mul(first, LONG(2)))
                _store(builder, _interleaved(builder, width, real, imaginary), target)
    builder.ret_void()


@contextmanager
def counted(builder: ir.IRBuilder, count: Any) -> Iterator[Any]:
    """A loop over the numbers below `count`; its body is what is written inside."""
    before = builder.block
    head = builder.append_basic_block("loop")
    end = builder.append_basic_block("after")
    builder.cbranch(builder.icmp_signed(">", count, LONG(0)), head, end)
    builder.position_at_end(head)
    number = builder.phi(LONG)
    number.add_incoming(LONG(0), before)
    yield number
    following = builder.add(number, LONG(1))
    number.add_incoming(following, builder.block)
    builder.cbranch(builder.icmp_signed("<", following, count), head, end)
    builder.position_at_end(end)


def _load(builder: ir.IRBuilder, code: VectorCode, address: Any) -> Any:
    return builder.load(builder.bitcast(address, ir.PointerType(code.vector)), align=8)


def _store(builder: ir.IRBuilder, value: Any, address: Any) -> None:
    builder.store(value, builder.bitcast(address, ir.PointerType(value.type)), align=8)


def _interleaved(builder: ir.IRBuilder, width: int, real: Any, imaginary: Any) -> Any:
    """Complex numbers as they lie in memory: real and imaginary parts in turns."""
    place = ir.IntType(32)
    turns = [place(k // 2 + (k % 2) * width) for k in range(2 * width)]
    mask = ir.Constant(ir.VectorType(place, 2 * width), turns)
    return builder.shuffle_vector(real, imaginary, mask)
