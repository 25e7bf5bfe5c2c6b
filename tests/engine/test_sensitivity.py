"""Adjoint sensitivities: closed forms, differences, and operating points that follow."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board, aimed
from engine.example_circuits import EXAMPLES
from engine.ideal_parts import (
    BentCapacitor,
    IdealBoard,
    IdealSource,
    SquareLaw,
)
from engine.textbook_circuits import at_rest, first_of_two_unsolved, series_circuit
from numpy.typing import NDArray

from railwright.engine.linear import linearise
from railwright.engine.operating_point import operating_point
from railwright.engine.ports import Given, Injected, NoSuchPort, Observed, Output, Potential
from railwright.engine.quiescent import Quiescent, as_solved, quiescent
from railwright.engine.response import response
from railwright.engine.sensitivity import response_sensitivities, sensitivities, values_of

Array = NDArray[np.float64]
OUT = Potential("OUT", GROUND)


def divider() -> IdealBoard:
    board = IdealBoard().put("V", IdealSource(), "IN 0", voltage=12.0)
    return board.resistor("R1", "IN", "OUT", 3e3).resistor("R2", "OUT", GROUND, 1e3)


def test_divider_by_hand() -> None:
    found = sensitivities(linearise(as_solved(divider().solve())), OUT).by
    by = {(value.ref, value.name): slope[0] for value, slope in found.items()}
    assert by == pytest.approx(
        {
            ("V", "voltage"): 0.25,
            ("R1", "resistance"): -12.0 * 1e3 / 4e3**2,
            ("R2", "resistance"): 12.0 * 3e3 / 4e3**2,
        },
        rel=1e-7,
    )


def test_bridge_of_tellegen() -> None:
    """d(V)/d(G) = -(voltage across it) x (voltage across it in the adjoint network).

    Director and Rohrer's form of Tellegen's theorem; the network is reciprocal, so that the
    adjoint network is the circuit itself with one ampere drawn from its output.
    """
    board = IdealBoard().put("V", IdealSource(), "IN 0", voltage=10.0)
    ohms = {"IN A": 100.0, "A 0": 220.0, "IN B": 330.0, "B 0": 150.0, "A B": 470.0}
    for pair, value in ohms.items():
        board.resistor(f"R {pair}", *pair.split(), value)
    points = board.solve()
    linear = linearise(as_solved(points))
    out = Potential("A", "B")
    found = sensitivities(linear, out)

    def across(pair: str) -> float:
        one, two = pair.split()
        return float(points.potential(one)[0] - points.potential(two)[0])

    for pair, value in ohms.items():
        driven = response(linear, Injected("A", "B"), Potential(*pair.split()), [0.0])
        by_conductance = -across(pair) * driven.value[0, 0].real
        slope = found.by[Given(f"R {pair}", "resistance")][0]
        assert slope == pytest.approx(-by_conductance / value**2, rel=1e-6)


def moved(board: Board, lanes: dict[Any, Any], value: Given, output: Output, share: float) -> Array:
    """Difference quotient by solving again, on the thermal circuit and its aims."""
    resting = board.nominal[value.ref, value.name]
    step = share * resting
    ends = {**lanes, (value.ref, value.name): resting + step * np.array([-1.0, 1.0])}
    points = operating_point(board.model, ends, 2, start=board.solve(lanes))
    assert points.solved.all()
    if isinstance(output, Observed):
        seen = points.of(output.ref, output.name)
    else:
        seen = points.potential(output.plus) - points.potential(output.minus)
    return np.asarray((seen[1] - seen[0]) / (2.0 * step))


CASES: list[tuple[str, Output]] = [
    ("adjustable_regulator", OUT),
    ("adjustable_regulator", Observed("U", "junction")),
    ("zener_shunt", OUT),
    ("amplifier_stage", Potential("C", GROUND)),
    ("amplified_pass_transistor", Observed("Q", "power")),
]


@pytest.mark.parametrize(("name", "output"), CASES)
def test_differences_of_operating_points_with_their_heat(name: str, output: Output) -> None:
    board = EXAMPLES[name]()
    found = sensitivities(linearise(as_solved(board.solve())), output)
    assert found.solved.all()
    largest = max(
        abs(slope[0] * board.nominal.get((v.ref, v.name), 0.0)) for v, slope in found.by.items()
    )
    checked = 0
    for value, slope in found.by.items():
        resting = board.nominal.get((value.ref, value.name), 0.0)
        if abs(slope[0] * resting) < 1e-4 * largest:
            continue
        wanted = moved(board, {}, value, output, 1e-4)
        assert slope[0] == pytest.approx(wanted, rel=2e-3, abs=1e-7 * largest / abs(resting))
        checked += 1
    assert checked >= 4


def test_an_input_that_is_solved_for_follows() -> None:
    board = Board().source("V", "IN", 12.0).rheostat("P", "OUT", GROUND, 1e3)
    board.resistor("R", "IN", "OUT", 1e3).aim("P", "position", "OUT")
    lanes = aimed("P", "position", 3.0)
    linear = linearise(as_solved(board.solve(lanes)))
    held = sensitivities(linear, OUT, [Given("R", "resistance")])
    assert held.by[Given("R", "resistance")][0] == pytest.approx(0.0, abs=1e-12)
    free = sensitivities(linearise(quiescent(board.solve(lanes))), OUT, [Given("R", "resistance")])
    assert free.by[Given("R", "resistance")][0] == pytest.approx(-3.0 * 9.0 / 12.0 / 1e3, rel=1e-2)


class TestOfResponses:
    def test_series_circuit_by_hand(self) -> None:
        f = np.geomspace(10.0, 1e5, 9)
        linear = at_rest(series_circuit())
        found = response_sensitivities(linear, Given("V", "voltage"), OUT, f)
        s = 2j * np.pi * f
        h = 1.0 / (1.0 + s * 1e-4 + s * s * 1e-8)
        assert found.solved.all()
        for name, slope in {
            ("R", "resistance"): -(h**2) * s * 1e-5,
            ("L", "inductance"): -(h**2) * s * s * 1e-5,
            ("C", "capacitance"): -(h**2) * (s * 10.0 + s * s * 1e-3),
        }.items():
            assert found.by[Given(*name)][0] == pytest.approx(slope, rel=1e-9)
        assert np.abs(found.by[Given("V", "voltage")]).max() < 1e-12

    def board(self) -> IdealBoard:
        """Slopes and capacitance depend on where it rests, which everything moves."""
        board = IdealBoard().put("V", IdealSource(), "IN 0", voltage=4.0)
        board.resistor("R", "IN", "OUT", 100.0)
        board.put("X", SquareLaw(), "OUT 0", curvature=2e-3)
        return board.put("C", BentCapacitor(), "OUT 0", capacitance=1e-6, bend=3.0)

    def response_at(self, given: Any, output: Output, f: Array, lanes: Any, count: int) -> Array:
        points = self.board().solve(lanes, count)
        return response(linearise(quiescent(points)), given, output, f).value

    @pytest.mark.parametrize("output", [OUT, Observed("X", "power")])
    @pytest.mark.parametrize(
        "given", [Given("V", "voltage"), Injected("OUT", GROUND), Given("C", "shift")]
    )
    def test_differences_of_responses(self, given: Any, output: Output) -> None:
        f = np.array([0.0, 300.0, 3e3, 1e5])
        linear = linearise(quiescent(self.board().solve()))
        values = [v for v in values_of(linear) if v != Given("C", "shift")]
        found = response_sensitivities(linear, given, output, f, values)
        largest = max(np.abs(slope).max() for slope in found.by.values())
        assert {v.ref for v in values} == {"V", "R", "X", "C"}
        for value, slope in found.by.items():
            resting = self.board().nominal[value.ref, value.name]
            step = 1e-4 * resting
            lanes = {(value.ref, value.name): resting + step * np.array([-1.0, 1.0])}
            ends = self.response_at(given, output, f, lanes, 2)
            wanted = (ends[1] - ends[0]) / (2.0 * step)
            assert slope[0] == pytest.approx(wanted, rel=1e-5, abs=1e-8 * largest)

    @pytest.mark.parametrize("name", ["adjustable_regulator", "amplified_pass_transistor"])
    def test_differences_on_real_parts(self, name: str) -> None:
        """Temperatures held on both sides."""
        board = EXAMPLES[name]()
        rest = quiescent(board.solve())
        given, f = Injected("OUT", GROUND), np.array([0.0, 1e3])
        linear = linearise(rest)
        found = response_sensitivities(linear, given, OUT, f)
        largest = max(
            np.abs(slope).max() * abs(board.nominal.get((v.ref, v.name), 0.0))
            for v, slope in found.by.items()
        )
        checked = 0
        for value, slope in found.by.items():
            resting = board.nominal.get((value.ref, value.name), 0.0)
            if np.abs(slope).max() * abs(resting) < 1e-2 * largest:
                continue
            ends = held_response(rest, value, resting * np.array([1 - 1e-4, 1 + 1e-4]), f)
            wanted = (ends[1] - ends[0]) / (2e-4 * resting)
            assert slope[0] == pytest.approx(wanted, rel=1e-2)
            checked += 1
        assert checked >= 2


def held_response(rest: Quiescent, value: Given, ends: Array, f: Array) -> Array:
    lanes: dict[Any, Any] = {k: float(np.ravel(v)[0]) for k, v in rest.lanes.items()}
    lanes[value.ref, value.name] = ends
    points = operating_point(rest.model, lanes, 2)
    assert points.solved.all()
    return response(linearise(quiescent(points)), Injected("OUT", GROUND), OUT, f).value


def test_unsolved_lanes_are_no_numbers() -> None:
    linear = first_of_two_unsolved(divider(), ("R1", "resistance"), (1e3, 3e3))
    value = Given("R2", "resistance")
    assert np.isnan(sensitivities(linear, OUT).by[value]).tolist() == [True, False]
    found = response_sensitivities(linear, Given("V", "voltage"), OUT, [1.0])
    assert found.solved.tolist() == [False, True]
    assert np.isnan(found.by[value][:, 0]).tolist() == [True, False]


def test_values_that_are_not_there() -> None:
    linear = linearise(quiescent(divider().solve()))
    for ask in (
        lambda v: sensitivities(linear, OUT, [v]),
        lambda v: response_sensitivities(linear, Given("V", "voltage"), OUT, [1.0], [v]),
    ):
        with pytest.raises(NoSuchPort, match="no equation reads size of R1; wanted is one of"):
            ask(Given("R1", "size"))
