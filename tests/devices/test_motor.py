"""Direct-current motors against the textbook's torque balance, run-up and energies."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.moving import Moving
from devices.samples import typical_values
from devices.solving import Part, resistor, source

from railwright.engine.model import Model
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance, transient

NAME = "motor 12 V 60 W"
KNOWN = typical_values("motor", NAME)
VOLTS, OHMS, IDLE = KNOWN["rated_voltage"], KNOWN["resistance"], KNOWN["no_load_current"]
BACK = VOLTS - OHMS * IDLE
ENDS = {"plus": "A", "minus": GROUND}


def running(volts: float = VOLTS, **values: float) -> Board:
    board = Board().source("V", "A", volts, resistance=1e-6, current_limit=1e3)
    return board.use("M", NAME, ENDS, **values)


def course_of(board: Board, times: Any, **how: Any) -> Any:
    model = Model(replace(board.topology, isothermal=True), board.nominal)
    found = transient(model, {}, 1, times, tolerance=Tolerance(1e-7, 1e-9), **how)
    assert found.solved.all()
    return found


def test_without_load_it_is_as_stated() -> None:
    points = running().solve()
    assert points.of("M", "speed") == pytest.approx([KNOWN["no_load_speed"]], rel=1e-3)
    assert points.of("M", "current") == pytest.approx([IDLE], rel=1e-3)


@pytest.mark.parametrize("volts", [6.0, 12.0, 14.0])
@pytest.mark.parametrize("load", [0.0, 2.0, 6.0])
def test_speed_and_current_follow_from_the_balance_of_torques(volts: float, load: float) -> None:
    """V = R i + E x and i = I0 (1 + x) / 2 + load, two straight lines (Fitzgerald)."""
    points = running().solve({("V", "voltage"): volts, ("M", "load_current"): load}, 1)
    speed = (volts - OHMS * (0.5 * IDLE + load)) / (BACK + 0.5 * OHMS * IDLE)
    assert points.unknown("M", "speed") == pytest.approx([speed], rel=2e-3)
    current = (volts - BACK * speed) / OHMS
    assert points.of("M", "current") == pytest.approx([current], rel=2e-3)


def test_too_much_load_stalls_it_and_turns_it_neither_way() -> None:
    points = running().solve({("M", "load_current"): 2.0 * VOLTS / OHMS}, 1)
    assert points.of("M", "current") == pytest.approx([VOLTS / OHMS], rel=0.02)
    assert 0.0 <= points.unknown("M", "speed")[0] < 0.01
    rest = running(0.0).solve({("M", "load_current"): 5.0}, 1)
    assert rest.of("M", "speed") == pytest.approx([0.0], abs=1e-6)


def test_turned_round_it_runs_backwards() -> None:
    board = Board().source("V", "A", VOLTS, resistance=1e-6, current_limit=1e3)
    board.use("M", NAME, {"plus": GROUND, "minus": "A"})
    assert board.solve().of("M", "speed") == pytest.approx([-KNOWN["no_load_speed"]], rel=1e-3)


def test_it_runs_up_with_its_mechanical_time_constant() -> None:
    """x = 1 - exp(-t / tau) with neither friction nor inductance."""
    tau = KNOWN["mechanical_time_constant"]
    board = running(no_load_current=1e-6, inductance=0.0)
    times = np.linspace(0.0, 5.0 * tau, 51)
    speed = course_of(board, times).unknown("M", "speed")[0]
    assert speed == pytest.approx(1.0 - np.exp(-times / tau), abs=1e-4)
    inrush = course_of(board, times).of("M", "current")[0]
    assert inrush[0] == pytest.approx(VOLTS / OHMS, rel=1e-3)


def test_winding_and_rotor_have_the_natural_frequencies_of_the_textbook() -> None:
    """s² L tau / R + s tau + 1 = 0, without friction."""
    values = {**KNOWN, "no_load_current": 1e-6}
    motor = Part("M", "motor", {"plus": "A", "minus": "GND"}, values)
    stiff = source("V", "A", resistance=1e-6, limit=1e3)
    # A source that gives next to nothing has the slope of its corner.
    moving = Moving([stiff, resistor("R", "A", "GND", 10.0), motor], V_voltage=VOLTS)
    tau = KNOWN["mechanical_time_constant"]
    exact = np.roots([KNOWN["inductance"] * tau / OHMS, tau, 1.0])
    found = moving.poles()
    assert np.sort(found.real) == pytest.approx(np.sort(exact.real), rel=1e-3)


def test_energy_taken_is_lost_or_turns_the_rotor() -> None:
    times = np.linspace(0.0, 0.3, 6001)
    course = course_of(running(), times)
    current, speed = course.of("M", "current")[0], course.unknown("M", "speed")[0]
    taken = np.trapezoid(course.of("M", "power")[0], times)
    copper = np.trapezoid(course.of("M", "copper_loss")[0], times)
    dry = speed / np.sqrt(speed**2 + 0.01**2)
    friction = np.trapezoid(BACK * speed * 0.5 * IDLE * (dry + speed), times)
    inertia = KNOWN["mechanical_time_constant"] * BACK**2 / OHMS
    stored = 0.5 * inertia * speed[-1] ** 2 + 0.5 * KNOWN["inductance"] * current[-1] ** 2
    assert taken == pytest.approx(copper + friction + stored, rel=2e-3)
    assert stored > 0.3 * taken


def test_switched_off_it_coasts_and_holds_up_its_rail() -> None:
    """Its back-EMF feeds what hangs there; no more comes back than the rotor has stored."""
    board = running().resistor("R", "A", GROUND, 10.0)
    times = np.linspace(0.0, 1.5, 3001)
    fall = PiecewiseLinear(np.array([0.5, 0.501]), np.array([VOLTS, 0.0]))
    course = course_of(board, times, stimuli={("V", "voltage"): fall})
    rail, power = course.potential("A")[0], course.of("M", "power")[0]
    late = times > 0.505
    assert rail[late][0] > 0.9 * BACK
    assert rail[-1] < 0.1 * rail[late][0]
    stored = 0.5 * KNOWN["mechanical_time_constant"] * BACK**2 / OHMS
    given = -np.trapezoid(power[late], times[late])
    assert 0.1 * stored < given < stored
