"""From operating points, solved with heat and aims, to the circuits that dynamics begin from."""

from __future__ import annotations

import numpy as np
import pytest
from circuits import GROUND, Board, aimed
from engine.example_circuits import EXAMPLES

from railwright.engine import reference
from railwright.engine.quiescent import Quiescent, as_solved, quiescent


def imbalance(rest: Quiescent) -> float:
    """Largest residual of the equations at rest, relative."""
    wanted = reference_names(rest)
    found = rest.model.parameters(wanted, rest.lanes)
    worst = reference.relative_residuals(rest.model.topology, rest.x, found)
    return float(worst.max())


def reference_names(rest: Quiescent) -> list[tuple[str, str]]:
    from railwright.engine.system import trace

    return list(trace(rest.model.topology).parameters)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_circuit_rests_there_too(name: str) -> None:
    points = EXAMPLES[name]().solve()
    rest = quiescent(points)
    assert rest.model.topology.isothermal
    assert all(u.unit != "K" for u in rest.model.topology.unknowns)
    assert imbalance(rest) < 1e-6


def test_temperatures_are_those_of_the_operating_points() -> None:
    lanes = {("LD", "current"): np.array([0.1, 0.5])}
    points = EXAMPLES["adjustable_regulator"]().solve(lanes, 2)
    rest = quiescent(points)
    assert rest.lanes["", "temperature U.junction"] == pytest.approx(points.of("U", "junction"))
    assert rest.lanes["", "temperature TAB"] == pytest.approx(points.potential("TAB"))
    assert points.of("U", "junction")[1] > points.of("U", "junction")[0] + 10.0


def test_what_was_solved_for_is_given() -> None:
    board = Board().source("V", "IN", 10.0).rheostat("P", "IN", "OUT", 1e3)
    board.resistor("R", "OUT", GROUND, 1e3).aim("P", "position", "OUT")
    points = board.solve(aimed("P", "position", np.array([6.0, 8.0]), slope=1.0), 2)
    rest = quiescent(points)
    assert rest.model.topology.solvable == ()
    assert rest.lanes["P", "position"] == pytest.approx(points.solution_of("P", "position"))
    assert not [n for n in rest.lanes if n[1].startswith(("solve", "target", "slope", "given"))]
    assert rest.x[rest.model.topology.index["OUT", ""]] == pytest.approx([6.0, 8.0])
    assert imbalance(rest) < 1e-6


def test_unsolved_lanes_are_no_numbers() -> None:
    board = EXAMPLES["resistor_and_diode"]()
    points = board.solve({("R", "resistance"): np.array([1e3, 2e3])}, 2)
    points.solved[1] = False
    rest = quiescent(points)
    assert rest.solved.tolist() == [True, False]
    assert np.isfinite(rest.x[:, 0]).all()
    assert np.isnan(rest.x[:, 1]).all()


def test_lanes_are_taken_together_with_what_they_were_given() -> None:
    ohms = np.array([1e3, 2e3, 3e3])
    points = EXAMPLES["resistor_and_diode"]().solve({("R", "resistance"): ohms}, 3)
    rest = quiescent(points).take(np.array([2, 0]))
    assert rest.count == 2
    assert rest.parameters([("R", "resistance"), ("V", "voltage")]).tolist() == [
        [3e3, 1e3],
        [5.0, 5.0],
    ]
    assert np.array_equal(rest.x, quiescent(points).x[:, [2, 0]])


def test_as_solved_changes_nothing() -> None:
    points = EXAMPLES["adjustable_regulator"]().solve()
    rest = as_solved(points)
    assert rest.model is points.model
    assert np.array_equal(rest.x, points.unknowns)
