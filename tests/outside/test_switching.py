"""Coil currents and regimes of step-down regulators: figures of others."""

from __future__ import annotations

import pytest
from circuits import GROUND, Board, crossed
from outside.ideal import COIL, COOL, STEP_DOWN
from published import Row, published

from railwright.engine.solutions import OperatingPoints

BUSY = {("U", "coil_peak"): 1.0, ("U", "coil_current"): -2.0}
"""Peak less twice the mean: nil where the coil's current just touches nil in every cycle."""


def power_stage(
    input: float, inductance: float, frequency: float, drop: float = 0.0, **values: float
) -> Board:
    """Switch and coil; the load is a current. drop: voltage of the switch [V]."""
    pins = {"input": "IN", "switch": "SW", "ground": GROUND, "feedback": "FB"}
    own = {**STEP_DOWN, "saturation_voltage": drop, "frequency": frequency, **values}
    board = Board().source("V", "IN", input).part("U", "step-down-regulator", pins, **own)
    board.part("L", "inductor", {"one": "SW", "two": "OUT"}, inductance=inductance, **COIL)
    return board.load("LD", "OUT", 1.0)


def regulated(output: float, diode: float = 0.0, **stage: float) -> Board:
    """The stage with its loop closed at a voltage. diode: its forward voltage [V], at 3 A."""
    board = power_stage(**stage, reference=1.0)
    if diode:
        pins = {"anode": GROUND, "cathode": "SW"}
        own = {"forward_voltage": diode, "test_current": 3.0, "series_resistance": 1e-6}
        board.part("D", "diode", pins, **own, **COOL)
    board.resistor("R1", "FB", GROUND, 1e3)
    return board.resistor("R2", "OUT", "FB", (output - 1.0) * 1e3)


def at_full_duty(duty: float, **stage: float) -> Board:
    """The stage with its loop wide open, so that its duty is the greatest that it can have."""
    return power_stage(**stage, reference=1.0, duty_limit=duty).resistor("RF", "FB", GROUND, 1e3)


def at_the_boundary(board: Board) -> OperatingPoints:
    """The load at which continuous conduction ends."""
    board.cross("LD", "current", *BUSY)
    begin = board.solve({("", "given LD.current"): 1.0})
    return board.solve(crossed("LD", "current", BUSY), start=begin)


def ripple(points: OperatingPoints) -> float:
    """Peak-to-peak coil current in continuous conduction [A]."""
    return float(2.0 * (points.of("U", "coil_peak") - points.of("U", "coil_current"))[0])


@pytest.mark.parametrize("row", published("boundary of discontinuous conduction"), ids=str)
def test_boundary_of_discontinuous_conduction(row: Row) -> None:
    found = at_the_boundary(regulated(**row.inputs))
    resistance = found.potential("OUT")[0] / found.of("U", "coil_current")[0]
    assert resistance == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("critical K of a step-down regulator"), ids=str)
def test_critical_k(row: Row) -> None:
    stage = {"input": 30.0, "inductance": 5e-5, "frequency": 1e5}
    found = at_the_boundary(at_full_duty(**row.inputs, **stage))
    resistance = found.potential("OUT")[0] / found.of("U", "coil_current")[0]
    critical = 2.0 * stage["inductance"] * stage["frequency"] / resistance
    assert critical == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("ratio in discontinuous conduction"), ids=str)
def test_ratio_in_discontinuous_conduction(row: Row) -> None:
    def ratio(duty: float, K: float) -> float:
        stage = {"input": 100.0, "inductance": 5e-5, "frequency": 1e5}
        board = at_full_duty(duty, **stage)
        resistance = 2.0 * stage["inductance"] * stage["frequency"] / K
        board.resistor("R", "OUT", GROUND, resistance)
        return float(board.solve({("LD", "current"): 0.0}).potential("OUT")[0]) / stage["input"]

    assert ratio(**row.inputs) == row.expected_within_its_tolerance


def loaded(load: float, **known: float) -> OperatingPoints:
    return regulated(**known).solve({("LD", "current"): load})


@pytest.mark.parametrize("row", published("coil ripple"), ids=str)
def test_coil_ripple(row: Row) -> None:
    assert ripple(loaded(**row.inputs)) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("coil peak"), ids=str)
def test_coil_peak(row: Row) -> None:
    assert loaded(**row.inputs).of("U", "coil_peak")[0] == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("volt seconds of a coil"), ids=str)
def test_volt_seconds_of_a_coil(row: Row) -> None:
    found = ripple(loaded(**row.inputs)) * row.inputs["inductance"] * 1e6
    assert found == row.expected_within_its_tolerance
