"""Traced arithmetic: device equations run on these objects leave a graph of operations behind.

Equal operations are kept once. Simplifications are only those that hold for every number,
so that the traced and the plain path agree to rounding.
"""

from __future__ import annotations

import math
from collections.abc import Container, Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Node = tuple[Any, ...]
COMMUTATIVE = frozenset({"add", "mul"})


class Graph:
    """Operations in order of creation; arguments always come before their use."""

    def __init__(self) -> None:
        self.nodes: list[Node] = []
        self._known: dict[Node, int] = {}

    def _intern(self, *node: Any) -> Expression:
        number = self._known.get(node)
        if number is None:
            number = len(self.nodes)
            self.nodes.append(node)
            self._known[node] = number
        return Expression(self, number)

    def constant(self, value: float) -> Expression:
        """A number."""
        return self._intern("const", float(value))

    def unknown(self, index: int) -> Expression:
        """Row `index` of the unknowns."""
        return self._intern("x", index)

    def parameter(self, index: int) -> Expression:
        """Row `index` of the parameters."""
        return self._intern("p", index)

    def lift(self, value: Any) -> Expression:
        """An expression of this graph, from a number if need be."""
        return value if isinstance(value, Expression) else self.constant(float(value))

    def make(self, op: str, *arguments: Expression) -> Expression:
        """One operation on expressions, simplified where that is exact."""
        simple = _simplified(self, op, arguments)
        if simple is not None:
            return simple
        ids = [a.id for a in arguments]
        if op in COMMUTATIVE:
            ids.sort()
        return self._intern(op, *ids)

    def needed(self, roots: Iterable[Expression], known: Container[int] = ()) -> list[int]:
        """Ids of all operations that the roots stand on, in order of creation.

        What is known already is left out, with what only it stands on.
        """
        seen: set[int] = set()
        pending = [r.id for r in roots]
        while pending:
            number = pending.pop()
            if number not in seen and number not in known:
                seen.add(number)
                pending.extend(operands(self.nodes[number]))
        return sorted(seen)

    def settled(
        self, roots: Iterable[Expression], moving: Container[int], unknowns_move: bool = True
    ) -> list[int]:
        """Operations that stand on nothing that moves and on which others stand that do.

        They can be computed once and for all. moving: numbers of parameters.
        """
        restless: set[int] = set()
        edge: set[int] = set()
        needed = self.needed(roots)
        for number in needed:
            op, *rest = self.nodes[number]
            below = operands(self.nodes[number])
            moves = unknowns_move if op == "x" else op == "p" and rest[0] in moving
            if moves or not restless.isdisjoint(below):
                restless.add(number)
                edge.update(below)
        edge.update(root.id for root in roots)
        plain = ("const", "x", "p")
        return sorted(n for n in edge - restless if self.nodes[n][0] not in plain)

    def part(self, roots: Iterable[Expression]) -> tuple[tuple[int, ...], dict[int, Expression]]:
        """A graph of what the roots stand on, with its parameters numbered anew.

        Returns the old numbers of its parameters and its operations by their old ids.
        """
        needed = self.needed(roots)
        read = [self.nodes[i][1] for i in needed if self.nodes[i][0] == "p"]
        place = {row: number for number, row in enumerate(sorted(read))}
        graph = Graph()
        found: dict[int, Expression] = {}
        for number in needed:
            op, *rest = self.nodes[number]
            if op == "p":
                rest = [place[rest[0]]]
            elif op not in ("const", "x"):
                rest = [found[i].id for i in rest]  # in order: no id overtakes another
            found[number] = graph._intern(op, *rest)
        return tuple(place), found

    def evaluate(self, roots: Sequence[Expression], x: Array, p: Array) -> list[Array]:
        """The roots' values on numpy, for unknowns x and parameters p of shape (row, lane)."""
        values = self.values(self.needed(roots), x, p)
        lanes = x.shape[1]
        return [np.broadcast_to(np.asarray(values[r.id], float), (lanes,)) for r in roots]

    def values(
        self,
        order: Iterable[int],
        x: Array,
        p: Array | Sequence[Array | float],
        known: Mapping[int, Any] | None = None,
    ) -> dict[int, Any]:
        """Values of operations by id, in their order, beside those that are known already.

        x (row, lane); a parameter and what stands on parameters alone may be one number.
        """
        values = dict(known or {})
        with np.errstate(all="ignore"):
            for number in order:
                op, *rest = self.nodes[number]
                values[number] = _EVALUATE[op](x, p, *rest, values=values)
        return values


