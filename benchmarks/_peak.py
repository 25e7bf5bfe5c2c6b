"""The machine's own limit: how fast it multiplies and adds, and what an iteration asks of it."""

from __future__ import annotations

import ctypes
import time

from llvmlite import ir

from railwright.engine import processor
from railwright.engine.compiling import loaded, object_code
from railwright.engine.expression import operands
from railwright.engine.stepping import Step
from railwright.engine.vector_code import DOUBLE, LONG, VectorCode

CHAINS = 16
"""Independent chains: enough to hide the time that one operation takes."""


def operations_per_second() -> float:
    """Fused multiply-adds on single numbers, on one core."""
    width = processor.lane_width()
    module = ir.Module("peak")
    kind = ir.FunctionType(DOUBLE, [DOUBLE, LONG])
    function = ir.Function(module, kind, "chains")
    entry, loop, end = (function.append_basic_block(n) for n in ("entry", "loop", "end"))
    builder = ir.IRBuilder(entry)
    code = VectorCode(builder, width)
    factor = code.everywhere(function.args[0])
    builder.branch(loop)
    builder.position_at_end(loop)
    count = builder.phi(LONG)
    count.add_incoming(LONG(0), entry)
    sums = [builder.phi(code.vector) for _ in range(CHAINS)]
    for number, chain in enumerate(sums):
        chain.add_incoming(code.splat(float(number)), entry)
    after = [code.add(code.mul(chain, factor), factor) for chain in sums]
    following = builder.add(count, LONG(1))
    count.add_incoming(following, loop)
    for chain, new in zip(sums, after, strict=True):
        chain.add_incoming(new, loop)
    builder.cbranch(builder.icmp_signed("<", following, function.args[1]), loop, end)
    builder.position_at_end(end)
    total = after[0]
    for new in after[1:]:
        total = code.add(total, new)
    builder.ret(builder.extract_element(total, ir.IntType(32)(0)))
    engine = loaded(object_code(module))
    run = ctypes.CFUNCTYPE(ctypes.c_double, ctypes.c_double, ctypes.c_int64)(
        engine.get_function_address("chains")
    )
    rounds, best = 2_000_000, float("inf")
    for _ in range(5):
        began = time.perf_counter()
        run(0.999, rounds)
        best = min(best, time.perf_counter() - began)
    return rounds * CHAINS * width / best


def floor_ns(step: Step) -> float:
    """Least time for one Newton iteration of one lane [ns]: what it computes, at that rate.

    A sum and a product count as one operation each, though they may fuse, and so do divisions
    and exponentials, though they take longer: a bound, no estimate.
    """
    settled = set(step.graph.settled(step.iteration, step.moving))
    needed = step.graph.needed(step.iteration, settled)
    moving = [n for n in needed if operands(step.graph.nodes[n])]
    return 1e9 * len(moving) / operations_per_second()
