"""Straight-line vector code for expressions: each operation works on W lanes at once.

Exponential, logarithm, sine and cosine are written out, since a call would leave the vector
registers: range reduction and a polynomial, correct to 1 or 2 units in the last place (tests hold
them against numpy). Source of the methods: Muller, Elementary Functions, chapters on range
reduction and polynomial approximation; Cody and Waite's constants in parts, whose products with a
whole number of up to 20 bits are exact.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, MutableMapping, Sequence
from typing import Any

from llvmlite import ir

from railwright.engine.expression import EXP_LIMIT, Expression

DOUBLE = ir.DoubleType()
LONG = ir.IntType(64)
FUSE = ("contract",)
"""Lets a product and a sum become one fused operation, which only loses a rounding."""

OPERATIONS = (
    *("add", "sub", "mul", "div", "abs", "max", "select"),
    *("sqrt", "exp", "log", "sin", "cos"),
)
"""Names of the methods that stand for a graph's operations."""
LN2_HIGH = 6.93147180369123816490e-01  # 33 bits of ln 2 (Cody and Waite)
LN2_LOW = 1.90821492927058770002e-10  # the rest
QUARTER_TURN = (
    1.57079632673412561417,  # 33 bits of pi / 2
    6.07710050630396597660e-11,  # the next 33 bits
    2.02226624879595063154e-21,  # the rest
)
ROUNDER = 1.5 * 2.0**52
"""Adding and subtracting this rounds a double to a whole number, left in its low bits."""


