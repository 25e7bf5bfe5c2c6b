"""Batteries: rest voltages, load, discharge and energies."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.samples import typical_values
from devices.terms import LonePart
from published import Row, published

from railwright.devices import kinds
from railwright.devices.battery import CURVES
from railwright.engine.model import Model
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance, transient

ENDS = {"plus": "A", "minus": GROUND}
CELL = {"cells": 3.0, "capacity": 1000.0, "resistance": 0.1, "slow_resistance": 0.05}


def rest_voltage(chemistry: str, charge: Any, cells: float = 1.0) -> Any:
    at = {"plus": 0.0, "minus": 0.0, "spent": 0.0, "lag": 0.0}
    values = {**CELL, "cells": cells, "charge": charge}
    part = LonePart(kinds()["battery"], values, at, {"chemistry": chemistry}).run()
    return part.observed["rest_voltage"]


def loaded(state: str, amperes: float, **values: float) -> Board:
    board = Board().load("LD", "A", amperes)
    options = {"chemistry": "lithium-ion", "state": state}
    return board.part("B", "battery", ENDS, options, **{**CELL, **values})


def course_of(board: Board, times: Any, **how: Any) -> Any:
    model = Model(replace(board.topology, isothermal=True), board.nominal)
    found = transient(model, {}, 1, times, tolerance=Tolerance(1e-7, 1e-9), **how)
    assert found.solved.all()
    return found


@pytest.mark.parametrize("row", published("rest voltage of a lead-acid battery"), ids=str)
def test_lead_acid_rests_at_its_published_voltages(row: Row) -> None:
    found = rest_voltage("lead-acid", row.inputs["charge"], cells=6.0)
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize(
    ("chemistry", "empty", "half", "full"),
    [  # usual voltages of a cell at rest, at 5 %, 50 % and 100 %, from memory
        ("lead-acid", 1.99, 2.04, 2.11),
        ("lithium-ion", 3.5, 3.8, 4.15),
        ("lithium-iron-phosphate", 3.05, 3.29, 3.4),
        ("nickel-metal-hydride", 1.15, 1.28, 1.4),
        ("alkaline", 1.07, 1.31, 1.6),
    ],
)
def test_cells_rest_at_usual_voltages(
    chemistry: str, empty: float, half: float, full: float
) -> None:
    found = rest_voltage(chemistry, np.array([0.05, 0.5, 1.0]))
    assert found == pytest.approx([empty, half, full], rel=0.02)


@pytest.mark.parametrize("chemistry", sorted(CURVES))
def test_the_rest_voltage_rises_with_the_charge_and_is_gone_without(chemistry: str) -> None:
    charge = np.linspace(-0.019, 1.0, 500)
    assert np.all(np.diff(rest_voltage(chemistry, charge)) > 0.0)
    assert rest_voltage(chemistry, np.array([-1.0, -0.02])) == pytest.approx([0.0, 0.0])


def test_under_load_it_falls_by_both_resistances() -> None:
    points = loaded("held", 2.0).solve({("B", "charge"): np.array([0.2, 0.9])}, 2)
    rest = rest_voltage("lithium-ion", np.array([0.2, 0.9]), cells=3.0)
    assert points.potential("A") == pytest.approx(rest - 2.0 * 0.15, rel=1e-6)


def test_overfed_it_takes_current_in() -> None:
    board = Board().source("V", "A", 14.0, resistance=0.85, current_limit=10.0)
    options = {"chemistry": "lithium-ion", "state": "held"}
    points = board.part("B", "battery", ENDS, options, **CELL).solve()
    rest = rest_voltage("lithium-ion", 1.0, cells=3.0)
    assert points.of("B", "current") == pytest.approx([-(14.0 - rest) / 1.0], rel=1e-3)


def test_it_falls_at_once_and_then_slowly() -> None:
    """R i at once, then Rs i (1 - exp(-t/tau))."""
    board = loaded("held", 0.0, slow_time=2.0)
    times = np.linspace(0.0, 10.0, 101)
    jump = PiecewiseLinear(np.zeros(2), np.array([0.0, 3.0]))
    found = course_of(board, times, stimuli={("LD", "current"): jump}).potential("A")[0]
    rest = rest_voltage("lithium-ion", 1.0, cells=3.0)
    exact = rest - 3.0 * 0.1 - 3.0 * 0.05 * (1.0 - np.exp(-times / 2.0))
    assert found[1:] == pytest.approx(exact[1:], abs=2e-5)


def test_it_is_discharged_by_what_is_taken_from_it() -> None:
    """1000 C at 1 A: 900 s to a tenth; its chemical energy is delivered or lost inside."""
    board = loaded("spent", 1.0)
    times = np.linspace(0.0, 900.0, 1801)
    course = course_of(board, times)
    charge, current = course.of("B", "charge")[0], course.of("B", "current")[0]
    assert charge == pytest.approx(1.0 - times / 1000.0, abs=1e-6)
    delivered = -np.trapezoid(course.of("B", "power")[0], times)
    lost = np.trapezoid(0.15 * current**2, times)
    level = np.linspace(0.1, 1.0, 5001)
    chemical = 1000.0 * np.trapezoid(rest_voltage("lithium-ion", level, cells=3.0), level)
    assert delivered + lost == pytest.approx(chemical, rel=1e-4)
    held = course_of(loaded("held", 1.0), times)
    assert held.of("B", "charge")[0] == pytest.approx(np.ones(times.size))


def test_run_empty_it_delivers_no_more_than_its_capacity() -> None:
    board = Board().resistor("R", "A", GROUND, 10.0)
    options = {"chemistry": "lithium-ion", "state": "spent"}
    board.part("B", "battery", ENDS, options, **CELL)
    times = np.linspace(0.0, 4000.0, 2001)
    course = course_of(board, times)
    assert course.potential("A")[0][-1] < 0.1
    drawn = np.trapezoid(course.of("B", "current")[0], times)
    assert 1000.0 < drawn < 1021.0  # up to the foot of the collapse


def test_the_vehicle_battery_has_the_capacity_on_its_label() -> None:
    known = typical_values("battery", "battery lead-acid 12 V 60 Ah")
    assert known["capacity"] / 3600.0 == pytest.approx(60.0)