def operands(node: Node) -> tuple[int, ...]:
    """Ids of a node's arguments."""
    return () if node[0] in ("const", "x", "p") else node[1:]


class Expression:
    """A number yet to be computed."""

    __slots__ = ("graph", "id")
    __array_ufunc__ = None

    def __init__(self, graph: Graph, number: int) -> None:
        self.graph = graph
        self.id = number

    @property
    def value(self) -> float | None:
        """The number, where it is known already."""
        op, *rest = self.graph.nodes[self.id]
        return rest[0] if op == "const" else None

    def _with(self, op: str, *others: Any) -> Expression:
        return self.graph.make(op, self, *(self.graph.lift(o) for o in others))

    def __add__(self, other: Any) -> Expression:
        return self._with("add", other)

    __radd__ = __add__

    def __mul__(self, other: Any) -> Expression:
        return self._with("mul", other)

    __rmul__ = __mul__

    def __sub__(self, other: Any) -> Expression:
        return self._with("sub", other)

    def __rsub__(self, other: Any) -> Expression:
        return self.graph.make("sub", self.graph.lift(other), self)

    def __truediv__(self, other: Any) -> Expression:
        return self._with("div", other)

    def __rtruediv__(self, other: Any) -> Expression:
        return self.graph.make("div", self.graph.lift(other), self)

    def __neg__(self) -> Expression:
        return self.graph.make("sub", self.graph.constant(0.0), self)

    def __abs__(self) -> Expression:
        return self.graph.make("abs", self)

    def exp(self) -> Expression:
        """e to this."""
        return self.graph.make("exp", self)

    def log(self) -> Expression:
        """Natural logarithm."""
        return self.graph.make("log", self)

    def sqrt(self) -> Expression:
        """Square root."""
        return self.graph.make("sqrt", self)

    def marked(self, number: int) -> Expression:
        """The same, kept apart as mark `number`, so that derivatives by it can be asked for."""
        return self._with("mark", number)

    def sin(self) -> Expression:
        """Sine; radians."""
        return self.graph.make("sin", self)

    def cos(self) -> Expression:
        """Cosine; radians."""
        return self.graph.make("cos", self)

    def select(self, condition: Any, yes: Any, no: Any) -> Expression:
        """`yes` where condition >= 0, else `no`; `self` only names the graph."""
        lift = self.graph.lift
        return self.graph.make("select", lift(condition), lift(yes), lift(no))


_FOLD: dict[str, Any] = {
    "add": lambda a, b: a + b,
    "sub": lambda a, b: a - b,
    "mul": lambda a, b: a * b,
    "div": lambda a, b: a / b,
    "exp": math.exp,
    "log": math.log,
    "sqrt": math.sqrt,
    "sin": math.sin,
    "cos": math.cos,
    "abs": abs,
    "max": max,
    "mark": lambda a, number: a,
    "select": lambda c, a, b: a if c >= 0 else b,
}


def _simplified(graph: Graph, op: str, arguments: Sequence[Expression]) -> Expression | None:
    values = [a.value for a in arguments]
    if all(v is not None for v in values):
        return graph.constant(_FOLD[op](*values))
    if op == "add":
        for value, other in ((values[0], arguments[1]), (values[1], arguments[0])):
            if value == 0.0:
                return other
    if op == "sub" and values[1] == 0.0:
        return arguments[0]
    if op == "sub" and arguments[0].id == arguments[1].id:
        return graph.constant(0.0)
    if op == "mul":
        for value, other in ((values[0], arguments[1]), (values[1], arguments[0])):
            if value == 0.0:
                return graph.constant(0.0)
            if value == 1.0:
                return other
    if op == "div" and values[1] == 1.0:
        return arguments[0]
    if op == "div" and values[0] == 0.0:
        return graph.constant(0.0)
    if op == "select" and values[0] is not None:
        return arguments[1] if values[0] >= 0 else arguments[2]
    if op == "select" and arguments[1].id == arguments[2].id:
        return arguments[1]
    return None


