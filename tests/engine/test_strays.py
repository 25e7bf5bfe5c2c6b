"""Courses that jump where nothing is stored, and those that hang on the charge of a junction."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from engine.ideal_parts import IdealBoard, IdealInductor

from railwright.devices.device import Device, Pin
from railwright.engine.linear_system import LinearSystem
from railwright.engine.transient import Tolerance, transient

OHMS, FARADS = 1e3, 1e-9


class Falling(Device):
    """i = v^3 / 3 - v [A at V]: a conductance that is negative between -1 V and 1 V."""

    pins = {"plus": Pin("passive"), "minus": Pin("passive")}

    def equations(self, t: Any) -> None:
        voltage = t.v("plus") - t.v("minus")
        t.through("plus", "minus", voltage * (voltage * voltage / 3.0 - 1.0))


def test_a_relaxation_oscillator_jumps_at_both_bends() -> None:
    """Van der Pol's oscillator without capacitance: T = (3 - 2 ln 2) L / (1 Ω), jumps to 2 V.

    Source: Strogatz, Nonlinear Dynamics and Chaos, section 7.5 (from memory): along the branch
    dt = -L (v - 1/v) dv from 2 to 1, twice a period. A coil holds its current; at the bend the
    voltage goes to the other branch at that current. 1 pF changes the period by some 1e-5.
    """
    board = IdealBoard().put("X", Falling(), "N 0")
    board.put("L", IdealInductor(), "N 0")
    model = replace(board.model, topology=replace(board.topology, isothermal=True))
    inductance = np.array([1e-3, 1.7e-3, 0.6e-3])
    times = np.linspace(0.0, 6e-3, 60001)
    start = np.zeros((len(model.topology.unknowns), 1))
    start[model.topology.index["N", ""]] = 2.0
    start[model.topology.index["L", "current"]] = -2.0 / 3.0
    course = transient(
        model,
        {("L", "inductance"): inductance},
        3,
        times,
        start,
        tolerance=Tolerance(1e-6, 1e-8),
        longest=1e-5,
    )
    assert course.outcomes == ("", "", "")
    assert course.strays.all()
    voltage = course.potential("N")
    assert np.abs(voltage).max(axis=1) == pytest.approx(np.full(3, 2.0), abs=1e-3)
    for lane in range(3):
        jumps = times[1:][(voltage[lane, 1:] < 0.0) & (voltage[lane, :-1] > 0.0)]
        period = (3.0 - 2.0 * np.log(2.0)) * inductance[lane]
        assert np.diff(jumps) == pytest.approx(np.full(jumps.size - 1, period), rel=2e-3)
        assert jumps[0] == pytest.approx(0.5 * period, rel=2e-3)


class Leaping(Device):
    """A junction at the switch of a converter whose means over a cycle are looked at: R and C."""

    pins = {"switch": Pin("switch"), "ground": Pin("ground")}

    def equations(self, t: Any) -> None:
        voltage = t.v("switch") - t.v("ground")
        t.through("switch", "ground", voltage / OHMS)
        t.charge("switch", "ground", FARADS * voltage, parasitic=True)


def test_a_junction_at_a_switch_swings_in_time_but_stores_no_mean() -> None:
    """1 kΩ discharge 1 nF as exp(-t/RC); its swing has no part in poles."""
    board = IdealBoard().put("X", Leaping(), "N 0")
    topology = replace(board.topology, isothermal=True)
    start = np.zeros((len(topology.unknowns), 1))
    start[topology.index["N", ""]] = 5.0
    times = np.linspace(0.0, 2.0 * OHMS * FARADS, 9)
    course = transient(
        replace(board.model, topology=topology), {}, 1, times, start, tolerance=Tolerance(1e-6)
    )
    wanted = 5.0 * np.exp(-times / (OHMS * FARADS))
    assert course.of("N", "")[0] == pytest.approx(wanted, rel=1e-3)
    assert LinearSystem.of(topology).storing == {}


def test_lanes_that_need_no_strays_have_none() -> None:
    """The same part with a resistor beside it that outweighs its fall."""
    board = IdealBoard().put("X", Falling(), "N 0").resistor("R", "N", "0", 0.9)
    board.put("L", IdealInductor(), "N 0", inductance=1e-3)
    model = replace(board.model, topology=replace(board.topology, isothermal=True))
    start = np.zeros((len(model.topology.unknowns), 1))
    start[model.topology.index["N", ""]] = 2.0
    start[model.topology.index["L", "current"]] = -2.0 / 3.0 - 2.0 / 0.9
    lanes: dict[Any, Any] = {("R", "resistance"): np.array([0.9, 1e3, 0.8])}
    course = transient(model, lanes, 3, np.linspace(0.0, 3e-3, 11), start)
    assert course.solved.all()
    assert course.strays.tolist() == [False, True, False]
