"""Bricks: current limit, hiccup and cable."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board

from railwright.engine.model import Model
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance, transient

ENDS = {"plus": "A", "minus": GROUND}
VALUES = {
    "resistance": 0.1,
    "current_limit": 3.0,
    "trip_voltage": 4.0,
    "on_time": 0.01,
    "off_time": 0.09,
    "voltage": 12.0,
}


def brick(style: str, **values: float) -> Board:
    return Board().part("V", "brick", ENDS, {"style": style}, **{**VALUES, **values})


def course_of(board: Board, times: Any, **how: Any) -> Any:
    topology = replace(board.topology, isothermal=True, switched=True)
    found = transient(
        Model(topology, board.nominal), {}, 1, times, tolerance=Tolerance(1e-6, 1e-8), **how
    )
    assert found.solved.all()
    return found


@pytest.mark.parametrize("style", ["constant-current", "hiccup"])
def test_it_holds_its_voltage_behind_its_resistance_then_its_current(style: str) -> None:
    board = brick(style).resistor("R", "A", GROUND, 6.0)
    points = board.solve({("R", "resistance"): np.array([1e4, 12.0, 2.0])}, 3)
    exact = [12.0, 12.0 * 12.0 / 12.1, 6.0]
    assert points.potential("A") == pytest.approx(exact, rel=2e-3)


def test_shorted_it_gives_its_limit_or_in_the_mean_its_share_of_the_time() -> None:
    for style, amperes in (("constant-current", 3.0), ("hiccup", 0.3)):
        points = brick(style).resistor("R", "A", GROUND, 0.05).solve()
        assert points.of("V", "current") == pytest.approx([amperes], rel=5e-3)


def test_any_resistance_has_one_operating_point() -> None:
    """Above 4 V / 3 A it starts every time, below it never does; a limit has a slight slope."""
    ohms = np.array([0.2, 1.2, 1.5, 3.0])
    points = brick("hiccup").resistor("R", "A", GROUND, 1.0).solve({("R", "resistance"): ohms}, 4)
    assert points.of("V", "current") == pytest.approx([0.3, 0.3, 3.0, 3.0], rel=5e-3)


def test_shorted_it_tries_again_and_again() -> None:
    """3 A for 10 ms of every 100 ms."""
    board = brick("hiccup").resistor("R", "A", GROUND, 0.05)
    times = np.linspace(0.0, 0.5, 50001)
    current = course_of(board, times).of("V", "current")[0]
    edges = times[1:][np.abs(np.diff(current)) > 1.0]
    exact = np.concatenate([0.1 * np.arange(5) + 0.01, 0.1 * np.arange(1, 6)])
    assert np.sort(edges)[:9] == pytest.approx(np.sort(exact)[:9], abs=2e-5)
    mean = np.trapezoid(current, times) / 0.5
    points = board.solve()
    assert mean == pytest.approx(points.of("V", "current")[0], rel=2e-3)


def test_it_comes_back_when_the_overload_is_gone() -> None:
    board = brick("hiccup").load("LD", "A", 1.0)
    over = PiecewiseLinear(np.array([0.05, 0.051, 0.15, 0.151]), np.array([1.0, 5.0, 5.0, 1.0]))
    board.part("C", "capacitor", ENDS, capacitance=1e-4, esr=0.01, leakage=0.0)
    times = np.linspace(0.0, 0.4, 4001)
    rail = course_of(board, times, stimuli={("LD", "current"): over}).potential("A")[0]
    assert rail[times < 0.05][-1] == pytest.approx(11.9, rel=1e-3)
    assert np.all(rail[(times > 0.07) & (times < 0.15)] < 0.5)
    assert rail[-1] == pytest.approx(11.9, rel=1e-3)
    back = times[np.flatnonzero((rail > 11.0) & (times > 0.15))[0]]
    assert 0.15 < back < 0.26  # at the first attempt after it


def test_one_that_charges_too_much_capacitance_never_starts() -> None:
    """C V / I = 13 ms at 3 A to 4 V are more than the 10 ms for which it tries; 7 ms are not."""
    starts = {}
    for farads in (5e-3, 1e-2):
        board = brick("hiccup").resistor("R", "A", GROUND, 4.5)
        board.part("C", "capacitor", ENDS, capacitance=farads, esr=0.01, leakage=0.0)
        rail = course_of(board, np.linspace(0.0, 0.5, 2001)).potential("A")[0]
        starts[farads] = rail.max() > 11.0
    assert starts == {5e-3: True, 1e-2: False}


def test_its_cable_holds_back_the_current() -> None:
    """i = V / R (1 - exp(-R t / L)) into a resistance."""
    board = brick("constant-current", inductance=1e-5, current_limit=100.0, voltage=0.0)
    board.resistor("R", "A", GROUND, 0.9)
    rise = {("V", "voltage"): PiecewiseLinear(np.zeros(2), np.array([0.0, 10.0]))}
    times = np.linspace(0.0, 5e-5, 51)
    current = course_of(board, times, stimuli=rise).of("V", "current")[0]
    assert current == pytest.approx(10.0 * (1.0 - np.exp(-times / 1e-5)), abs=5e-3)


def test_it_takes_next_to_nothing_in() -> None:
    board = brick("hiccup").source("W", "B", 20.0).resistor("R", "B", "A", 10.0)
    assert abs(board.solve().of("V", "current")[0]) < 2e-3