class VectorCode:
    """Writes operations on vectors of doubles into a block of an LLVM function."""

    def __init__(self, builder: ir.IRBuilder, width: int) -> None:
        self.builder = builder
        self.width = width
        self.vector = ir.VectorType(DOUBLE, width)
        self.longs = ir.VectorType(LONG, width)

    def splat(self, value: float) -> ir.Constant:
        """The same number in every lane."""
        return ir.Constant(self.vector, [ir.Constant(DOUBLE, value)] * self.width)

    def everywhere(self, number: Any) -> Any:
        """A number known only when the code runs, in every lane."""
        place = ir.IntType(32)
        one = self.builder.insert_element(ir.Constant(self.vector, ir.Undefined), number, place(0))
        mask = ir.Constant(ir.VectorType(place, self.width), [place(0)] * self.width)
        return self.builder.shuffle_vector(one, one, mask)

    def _bits(self, value: int) -> ir.Constant:
        return ir.Constant(self.longs, [ir.Constant(LONG, value)] * self.width)

    def add(self, a: Any, b: Any) -> Any:
        return self.builder.fadd(a, b, flags=FUSE)

    def sub(self, a: Any, b: Any) -> Any:
        return self.builder.fsub(a, b, flags=FUSE)

    def mul(self, a: Any, b: Any) -> Any:
        return self.builder.fmul(a, b, flags=FUSE)

    def div(self, a: Any, b: Any) -> Any:
        return self.builder.fdiv(a, b)

    def _intrinsic(self, name: str, *arguments: Any) -> Any:
        function = self.builder.module.declare_intrinsic(
            f"llvm.{name}.v{self.width}f64",
            fnty=ir.FunctionType(self.vector, [self.vector] * len(arguments)),
        )
        return self.builder.call(function, arguments)

    def sqrt(self, a: Any) -> Any:
        return self._intrinsic("sqrt", a)

    def abs(self, a: Any) -> Any:
        return self._intrinsic("fabs", a)

    def at_least(self, a: Any, b: Any) -> Any:
        """Mask of lanes where a >= b (false where either is not a number)."""
        return self.builder.fcmp_ordered(">=", a, b)

    def choose(self, mask: Any, yes: Any, no: Any) -> Any:
        return self.builder.select(mask, yes, no)

    def max(self, a: Any, b: Any) -> Any:
        return self.choose(self.at_least(a, b), a, b)

    def within(self, a: Any, low: Any, high: Any) -> Any:
        """a held between two others."""
        a = self.choose(self.at_least(a, high), high, a)
        return self.choose(self.at_least(low, a), low, a)

    def select(self, condition: Any, yes: Any, no: Any) -> Any:
        return self.choose(self.at_least(condition, self.splat(0.0)), yes, no)

    def _horner(self, x: Any, coefficients: Sequence[float]) -> Any:
        total: Any = self.splat(coefficients[-1])
        for c in reversed(coefficients[:-1]):
            total = self.add(self.mul(total, x), self.splat(c))
        return total

    def exp(self, x: Any) -> Any:
        """e to x; x is held within +-EXP_LIMIT."""
        b = self.builder
        x = self.choose(self.at_least(x, self.splat(EXP_LIMIT)), self.splat(EXP_LIMIT), x)
        x = self.choose(self.at_least(self.splat(-EXP_LIMIT), x), self.splat(-EXP_LIMIT), x)
        # No fusing around the rounder: the sum must round.
        shifted = b.fadd(b.fmul(x, self.splat(1.0 / math.log(2.0))), self.splat(ROUNDER))
        whole = b.fsub(shifted, self.splat(ROUNDER))
        r = self.sub(x, self.mul(whole, self.splat(LN2_HIGH)))
        r = self.sub(r, self.mul(whole, self.splat(LN2_LOW)))
        series = self._horner(r, [1.0 / math.factorial(k) for k in range(14)])
        power = b.shl(b.add(b.bitcast(shifted, self.longs), self._bits(1023)), self._bits(52))
        return self.mul(series, b.bitcast(power, self.vector))

    def log(self, x: Any) -> Any:
        """Natural logarithm; not a number for x < 0."""
        b = self.builder
        bits = b.bitcast(x, self.longs)
        root_half = self._bits(0x3FE6A09E667F3BCD)  # sqrt(1/2): mantissas end in [0.71, 1.41)
        exponent = b.ashr(b.sub(bits, root_half), self._bits(52))
        mantissa = b.bitcast(b.sub(bits, b.shl(exponent, self._bits(52))), self.vector)
        magic = 0x4338000000000000  # bit pattern of ROUNDER
        k = b.fsub(b.bitcast(b.add(exponent, self._bits(magic)), self.vector), self.splat(ROUNDER))
        one = self.splat(1.0)
        f = self.div(b.fsub(mantissa, one), b.fadd(mantissa, one))
        square = self.mul(f, f)
        tail = self._horner(square, [2.0 / (2 * i + 1) for i in range(1, 12)])
        series = self.add(self.mul(self.mul(tail, square), f), self.mul(f, self.splat(2.0)))
        low = self.add(series, self.mul(k, self.splat(LN2_LOW)))
        result = self.add(self.mul(k, self.splat(LN2_HIGH)), low)
        ok = self.at_least(x, self.splat(2.2250738585072014e-308))
        return self.choose(ok, result, self.splat(math.nan))

    def sin(self, x: Any) -> Any:
        """Sine of x in radians, for |x| up to 1.6 million (20 bits of quarter turns)."""
        return self._sine(x, 0)

    def cos(self, x: Any) -> Any:
        """Cosine of x in radians, likewise."""
        return self._sine(x, 1)

    def _sine(self, x: Any, turned: int) -> Any:
        """Sine of x plus `turned` quarter turns."""
        b = self.builder
        # No fusing around the rounder: the sum must round.
        shifted = b.fadd(b.fmul(x, self.splat(2.0 / math.pi)), self.splat(ROUNDER))
        whole = b.fsub(shifted, self.splat(ROUNDER))
        first, second, third = (self.mul(whole, self.splat(part)) for part in QUARTER_TURN)
        left = self.sub(x, first)
        near = self.sub(left, second)
        # What rounding took from `near` comes back together with the third part.
        r = self.add(near, self.sub(self.sub(self.sub(left, near), second), third))
        square = self.mul(r, r)
        odd = self._horner(square, [(-1) ** k / math.factorial(2 * k + 1) for k in range(1, 9)])
        even = self._horner(square, [(-1) ** k / math.factorial(2 * k) for k in range(2, 10)])
        sine = self.add(r, self.mul(self.mul(odd, square), r))
        half = self.mul(square, self.splat(0.5))
        cosine = self.sub(self.splat(1.0), self.sub(half, self.mul(self.mul(even, square), square)))
        quarter = b.add(b.bitcast(shifted, self.longs), self._bits(turned))
        swapped = b.icmp_signed("!=", b.and_(quarter, self._bits(1)), self._bits(0))
        sign = b.shl(b.and_(quarter, self._bits(2)), self._bits(62))
        size = b.bitcast(self.choose(swapped, cosine, sine), self.longs)
        return b.bitcast(b.xor(size, sign), self.vector)

    def write(
        self,
        roots: Sequence[Expression],
        unknown: Callable[[int], Any],
        parameter: Callable[[int], Any],
        known: MutableMapping[int, Any] | None = None,
    ) -> list[Any]:
        """Code for all roots; the callables load a row of unknowns or parameters.

        known: operations whose values are at hand; what is written is added.
        """
        nodes = roots[0].graph.nodes
        values: MutableMapping[int, Any] = {} if known is None else known
        operation: Mapping[str, Callable[..., Any]] = {
            name: getattr(self, name) for name in OPERATIONS
        }
        for number in roots[0].graph.needed(roots, values):
            op, *rest = nodes[number]
            if op == "const":
                values[number] = self.splat(rest[0])
            elif op == "x":
                values[number] = unknown(rest[0])
            elif op == "p":
                values[number] = parameter(rest[0])
            elif op == "mark":
                values[number] = values[rest[0]]
            else:
                values[number] = operation[op](*(values[r] for r in rest))
        return [values[r.id] for r in roots]
