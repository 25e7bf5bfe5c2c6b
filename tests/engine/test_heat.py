"""Slow warming up against closed forms, operating points and the balance of heat."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board, aimed
from numpy.typing import NDArray

from railwright.engine.heat import heat
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.topology import AIR
from railwright.engine.transient import Tolerance

Array = NDArray[np.float64]
EXACT = Tolerance(1e-6, 1e-6)
CAPACITY, RESISTANCE = 40.0, 5.0
"""Of the sink [J/K, K/W]: a time constant of 200 s."""


def cooled() -> Board:
    """A diode on a heat sink."""
    board = Board().source("V", "IN", 10.0, resistance=1e-3).resistor("R", "IN", "A", 10.0)
    board.part("D", "diode", {"anode": "A", "cathode": GROUND, "case": "TAB"})
    values = {"resistance": RESISTANCE, "heat_capacity": CAPACITY}
    return board.part("H", "heat-sink", {"face": "TAB", "air": AIR}, **values)


def test_it_ends_at_the_operating_point() -> None:
    board, ohms = cooled(), np.array([5.0, 10.0, 20.0])
    times = np.linspace(0.0, 4000.0, 81)
    course = heat(board.model, {("R", "resistance"): ohms}, 3, times, tolerance=EXACT)
    points = board.solve({("R", "resistance"): ohms}, 3)
    assert course.solved.all()
    assert course.potential("TAB")[:, 0] == pytest.approx(298.15, abs=0.01)
    assert course.potential("TAB")[:, -1] == pytest.approx(points.potential("TAB"), abs=0.01)
    assert course.of("D", "junction")[:, -1] == pytest.approx(points.of("D", "junction"), abs=0.01)


def test_it_rises_with_the_time_constant_of_the_sink() -> None:
    """T = Ta + P R (1 - exp(-t / RC)), where the power hardly depends on the temperature."""
    board, times = cooled(), np.linspace(0.0, 600.0, 61)
    course = heat(board.model, {}, 1, times, tolerance=EXACT)
    power = course.of("D", "power")[0]
    assert np.ptp(power) < 0.02 * power.mean()
    exact = power.mean() * RESISTANCE * (1.0 - np.exp(-times / (RESISTANCE * CAPACITY)))
    rise = course.potential("TAB")[0] - 298.15
    assert rise == pytest.approx(exact, abs=0.01 * exact.max())


def test_no_heat_is_lost() -> None:
    board, times = cooled(), np.linspace(0.0, 1000.0, 2001)
    course = heat(board.model, {}, 1, times, tolerance=EXACT)
    rise = course.potential("TAB")[0] - 298.15
    given = np.trapezoid(course.of("D", "power")[0], times)
    lost = np.trapezoid(course.of("H", "heat")[0], times)
    assert given == pytest.approx(lost + CAPACITY * (rise[-1] - rise[0]), rel=2e-4)


def test_a_load_that_is_switched_off_lets_it_cool() -> None:
    board, times = cooled(), np.linspace(0.0, 2000.0, 41)
    off = {("V", "voltage"): PiecewiseLinear(np.array([1000.0, 1000.0]), np.array([10.0, 0.0]))}
    course = heat(board.model, {}, 1, times, stimuli=off, tolerance=EXACT)
    rise = course.potential("TAB")[0] - 298.15
    since = times[times > 1000.0] - 1000.0
    top = rise[times == 1000.0][0]
    exact = top * np.exp(-since / (RESISTANCE * CAPACITY))
    assert rise[times > 1000.0] == pytest.approx(exact, abs=1e-3 * top)


def test_an_output_that_is_held_stays_while_the_parts_drift() -> None:
    """The knob is solved for at every instant, so the output does not follow the temperature."""
    board = Board().source("V", "IN", 12.0, resistance=0.1)
    pins: dict[str, Any] = {"input": "IN", "output": "OUT", "adjust": "ADJ", "case": "TAB"}
    board.part("U", "adjustable-regulator", pins).resistor("R1", "OUT", "ADJ", 240.0)
    ends = {"one": "ADJ", "wiper": GROUND, "two": GROUND}
    board.part("RV", "potentiometer", ends).load("LD", "OUT", 0.3)
    values = {"resistance": RESISTANCE, "heat_capacity": CAPACITY}
    board.part("H", "heat-sink", {"face": "TAB", "air": AIR}, **values)
    board.aim("RV", "position", "OUT", GROUND)
    lanes = aimed("RV", "position", 5.0, slope=-1.0)
    course = heat(board.model, lanes, 1, np.linspace(0.0, 2000.0, 21), tolerance=EXACT)
    assert course.solved.all()
    assert course.potential("OUT")[0] == pytest.approx(5.0, abs=1e-6)
    assert course.of("U", "junction")[0, -1] > course.of("U", "junction")[0, 0] + 5.0


def test_where_nothing_stores_heat_this_is_said() -> None:
    board = Board().source("V", "IN", 10.0).resistor("R", "IN", GROUND, 10.0)
    with pytest.raises(ValueError, match="nothing in this circuit stores heat"):
        heat(board.model, {}, 1, np.array([0.0, 1.0]))
