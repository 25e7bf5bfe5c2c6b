"""Natural frequencies: closed forms, dense eigenvalues, verdicts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from circuits import GROUND
from engine.example_circuits import zener_shunt
from engine.ideal_parts import (
    IdealAmplifier,
    IdealBoard,
    IdealCapacitor,
    IdealInductor,
    IdealSource,
    Transconductance,
)
from engine.textbook_circuits import (
    at_rest,
    butterworth_ladder,
    first_of_two_unsolved,
    series_circuit,
)
from numpy.typing import NDArray
from published import Row, published
from scipy import linalg, signal

from railwright.engine.linear import Linear, linearise
from railwright.engine.poles import moved, poles

Array = NDArray[np.float64]


@pytest.mark.parametrize("row", published("series circuit"), ids=str)
def test_series_circuit(row: Row) -> None:
    found = poles(at_rest(series_circuit()))
    damping = found.damping[0, 0]
    match row.inputs["of"]:
        case "damping":
            value = damping
        case "ringing":
            value = abs(found.value[0, 0].imag) / (2 * np.pi)
        case "overshoot":
            value = np.exp(-np.pi * damping / np.sqrt(1.0 - damping**2))
    assert value == row.expected_within_its_tolerance
    assert found.verdict == ("stable",)


@pytest.mark.parametrize("order", [3, 8])
def test_ladder_of_equal_lags(order: int) -> None:
    # Poles of n equal sections between a source and an open end, closed form:
    # -4 sin²((2k - 1) π / (4n + 2)) / RC (Gantmacher and Krein's chain of equal masses).
    board = IdealBoard().put("V", IdealSource(), "N0 0")
    for k in range(order):
        board.resistor(f"R{k}", f"N{k}", f"N{k + 1}", 1e3)
        board.put(f"C{k}", IdealCapacitor(), f"N{k + 1} 0", capacitance=1e-9)
    found = poles(at_rest(board))
    angles = (2 * np.arange(1, order + 1) - 1) * np.pi / (4 * order + 2)
    wanted = -4e6 * np.sin(angles) ** 2
    assert np.sort(found.value[0].real) == pytest.approx(np.sort(wanted), rel=1e-11)
    assert np.abs(found.value.imag).max() < 1e-3


def test_time_constants_over_fourteen_decades() -> None:
    board, taus = IdealBoard(), 10.0 ** np.arange(-11.0, 4.0)
    for k, tau in enumerate(taus):
        board.resistor(f"R{k}", f"N{k}", GROUND, 10.0)
        board.put(f"C{k}", IdealCapacitor(), f"N{k} 0", capacitance=tau / 10.0)
        if k:  # bound to each other, so that it is one circuit
            board.resistor(f"K{k}", f"N{k}", f"N{k - 1}", 1e9)
    found = poles(at_rest(board))
    assert np.sort(-found.value[0].real) == pytest.approx(np.sort(1.0 / taus), rel=1e-6)
    assert found.verdict == ("stable",)


def test_filter_of_scipy() -> None:
    corner = 2 * np.pi * 1e4
    found = poles(at_rest(butterworth_ladder(corner))).value[0]
    _, wanted, _ = signal.butter(5, corner, analog=True, output="zpk")
    assert np.sort_complex(np.round(found, 3)) == pytest.approx(
        np.sort_complex(np.round(wanted, 3)), rel=1e-7
    )


@pytest.mark.parametrize("seed", range(12))
def test_random_circuits_against_dense_eigenvalues(seed: int) -> None:
    rng = np.random.default_rng(seed)
    board = IdealBoard()
    for k in range(9):
        one, two = (k + 1, k) if k < 6 else rng.choice(6, 2, replace=False)
        kind = k % 3
        size = 10.0 ** rng.uniform(0, 2)
        nets = f"{one} {two}"
        if kind == 0:
            board.resistor(f"R{k}", str(one), str(two), size)
        elif kind == 1:
            board.put(f"L{k}", IdealInductor(), nets, inductance=1e-6 * size)
        else:
            board.put(f"C{k}", IdealCapacitor(), nets, capacitance=1e-9 * size)
    for k in range(1, 7):
        board.resistor(f"G{k}", str(k), GROUND, 1e2)
    board.put("G", Transconductance(), "3 0 5 0", slope=float(rng.uniform(-0.1, 0.1)))
    linear = at_rest(board)
    g, c = linear.matrices
    with np.errstate(invalid="ignore"):
        dense = linalg.eig(g[0], -c[0] * 1e6, right=False) * 1e6
    dense = dense[np.isfinite(dense) & (np.abs(dense) < 1e13)]
    found = poles(linear).value[0]
    found = found[~np.isnan(found)]
    assert found.size == dense.size
    for each in dense:
        assert np.abs(found - each).min() < 1e-6 * abs(each) + 1e-6


class TestInfiniteOnes:
    def test_are_dropped(self) -> None:
        # A capacitor across a source, and coils in series: two storages without modes.
        board = series_circuit().put("CX", IdealCapacitor(), "IN 0", capacitance=1e-6)
        board.put("LX", IdealInductor(), "OUT M", inductance=1e-3)
        board.put("LY", IdealInductor(), "M E", inductance=2e-3).resistor("RX", "E", GROUND, 5.0)
        found = poles(at_rest(board))
        assert np.count_nonzero(~np.isnan(found.value)) == 3
        assert found.verdict == ("stable",)

    def test_lanes_may_have_different_numbers(self) -> None:
        board = series_circuit()
        found = poles(at_rest(board, {("L", "inductance"): np.array([1e-3, 0.0])}, 2))
        assert np.count_nonzero(~np.isnan(found.value), axis=1).tolist() == [2, 1]
        assert found.value[1, 0] == pytest.approx(-1e4, rel=1e-12)

    def test_a_circuit_that_stores_nothing(self) -> None:
        board = IdealBoard().put("V", IdealSource(), "A 0").resistor("R", "A", GROUND, 1.0)
        found = poles(at_rest(board))
        assert found.value.shape == (1, 0)
        assert found.verdict == ("undecided",)


class TestVerdict:
    def test_a_tank_without_loss_is_undecided(self) -> None:
        board = IdealBoard().put("L", IdealInductor(), "A 0", inductance=1e-3)
        board.put("C", IdealCapacitor(), "A 0", capacitance=1e-6)
        found = poles(at_rest(board))
        assert found.verdict == ("undecided",)
        assert np.abs(found.value[0].imag) == pytest.approx(1e-3**-0.5 * 1e3, rel=1e-12)

    def test_loss_and_gain_decide(self) -> None:
        board = IdealBoard().put("L", IdealInductor(), "A 0", inductance=1e-3)
        board.put("C", IdealCapacitor(), "A 0", capacitance=1e-6)
        board.put("G", Transconductance(), "A 0 A 0")
        slope = np.array([-1e-7, 0.0, 1e-7, 1e-3])
        found = poles(at_rest(board, {("G", "slope"): slope}, 4))
        assert found.verdict == ("stable", "undecided", "unstable", "unstable")
        assert found.stable.tolist() == [True, False, False, False]
        assert found.value[:, 0].real == pytest.approx(slope / 2e-6, abs=1e-6)

    def test_a_latch_is_unstable_in_the_middle(self) -> None:
        board = IdealBoard()
        board.put("A", IdealAmplifier(), "B 0 A 0", gain=-10.0, pole=1e3)
        board.put("B", IdealAmplifier(), "A 0 B 0", gain=-10.0, pole=1e3)
        found = poles(at_rest(board))
        wanted = 2 * np.pi * 1e3 * np.array([-11.0, 9.0])
        assert found.value[0].real == pytest.approx(wanted, rel=1e-12)
        assert found.verdict == ("unstable",)

    def test_a_net_that_hardly_anything_ties_down_does_not_matter(self) -> None:
        board = IdealBoard().put("V", IdealSource(), "IN 0").resistor("R", "IN", "A", 1e3)
        board.put("C1", IdealCapacitor(), "A M", capacitance=1e-6)
        board.put("C2", IdealCapacitor(), "M N", capacitance=1e-6)
        board.resistor("RM", "N", "K", 1e-4).put("C3", IdealCapacitor(), "K 0", capacitance=1e-6)
        found = poles(at_rest(board, {("", "leak"): 1e-12}))
        assert found.verdict == ("stable",)
        assert np.nanmax(np.abs(found.value)) == pytest.approx(3e3, rel=1e-6)

    def test_unsolved_lanes_are_undecided(self) -> None:
        found = poles(first_of_two_unsolved(zener_shunt(), ("R", "resistance"), (3e2, 4e2)))
        assert found.verdict == ("undecided", "stable")
        assert found.solved.tolist() == [False, True]


@pytest.mark.parametrize("lanes", [1, 63, 64, 65, 200])
def test_more_lanes_than_are_computed_at_once(lanes: int) -> None:
    ohms = np.linspace(1.0, 15.0, lanes)
    found = poles(at_rest(series_circuit(), {("R", "resistance"): ohms}, lanes))
    assert found.value.shape == (lanes, 2)
    assert found.value.real == pytest.approx(
        np.repeat(-ohms[:, None] * 500.0, 2, axis=1), rel=1e-10
    )


def test_a_pole_moves_to_first_order() -> None:
    """A series circuit, L s² + R s + 1/C = 0: by 1 % more resistance, off by the square of that."""

    def upper(linear: Linear) -> NDArray[np.complex128]:
        """The pole above the real axis."""
        value = poles(linear).value
        return value[value.imag > 0]

    before = at_rest(series_circuit())
    share = 0.01
    first = upper(before)
    rest = before.rest
    ohms = {("R", "resistance"): rest.parameters([("R", "resistance")])[0] * (1.0 + share)}
    after = linearise(replace(rest, lanes={**rest.lanes, **ohms}))
    wanted = upper(after)
    change = wanted - first
    found = moved(after, before, first)
    assert abs(found - wanted) < 3.0 * share * abs(change)
    assert abs(change) > 1e-3 * abs(first)
