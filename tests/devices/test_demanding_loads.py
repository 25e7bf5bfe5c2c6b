"""Loads that hold their power, step, reset or feed back."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.moving import Moving
from devices.solving import Part

from railwright.engine.model import Model
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance, transient

ENDS = {"plus": "A", "minus": GROUND}
STEPS = {"current": 1.0, "other_current": 0.2, "share": 0.25, "period": 1e-3, "edge_time": 1e-5}
LOGIC = {"current": 0.5, "reset_current": 0.05, "threshold": 3.0, "hysteresis": 0.2}


def fed(volts: float, ohms: float = 1.0) -> Board:
    return Board().source("V", "A", volts, resistance=ohms, current_limit=1e3)


def course_of(board: Board, times: Any, switched: bool = True, **how: Any) -> Any:
    topology = replace(board.topology, isothermal=True, switched=switched)
    found = transient(
        Model(topology, board.nominal), {}, 1, times, tolerance=Tolerance(1e-6, 1e-8), **how
    )
    assert found.solved.all()
    return found


# Constant power


def test_constant_power_takes_its_power_behind_a_resistance() -> None:
    """v = (V + sqrt(V² - 4 R P)) / 2, the upper of the textbook's two solutions."""
    watts = np.array([0.0, 10.0, 30.0])
    board = fed(12.0).part("LD", "constant-power-load", ENDS, least_voltage=4.0)
    points = board.solve({("LD", "power"): watts}, 3)
    exact = 0.5 * (12.0 + np.sqrt(144.0 - 4.0 * watts))
    assert points.potential("A") == pytest.approx(exact, rel=1e-3)
    assert points.of("LD", "power") == pytest.approx(watts, rel=1e-3)


def test_constant_power_is_a_resistance_below_its_least_voltage() -> None:
    board = fed(1.0, 1e-6).part("LD", "constant-power-load", ENDS, least_voltage=4.0, power=8.0)
    points = board.solve({("V", "voltage"): np.array([0.5, 1.0, 2.0])}, 3)
    assert points.of("LD", "current") == pytest.approx([0.25, 0.5, 1.0], rel=0.01)


def test_constant_power_has_a_falling_current() -> None:
    """di/dv = -P/v² (Middlebrook)."""
    board = fed(8.0, 1e-6).part("LD", "constant-power-load", ENDS, least_voltage=4.0, power=8.0)
    points = board.solve({("V", "voltage"): np.array([9.99, 10.01])}, 2)
    slope = np.diff(points.of("LD", "current")) / 0.02
    assert slope == pytest.approx([-8.0 / 100.0], rel=2e-3)


def test_a_supply_starts_into_constant_power() -> None:
    values = {"least_voltage": 4.0, "power": 20.0, "capacitance": 1e-4}
    board = fed(12.0).part("LD", "constant-power-load", ENDS, **values)
    times = np.linspace(0.0, 5e-3, 501)
    rail = course_of(board, times, switched=False).potential("A")[0]
    assert rail[0] == pytest.approx(0.0, abs=0.01)
    assert np.all(np.diff(rail) > -1e-6)
    assert rail[-1] == pytest.approx(0.5 * (12.0 + np.sqrt(144.0 - 80.0)), rel=1e-3)


@pytest.mark.parametrize("share", [0.8, 1.25])
def test_an_input_filter_rings_on_where_its_damping_is_less_than_the_load_takes(
    share: float,
) -> None:
    """L and r feed C and P: unstable from P = r C v² / L on (Middlebrook, 1976)."""
    ohms, henries, farads = 0.1, 1e-5, 1e-4
    rail = 10.0
    watts = share * ohms * farads * rail**2 / henries
    limited = {"inductance": henries, "resistance": ohms, "current_limit": 1e3}
    cable = Part("V", "source", {"plus": "A", "minus": "GND"}, limited)
    values = {"least_voltage": 5.0, "capacitance": farads, "power": watts}
    load = Part("LD", "constant-power-load", {"plus": "A", "minus": "GND"}, values)
    poles = Moving([cable, load], V_voltage=rail + ohms * watts / rail).poles()
    taken = watts / rail**2
    both = (1.0 - ohms * taken) / (henries * farads)
    exact = np.roots([1.0, ohms / henries - taken / farads, both])
    assert np.sort_complex(poles) == pytest.approx(np.sort_complex(exact), rel=1e-2)
    assert (poles.real.max() > 0.0) == (share > 1.0)


# Steps


def test_a_stepped_load_takes_its_mean_where_nothing_moves() -> None:
    points = fed(10.0).part("LD", "stepped-load", ENDS, **STEPS).solve()
    assert points.of("LD", "current") == pytest.approx([0.25 * 1.0 + 0.75 * 0.2])


