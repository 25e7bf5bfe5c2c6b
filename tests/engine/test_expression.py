"""Traced arithmetic: its values, its simplifications and its slopes on random expressions."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from engine.formulas import UNKNOWNS, Formula, random_formula

from railwright.engine.dual import Dual
from railwright.engine.expression import EXP_LIMIT, Expression, Graph, gradient, partials

Operation = Callable[[Any], Any]


def traced(formula: Formula) -> Expression:
    graph = Graph()
    return graph.lift(formula([graph.unknown(i) for i in range(UNKNOWNS)]))


def values_of(roots: list[Expression], x: Any) -> list[Any]:
    return roots[0].graph.evaluate(roots, x, np.empty((0, x.shape[1])))


@pytest.mark.parametrize("seed", range(60))
def test_traced_values_are_the_plain_ones_to_the_last_bit(seed: int) -> None:
    rng = np.random.default_rng(seed)
    formula = random_formula(rng)
    x = rng.normal(0.0, 2.0, (UNKNOWNS, 50))
    x[:, :5] = 0.0
    plain = np.broadcast_to(formula(list(x)), (50,))
    (found,) = values_of([traced(formula)], x)
    assert np.array_equal(found, plain)


@pytest.mark.parametrize("seed", range(60))
def test_slopes_are_those_of_a_complex_step(seed: int) -> None:
    rng = np.random.default_rng(1000 + seed)
    formula = random_formula(rng)
    x = rng.normal(0.0, 2.0, (UNKNOWNS, 40))
    root = traced(formula)
    found = gradient(root)
    for row in range(UNKNOWNS):
        step = x.astype(complex)
        step[row] += 1e-30j
        wanted = np.imag(np.broadcast_to(formula(list(step)), (40,))) / 1e-30
        slope = values_of([found[row]], x)[0] if row in found else np.zeros(40)
        assert slope == pytest.approx(wanted, rel=1e-10, abs=1e-12)


@pytest.mark.parametrize("seed", range(30))
def test_slopes_of_dual_numbers_are_those_of_the_graph(seed: int) -> None:
    rng = np.random.default_rng(2000 + seed)
    formula = random_formula(rng)
    x = rng.normal(0.0, 2.0, (UNKNOWNS, 40))
    whole = formula([Dual(row, {i: np.ones(40)}) for i, row in enumerate(x)])
    carried = whole.slopes if isinstance(whole, Dual) else {}
    root = traced(formula)
    found = gradient(root)
    for row in range(UNKNOWNS):
        slope = values_of([found[row]], x)[0] if row in found else np.zeros(40)
        other = np.broadcast_to(carried.get(row, 0.0), (40,))
        assert other == pytest.approx(slope, rel=1e-12, abs=1e-14)


def test_random_formulas_depend_on_something() -> None:
    # Else the tests above would compare constants.
    formulas = [traced(random_formula(np.random.default_rng(seed))) for seed in range(60)]
    assert sum(len(gradient(f)) >= 2 for f in formulas) > 40


class TestMaximum:
    """The operation that only the engine makes."""

    def test_value_and_slopes(self) -> None:
        graph = Graph()
        a, b = graph.unknown(0), graph.unknown(1)
        root = graph.make("max", a * 3.0, b)
        x = np.array([[1.0, 1.0], [2.0, 4.0]])
        slopes = gradient(root)
        found = values_of([root, slopes[0], slopes[1]], x)
        assert np.array(found).tolist() == [[3.0, 4.0], [3.0, 0.0], [0.0, 1.0]]


class TestSimplification:
    def test_equal_operations_are_kept_once(self) -> None:
        graph = Graph()
        a, b = graph.unknown(0), graph.unknown(1)
        assert (a + b).id == (b + a).id
        assert (a * b).id == (b * a).id
        assert (a - b).id != (b - a).id

    @pytest.mark.parametrize(
        "same",
        [
            lambda a: a + 0.0,
            lambda a: 0.0 + a,
            lambda a: a - 0.0,
            lambda a: a * 1.0,
            lambda a: 1.0 * a,
            lambda a: a / 1.0,
            lambda a: a.select(a, a, a),
            lambda a: a.select(a.graph.constant(0.0), a, -a),
            lambda a: a.select(a.graph.constant(-1e-300), -a, a),
        ],
    )
    def test_what_changes_nothing_leaves_nothing(self, same: Operation) -> None:
        a = Graph().unknown(0)
        assert same(a).id == a.id

    @pytest.mark.parametrize("nil", [lambda a: a * 0.0, lambda a: a - a, lambda a: 0.0 / a])
    def test_what_is_nil_becomes_a_number(self, nil: Operation) -> None:
        assert nil(Graph().unknown(0)).value == 0.0

    def test_numbers_are_folded(self) -> None:
        graph = Graph()
        assert (graph.constant(2.0).sqrt() * 3.0 + 1.0).value == math.sqrt(2.0) * 3.0 + 1.0
        assert len(graph.needed([graph.constant(2.0).exp()])) == 1


def test_only_what_is_needed_is_evaluated() -> None:
    graph = Graph()
    a = graph.unknown(0)
    wanted = a * 2.0
    graph.unknown(7).log()  # row 7 does not exist
    assert values_of([wanted], np.array([[3.0]]))[0].tolist() == [6.0]


def test_exponents_are_held_within_the_limit() -> None:
    graph = Graph()
    root = graph.unknown(0).exp()
    found = values_of([root], np.array([[1e4, -1e4]]))[0]
    assert found.tolist() == [math.exp(EXP_LIMIT), math.exp(-EXP_LIMIT)]
    assert np.array_equal(Dual(np.array([1e4, -1e4])).exp().value, found)


def test_a_parameter_has_no_slope() -> None:
    graph = Graph()
    root = graph.parameter(0) * graph.unknown(0) + graph.parameter(1)
    slopes = gradient(root)
    assert list(slopes) == [0]
    x, p = np.array([[2.0]]), np.array([[5.0], [7.0]])
    assert [v.tolist() for v in graph.evaluate([root, slopes[0]], x, p)] == [[17.0], [5.0]]


class TestMarks:
    """A marked number is the same number; derivatives can be taken by it as well."""

    graph = Graph()
    x = graph.unknown(0)
    inner = (x * x).marked(0)
    outer = (inner * graph.parameter(0) + x).marked(1)
    root = outer * outer + inner

    def at(self, expression: Expression) -> float:
        (value,) = self.graph.evaluate([expression], np.array([[3.0]]), np.array([[5.0]]))
        return float(value[0])

    def test_the_value_stays(self) -> None:
        assert self.at(self.root) == 48.0**2 + 9.0

    def test_slopes_pass_through(self) -> None:
        assert self.at(gradient(self.root)[0]) == 2.0 * 48.0 * (6.0 * 5.0 + 1.0) + 6.0

    def test_slopes_by_a_mark_take_in_what_passes_through_others(self) -> None:
        found = partials(self.root)
        assert found.keys() == {("x", 0), ("p", 0), ("mark", 0), ("mark", 1)}
        assert self.at(found["mark", 1]) == 2.0 * 48.0
        assert self.at(found["mark", 0]) == 2.0 * 48.0 * 5.0 + 1.0
        assert self.at(found["p", 0]) == 2.0 * 48.0 * 9.0

    def test_equal_numbers_of_different_marks_stay_apart(self) -> None:
        assert (self.x * self.x).marked(0).id == self.inner.id
        assert (self.x * self.x).marked(2).id != self.inner.id

    def test_a_number_that_is_known_needs_no_mark(self) -> None:
        assert self.graph.constant(2.0).marked(3).value == 2.0
