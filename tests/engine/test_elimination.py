"""The shared order of elimination: the symbolic solution against dense solving."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import NDArray

from railwright.engine.elimination import Place, pivot_order, solve_symbolically
from railwright.engine.expression import Graph
from railwright.engine.operating_point import DISTRUST

Array = NDArray[np.float64]


def network(
    rng: np.random.Generator, nodes: int, branches: int, lanes: int, tie: float = 1e-3
) -> Array:
    """Matrices (lane, row, column) as nodal analysis makes them, from one random network.

    Conductances over six decades, one node tied to ground [S], a path of them through all nodes,
    and own equations of sources and coils, whose places on the diagonal are empty.
    """
    size = nodes + branches
    a = np.zeros((lanes, size, size))
    pairs = [(i, i + 1) for i in range(nodes - 1)]
    pairs += [(int(i), int(j)) for i, j in rng.integers(0, nodes, (nodes, 2)) if i != j]
    for i, j in pairs:
        g = 10.0 ** rng.uniform(-5, 1, lanes)
        a[:, [i, j], [i, j]] += g[:, None]
        a[:, [i, j], [j, i]] -= g[:, None]
    a[:, 0, 0] += tie
    for k, node in enumerate(rng.choice(nodes, branches, replace=False), start=nodes):
        a[:, node, k], a[:, k, node] = 1.0, 1.0
    return a[:, rng.permutation(size)][:, :, rng.permutation(size)]


def pattern_of(matrices: Array) -> list[Place]:
    rows, columns = np.nonzero(np.abs(matrices).max(axis=0))
    return [(int(i), int(j)) for i, j in zip(rows, columns, strict=True)]


def solved(
    matrices: Array, right: Array, order: tuple[Place, ...], weight: float = 1.0
) -> tuple[Array, Array]:
    """Steps (row, lane) and trust (lane) by the symbolic solution."""
    graph = Graph()
    lanes, size, _ = matrices.shape
    places = pattern_of(matrices)
    slopes = {place: graph.parameter(i) for i, place in enumerate(places)}
    residuals = [graph.parameter(len(places) + i) for i in range(size)]
    p = np.array([*(matrices[:, i, j] for i, j in places), *right])
    steps, trust = solve_symbolically(slopes, residuals, order, weight)
    found = graph.evaluate([*steps, trust], np.empty((0, lanes)), p)
    return np.array(found[:-1]), np.asarray(found[-1])


def dense(matrices: Array, right: Array) -> Array:
    return np.asarray(-np.linalg.solve(matrices, right.T[..., None])[..., 0].T, float)


def exact(matrix: Array, right: Array) -> Array:
    """The step without rounding, by elimination on fractions."""
    rows = [
        [Fraction(float(v)) for v in (*row, -own)] for row, own in zip(matrix, right, strict=True)
    ]
    size = len(rows)
    for k in range(size):
        best = max(range(k, size), key=lambda i: abs(rows[i][k]))
        rows[k], rows[best] = rows[best], rows[k]
        for i in range(size):
            if i != k and rows[i][k]:
                factor = rows[i][k] / rows[k][k]
                rows[i] = [u - factor * v for u, v in zip(rows[i], rows[k], strict=True)]
    return np.array([float(rows[k][-1] / rows[k][k]) for k in range(size)])


@pytest.mark.parametrize("seed", range(25))
def test_solution_is_that_of_dense_solving(seed: int) -> None:
    rng = np.random.default_rng(seed)
    matrices = network(rng, int(rng.integers(4, 14)), int(rng.integers(1, 4)), 64)
    right = rng.normal(size=(matrices.shape[1], 64))
    order = pivot_order(pattern_of(matrices), matrices[:24])
    steps, trust = solved(matrices, right, order)
    wanted = dense(matrices, right)
    sure = trust >= 1e-9
    assert sure.mean() > 0.9
    size = np.abs(wanted).max(axis=0)[sure]
    assert (np.abs(steps - wanted)[:, sure].max(axis=0) / size).max() < 1e-6
    assert np.median(np.abs(steps - wanted)[:, sure].max(axis=0) / size) < 1e-11


@pytest.mark.parametrize("seed", range(25))
def test_every_pivot_exists(seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    matrices = network(rng, 9, 3, 12)
    order = pivot_order(pattern_of(matrices), matrices)
    size = matrices.shape[1]
    assert sorted(row for row, _ in order) == list(range(size))
    assert sorted(column for _, column in order) == list(range(size))
    a = matrices.copy()
    for k, (row, column) in enumerate(order):
        pivot = a[:, row, column]
        assert (np.abs(pivot) > 0).all()
        left = [r for r, _ in order[k + 1 :]]
        a[:, left] -= (a[:, left, column] / pivot[:, None])[..., None] * a[:, row][:, None]


def test_diagonal_of_nothing() -> None:
    # Pure exchange: no pivot on the diagonal exists at all.
    matrices = np.zeros((1, 3, 3))
    matrices[0, [0, 1, 2], [1, 2, 0]] = [2.0, -3.0, 0.5]
    right = np.array([[2.0], [6.0], [1.0]])
    steps, trust = solved(matrices, right, pivot_order(pattern_of(matrices), matrices))
    assert steps[:, 0].tolist() == [-2.0, -1.0, 2.0]
    assert trust.tolist() == [1.0]


def test_a_pivot_that_only_sometimes_exists_is_passed_over() -> None:
    # The first row's own entry fills in least by far, but vanishes in one sample, as a control's
    # slope does in saturation.
    matrices = np.array([[[5.0, 1.0, 0.0, 0.0], [1.0, 0.7, 0.3, 0.4]] + [[0.0, 1.0, 3.0, 1.0]] * 2])
    matrices = np.repeat(matrices, 2, axis=0)
    matrices[:, 3, 3] = 4.0
    matrices[1, 0, 0] = 0.0
    order = pivot_order(pattern_of(matrices), matrices)
    assert order[0] != (0, 0)
    right = np.ones((4, 2))
    assert solved(matrices, right, order)[0] == pytest.approx(dense(matrices, right), rel=1e-12)


def diodes(rng: np.random.Generator, lanes: int, wild: int) -> Array:
    """Matrices (lane, row, column) of a ring of nets with a diode from each to the next.

    Each diode has an equation of its own, for its drop behind its series resistance. In some lanes
    they are on beyond all measure, as samples drawn far from where a supply rests have them.
    """
    nets = 4
    a = np.zeros((lanes, 2 * nets, 2 * nets))
    for net in range(nets):
        a[:, net, net] = 10.0 ** rng.uniform(-3, 3, lanes)
        own, to = nets + net, (net + 1) % nets
        far, near = rng.uniform(-12, 100, lanes), rng.uniform(-15, 1, lanes)
        slope = 10.0 ** np.where(np.arange(lanes) < wild, far, near)
        a[:, own, own] = 1.0 + slope
        a[:, own, net], a[:, own, to] = -1.0, 1.0
        a[:, net, own], a[:, to, own] = slope, -slope
    return a


@pytest.mark.parametrize("seed", range(12))
def test_samples_far_out_do_not_spoil_the_others(seed: int) -> None:
    # Once a diode's equation is gone, next to nothing is left of a row whose largest entry that
    # was. Beside other rows it tells nothing; a pivot between two nets would lose all digits.
    rng = np.random.default_rng(seed)
    matrices = diodes(rng, 12, 6)
    order = pivot_order(pattern_of(matrices), matrices)
    right = np.zeros((matrices.shape[1], 6))
    right[0] = 1.0
    steps, _ = solved(matrices[6:], right, order)
    for lane in range(6):
        wanted = exact(matrices[6 + lane], right[:, lane])
        assert np.abs(steps[:, lane] - wanted).max() < 1e-12 * np.abs(wanted).max()


def test_little_is_filled_in() -> None:
    # An arrow: eliminating the hub first would fill everything; eliminated last, nothing.
    size = 12
    arrow = np.eye(size) * 4.0
    arrow[0], arrow[:, 0] = 1.0, 1.0
    arrow[0, 0] = 4.0
    order = pivot_order(pattern_of(arrow[None]), arrow[None])
    assert order.index((0, 0)) >= size - 2


class TestTrust:
    def test_falls_where_a_pivot_cancels(self) -> None:
        left_over = np.array([1.0, 1e-3, 1e-10, 1e-13])
        matrices = np.ones((4, 2, 2))
        matrices[:, 1, 1] += left_over
        right = np.ones((2, 4))
        order = pivot_order(pattern_of(matrices), np.array([[[1.0, 1.0], [1.0, 2.0]]]))
        _, trust = solved(matrices, right, order)
        assert trust == pytest.approx(left_over / (1.0 + left_over), rel=1e-2)
        assert (trust < DISTRUST).tolist() == [False, False, False, True]

    def test_losses_along_a_chain_count_too(self) -> None:
        """Two pivots in a row keep a part in a million each."""
        chain = np.array([[1.0, 1.0, 0.0], [1.0, 1.0 + 1e-6, 1e-6], [0.0, 1e-6, 1e-6 + 1e-12]])
        order = ((0, 0), (1, 1), (2, 2))
        _, trust = solved(chain[None], np.ones((3, 1)), order)
        assert trust[0] == pytest.approx(1e-12, rel=0.1)
        _, trust = solved(chain[None], np.ones((3, 1)), order, weight=1e-4)
        assert trust[0] == pytest.approx(1e-8, rel=0.1)

    def test_tells_how_many_digits_are_left(self) -> None:
        """Nets that nothing but leakage ties down: against exact rational arithmetic."""
        found = [self.off(seed) for seed in range(300)]
        off, by_exchanges, trust = (np.array(each) for each in zip(*found, strict=True))
        sure = trust >= DISTRUST
        assert (off[sure] < np.minimum(0.02, 2e-13 / trust[sure] + 1e-9)).all()
        # Digits that the equations do not hold are not brought back by row exchanges.
        few = trust < 1e-9
        assert 50 < few.sum() < 250
        assert np.median(by_exchanges[few]) > 0.1 * np.median(off[few])
        assert off[trust < 0.1 * DISTRUST].max() > 0.02

    def off(self, seed: int) -> tuple[float, float, float]:
        """Largest relative errors of our step and with row exchanges, and trust."""
        rng = np.random.default_rng([seed, 7])
        tie = 10.0 ** rng.uniform(-14.0, -4.0)
        matrices = network(rng, int(rng.integers(3, 9)), 0, 1, tie)
        right = rng.normal(size=(matrices.shape[1], 1))
        others = matrices * 10.0 ** rng.uniform(-2.0, 2.0, (6, *matrices.shape[1:]))
        steps, trust = solved(matrices, right, pivot_order(pattern_of(matrices), others))
        wanted = exact(matrices[0], right[:, 0])
        size = np.abs(wanted).max()
        return (
            float(np.abs(steps[:, 0] - wanted).max() / size),
            float(np.abs(dense(matrices, right)[:, 0] - wanted).max() / size),
            float(trust[0]),
        )

    def test_is_whole_without_cancellation(self) -> None:
        matrices = np.array([np.diag([1e-12, 1.0, 1e9])])
        order = pivot_order(pattern_of(matrices), matrices)
        assert solved(matrices, np.ones((3, 1)), order)[1].tolist() == [1.0]