def _binary(function: Any) -> Any:
    return lambda x, p, a, b, values: function(values[a], values[b])


def _unary(function: Any) -> Any:
    return lambda x, p, a, values: function(values[a])


_EVALUATE: dict[str, Any] = {
    "const": lambda x, p, value, values: value,
    "x": lambda x, p, index, values: x[index],
    "p": lambda x, p, index, values: p[index],
    "add": _binary(np.add),
    "sub": _binary(np.subtract),
    "mul": _binary(np.multiply),
    "div": _binary(np.divide),
    "max": _binary(np.maximum),
    "exp": _unary(lambda a: np.exp(np.clip(a, -EXP_LIMIT, EXP_LIMIT))),
    "log": _unary(np.log),
    "sqrt": _unary(np.sqrt),
    "sin": _unary(np.sin),
    "cos": _unary(np.cos),
    "abs": _unary(np.abs),
    "mark": lambda x, p, a, number, values: values[a],
    "select": lambda x, p, c, a, b, values: np.where(
        np.asarray(values[c]) >= 0, values[a], values[b]
    ),
}
EXP_LIMIT = 700.0
"""Exponents are held within this on every path; double precision ends at 709.78."""


def gradient(root: Expression, by: str = "x") -> dict[int, Expression]:
    """Derivative of the root by every unknown that it depends on (row -> expression).

    by: "x" for the unknowns, "p" for the parameters.
    """
    return {index: slope for (op, index), slope in partials(root).items() if op == by}


def partials(root: Expression) -> dict[tuple[str, int], Expression]:
    """Derivative of the root by all that it depends on.

    Keys are ("x", row of the unknown), ("p", row of the parameter) and ("mark", number of the
    mark). A derivative by a mark takes in what reaches the root through other marks; the others
    pass through all marks. Reverse accumulation: each operation is visited once.
    """
    graph = root.graph
    adjoint: dict[int, Expression] = {root.id: graph.constant(1.0)}
    slopes: dict[tuple[str, int], Expression] = {}
    for number in reversed(graph.needed([root])):
        weight = adjoint.pop(number, None)
        if weight is None or weight.value == 0.0:
            continue
        op, *rest = graph.nodes[number]
        if op in ("x", "p"):
            slopes[op, rest[0]] = weight
        elif op == "mark":
            slopes[op, int(graph.nodes[rest[1]][1])] = weight
        if op not in ("const", "x", "p"):
            arguments = [Expression(graph, a) for a in rest]
            for argument, slope in _slopes(Expression(graph, number), op, arguments, weight):
                old = adjoint.get(argument.id)
                adjoint[argument.id] = slope if old is None else old + slope
    return slopes


def _slopes(
    whole: Expression, op: str, a: Sequence[Expression], weight: Expression
) -> list[tuple[Expression, Expression]]:
    zero = whole.graph.constant(0.0)
    match op:
        case "mark":
            return [(a[0], weight)]
        case "add":
            return [(a[0], weight), (a[1], weight)]
        case "sub":
            return [(a[0], weight), (a[1], -weight)]
        case "mul":
            return [(a[0], weight * a[1]), (a[1], weight * a[0])]
        case "div":
            return [(a[0], weight / a[1]), (a[1], -(weight * whole / a[1]))]
        case "exp":
            return [(a[0], weight * whole)]
        case "log":
            return [(a[0], weight / a[0])]
        case "sqrt":
            return [(a[0], weight * 0.5 / whole)]
        case "sin":
            return [(a[0], weight * a[0].cos())]
        case "cos":
            return [(a[0], -(weight * a[0].sin()))]
        case "abs":
            return [(a[0], whole.select(a[0], weight, -weight))]
        case "max":
            return [
                (a[0], whole.select(a[0] - a[1], weight, zero)),
                (a[1], whole.select(a[0] - a[1], zero, weight)),
            ]
        case "select":
            return [
                (a[1], whole.select(a[0], weight, zero)),
                (a[2], whole.select(a[0], zero, weight)),
            ]
    raise ValueError(f"no derivative is known for {op!r}")
