"""A step-up regulator with a coupling capacitor and a second coil: above and below its input.

Its cycles know nothing of this: each part there states its own equations.
"""

from __future__ import annotations

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.stage_boards import PINS, STEP_UP, mean

from railwright.engine.cycle import Cycle, cycle
from railwright.engine.operating_point import OperatingPoints
from railwright.engine.quiescent import quiescent
from railwright.engine.transient import Tolerance

COIL = {"inductance": 100e-6, "winding_resistance": 0.05, "saturation_current": 30.0}
OUT = 12.0
INPUTS, LOADS = (8.0, 12.0, 16.0), (0.02, 0.05, 0.2, 1.0)


def supply() -> Board:
    """12 V from 8 to 16 V."""
    board = Board().source("V", "IN", 12.0, resistance=1e-3, current_limit=100.0)
    board.use("U", STEP_UP, PINS)
    board.part("L", "inductor", {"one": "IN", "two": "SW"}, **COIL)
    board.part("L2", "inductor", {"one": "FAR", "two": GROUND}, **COIL)
    middle = {"capacitance": 220e-6, "esr": 0.02, "leakage": 0.0}
    board.part("CC", "capacitor", {"plus": "SW", "minus": "FAR"}, **middle)
    board.use("D", "1N5822", {"anode": "FAR", "cathode": "OUT"})
    tank = {"capacitance": 470e-6, "esr": 0.02, "leakage": 0.0}
    board.part("C", "capacitor", {"plus": "OUT", "minus": GROUND}, **tank)
    board.load("LD", "OUT", 0.1)
    upper = (OUT / board.nominal["U", "reference"] - 1.0) * 1e3
    return board.resistor("R1", "FB", GROUND, 1e3).resistor("R2", "OUT", "FB", upper)


@pytest.fixture(scope="module")
def grid() -> tuple[OperatingPoints, Cycle]:
    """Averages and cycles over inputs and loads."""
    inputs, currents = (a.ravel() for a in np.meshgrid(INPUTS, LOADS))
    points = supply().solve({("V", "voltage"): inputs, ("LD", "current"): currents}, inputs.size)
    rest, fine = quiescent(points, switched=True), Tolerance(1e-4, 1e-7)
    start = rest.model, rest.lanes, inputs.size, rest.x
    return points, cycle(*start, clock=("U", "tick"), phases=2000, tolerance=fine)


def test_averages_are_those_of_the_cycles(grid: tuple[OperatingPoints, Cycle]) -> None:
    """Over inputs below and above the output, in discontinuous and continuous conduction.

    What the ripple makes in the capacitors' resistance counts in the cycles alone.
    """
    points, found = grid
    assert found.solved.all()
    regime = points.of("U", "continuous")
    assert (regime < 0.01).sum() >= 3
    assert (regime > 0.99).sum() >= 3
    assert mean(found.potential("OUT")) == pytest.approx(points.potential("OUT"), rel=1e-3)
    both_coils = found.unknown("L", "current") - found.unknown("L2", "current")
    assert mean(both_coils) == pytest.approx(points.of("U", "coil_current"), rel=0.02)
    assert both_coils.max(axis=1) == pytest.approx(points.of("U", "coil_peak"), rel=0.02)
    diode = mean(found.of("D", "current"))
    # Its edges are known as well as they are sampled.
    assert diode == pytest.approx(points.of("U", "diode_current"), rel=0.01, abs=3e-3)
    drawn = mean(found.of("V", "current"))
    assert drawn == pytest.approx(points.of("V", "current"), rel=0.02, abs=1e-3)


def test_the_ratio_is_the_textbooks(grid: tuple[OperatingPoints, Cycle]) -> None:
    """(Vout + Vd) (1 - D) = (Vin - Von) D (Erickson and Maksimovic, chapter 6)."""
    points, _ = grid
    steady = points.of("U", "continuous") > 0.99
    duty, volts, current = (
        row[steady]
        for row in (points.of("U", "duty"), points.potential("IN"), points.of("U", "coil_current"))
    )
    held = (points.potential("SW") - points.potential("FAR"))[steady]
    assert held == pytest.approx(volts, rel=0.02)
    nominal = supply().nominal
    on = nominal["U", "saturation_voltage"] + nominal["U", "switch_resistance"] * current
    fall = OUT + 0.4 + 0.05 * current
    assert duty == pytest.approx(fall / (fall + volts - on - 0.05 * current), rel=0.02)


def test_energy_balances_including_the_diode(grid: tuple[OperatingPoints, Cycle]) -> None:
    points, _ = grid
    parts = ("V", "U", "L", "L2", "CC", "R1", "R2", "LD")
    diode = (points.of("D", "junction") - 298.15) / supply().nominal["D", "junction_to_ambient"]
    total = sum(points.of(ref, "power") for ref in parts) + diode
    assert total == pytest.approx(np.zeros(diode.size), abs=1e-5)


def test_a_short_draws_nothing_past_the_capacitor() -> None:
    """Unlike a plain step-up, whose coil and diode lead there."""
    board = supply()
    board.parts = [part for part in board.parts if part.ref != "U"]
    points = board.resistor("RO", "OUT", GROUND, 0.1).solve({("LD", "current"): 0.0})
    assert abs(points.potential("OUT")[0]) < 1e-3
