"""Control flow and memory of compiled loops over one block of lanes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from llvmlite import ir

from railwright.engine.vector_code import DOUBLE, LONG, VectorCode

POINTER = ir.PointerType(DOUBLE)


class BlockFunction:
    """A function over the memory of one block, which is rows of W numbers."""

    def __init__(
        self,
        module: ir.Module,
        name: str,
        width: int,
        more: tuple[ir.Type, ...] = (),
        inner: bool = True,
    ) -> None:
        kind = ir.FunctionType(ir.VoidType(), [POINTER, *more])
        self.function = ir.Function(module, kind, name)
        if inner:
            self.function.linkage = "internal"
            self.function.attributes.add("noinline")
        self.memory, *self.more = self.function.args
        self.builder = ir.IRBuilder(self.function.append_basic_block("entry"))
        self.width = width
        self.code = VectorCode(self.builder, width)

    def address(self, row: int) -> Any:
        """Address of a row."""
        place = self.builder.gep(self.memory, [LONG(row * self.width)])
        return self.builder.bitcast(place, ir.PointerType(self.code.vector))

    def load(self, row: int) -> Any:
        """A row of W numbers."""
        return self.builder.load(self.address(row), align=8)

    def store(self, row: int, value: Any) -> None:
        """Write a row of W numbers."""
        self.builder.store(value, self.address(row), align=8)

    def keep(self, row: int, mask: Any, value: Any) -> None:
        """Write a row in the lanes of a mask only."""
        self.store(row, self.builder.select(mask, value, self.load(row)))

    def any(self, mask: Any) -> Any:
        """Whether any lane of a mask is set."""
        bits = self.builder.bitcast(mask, ir.IntType(self.width))
        return self.builder.icmp_unsigned("!=", bits, ir.Constant(ir.IntType(self.width), 0))

    def when(self, condition: Any, body: Callable[[], None]) -> None:
        """Run the body where the condition holds."""
        with self.builder.if_then(condition):
            body()

    def repeat(self, body: Callable[[Any], Any], most: int | None = None) -> None:
        """Run the body, which is given the number of the round, while it returns true."""
        b = self.builder
        before = b.block
        head, after = b.append_basic_block("again"), b.append_basic_block("done")
        b.branch(head)
        b.position_at_end(head)
        round_ = b.phi(LONG)
        round_.add_incoming(LONG(0), before)
        more = body(round_)
        following = b.add(round_, LONG(1))
        if most is not None:
            more = b.and_(more, b.icmp_signed("<", following, LONG(most)))
        round_.add_incoming(following, b.block)
        b.cbranch(more, head, after)
        b.position_at_end(after)

    def close(self) -> None:
        """End of the function."""
        self.builder.ret_void()