def test_a_stepped_load_steps_by_its_clock() -> None:
    board = fed(10.0).part("LD", "stepped-load", ENDS, **STEPS)
    times = np.linspace(0.0, 4e-3, 4001)
    current = course_of(board, times).of("LD", "current")[0]
    phase = times % 1e-3
    high = (phase > 2e-5) & (phase < 2.49e-4)
    low = (phase > 2.7e-4) & (phase < 9.99e-4)
    assert current[high] == pytest.approx(np.ones(high.sum()), rel=1e-6)
    assert current[low] == pytest.approx(np.full(low.sum(), 0.2), rel=1e-6)
    assert np.trapezoid(current, times) / 4e-3 == pytest.approx(0.4, rel=2e-3)
    middle = np.abs(times - 1.005e-3).argmin()
    assert current[middle] == pytest.approx(0.6, abs=0.01)


def test_a_step_makes_the_dip_of_its_resistance_and_capacitor() -> None:
    """R dI exp(-t/RC) is left of the dip, textbook."""
    board = fed(10.0).part("LD", "stepped-load", ENDS, **{**STEPS, "period": 2e-2})
    board.part("C", "capacitor", ENDS, capacitance=1e-3, esr=1e-4, leakage=0.0)
    times = np.linspace(0.0, 2.4e-2, 1201)
    rail = course_of(board, times).potential("A")[0]
    after = (times > 2.0e-2) & (times < 2.4e-2)
    begun = 2.0e-2 + 0.5e-5
    exact = 9.0 + 0.8 * np.exp(-(times[after] - begun) / 1e-3)
    assert rail[after][5:] == pytest.approx(exact[5:], abs=2e-3)


# Logic


def test_logic_is_in_reset_below_its_threshold() -> None:
    board = fed(5.0, 1e-3).part("LD", "logic-load", ENDS, **LOGIC)
    points = board.solve({("V", "voltage"): np.array([2.9, 3.3, 5.0])}, 3)
    assert points.of("LD", "running") == pytest.approx([0.0, 1.0, 1.0])
    assert points.of("LD", "current") == pytest.approx([0.05, 0.5, 0.5])


def test_logic_is_let_go_late_and_reset_at_once() -> None:
    """Up at 3.2 V and 1 ms later, down at 3.0 V; a dip to 3.1 V does nothing."""
    board = fed(0.0, 1e-3).part("LD", "logic-load", ENDS, **LOGIC, delay=1e-3)
    knots = np.array([0.0, 5.0, 6.0, 6.5, 7.0, 12.0]) * 1e-3
    volts = np.array([0.0, 5.0, 3.1, 3.1, 5.0, 0.0])
    ramp = {("V", "voltage"): PiecewiseLinear(knots, volts)}
    times = np.linspace(0.0, 12e-3, 12001)
    course = course_of(board, times, stimuli=ramp)
    running = course.of("LD", "running")[0]
    edges = times[1:][np.diff(running) != 0.0]
    assert edges == pytest.approx([4.2e-3, 9.0e-3], abs=3e-6)
    assert running[0] == 0.0


def test_too_short_a_recovery_does_not_let_it_go() -> None:
    board = fed(0.0, 1e-3).part("LD", "logic-load", ENDS, **LOGIC, delay=1e-3)
    knots = np.array([0.0, 1.0, 1.5, 2.0, 4.0]) * 1e-3
    ramp = {("V", "voltage"): PiecewiseLinear(knots, np.array([0.0, 4.0, 4.0, 2.0, 2.0]))}
    course = course_of(board, np.linspace(0.0, 4e-3, 401), stimuli=ramp)
    assert np.all(course.of("LD", "running")[0] == 0.0)


# Feeding back


def test_what_feeds_back_lifts_a_rail_that_cannot_sink_up_to_its_ceiling() -> None:
    board = Board().source("V", "A", 5.0, resistance=0.1, current_limit=3.0)
    board.resistor("R", "A", GROUND, 10.0)
    board.part("LD", "reverse-feeding-load", ENDS, ceiling=15.0)
    points = board.solve({("LD", "fed_back"): np.array([0.0, 0.2, 1.0, 3.0])}, 4)
    rail = points.potential("A")
    assert rail[:2] == pytest.approx([5.0, 5.0], abs=0.06)
    assert rail[2] == pytest.approx(10.0, rel=0.01)
    assert 14.8 < rail[3] < 15.0
    assert points.of("LD", "power")[2] == pytest.approx(-rail[2], rel=1e-6)


def test_what_feeds_back_charges_a_capacitor_in_proportion_to_the_time() -> None:
    """v = I t / C up to the ceiling."""
    board = Board().part("LD", "reverse-feeding-load", ENDS, ceiling=8.0, fed_back=0.1)
    board.part("C", "capacitor", ENDS, capacitance=1e-4, esr=1e-3, leakage=0.0)
    times = np.linspace(0.0, 2e-2, 201)
    rail = course_of(board, times).potential("A")[0]
    before = times < 7.5e-3
    assert rail[before] == pytest.approx(0.1 * times[before] / 1e-4, abs=2e-3)
    assert 7.8 < rail[-1] < 8.0
