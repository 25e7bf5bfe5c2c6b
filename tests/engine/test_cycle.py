"""Periodic steady states against closed forms, and multipliers against published factors."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from engine.clocked_switch import Placed
from engine.ideal_parts import IdealSource
from engine.ideal_stages import HalfBridge, PeakCurrentBridge, coil, stage
from engine.test_transient import switched
from numpy.typing import NDArray
from published import published

from railwright.engine.cycle import cycle
from railwright.engine.model import Model
from railwright.engine.transient import Tolerance, transient

Array = NDArray[np.float64]
TICK = ("U", "tick")
EXACT = Tolerance(1e-8, 1e-10)


def nothing(model: Model) -> Array:
    return np.zeros((len(model.topology.unknowns), 1))


def book_stage() -> Model:
    """28 V to 15 V, 50 µH, 500 µF, 3 Ω, 100 kHz: Erickson and Maksimovic, section 9.5.4."""
    board = coil(Board(), "SW", "OUT", 50e-6).resistor("R", "OUT", GROUND, 3.0)
    ends = {"plus": "OUT", "minus": GROUND}
    board.part("C", "capacitor", ends, capacitance=500e-6, esr=1e-7, leakage=0.0)
    return stage(board, HalfBridge(), {"period": 1e-5, "duty": 15.0 / 28.0, "feeding": 28.0})


@pytest.mark.parametrize("row", published("exact ripple of a step-down stage"))
def test_a_step_down_stage_has_its_exact_ripple(row: Any) -> None:
    model = book_stage()
    # So many phases that one of them is the end of the pulse.
    found = cycle(model, {}, 1, nothing(model), clock=TICK, tolerance=EXACT, phases=280)
    current, voltage = found.unknown("L", "current")[0], found.potential("OUT")[0]
    seen = {"valley": current.min(), "peak": current.max(), "voltage": np.ptp(voltage)}
    assert found.solved.all()
    assert seen[row.inputs["of"]] == row.expected_within_its_tolerance


def test_multipliers_of_a_linear_stage_are_those_of_its_matrix() -> None:
    """exp(eigenvalue x period): both switch positions have the same matrix; textbook."""
    model = book_stage()
    found = cycle(model, {}, 1, nothing(model), clock=TICK, tolerance=EXACT)
    matrix = np.array([[0.0, -1.0 / 50e-6], [1.0 / 500e-6, -1.0 / (3.0 * 500e-6)]])
    exact = np.exp(np.linalg.eigvals(matrix) * 1e-5)
    order = np.argsort(found.multipliers[0].imag)
    assert found.multipliers[0][order] == pytest.approx(exact[np.argsort(exact.imag)], abs=1e-5)


def peak_current(duty: float, compensation: float) -> Model:
    """A coil between a bridge and a stiff output; slopes m1 up and m2 down set the duty."""
    feeding, inductance, period = 10.0, 1e-4, 1e-5
    output = duty * feeding
    rising, falling = (feeding - output) / inductance, output / inductance
    ramp = compensation * falling
    # The pulse ends after its share of the period where the cycle begins at 2 A.
    limit = 2.0 + (rising + ramp) * duty * period
    values = {"period": period, "duty": 1.0, "feeding": feeding, "limit": limit, "ramp": ramp}
    board = coil(Board(), "SW", "OUT", inductance)
    held = Placed("V", IdealSource(), {"plus": "OUT", "minus": GROUND})
    model = stage(board, PeakCurrentBridge(), values, held)
    return Model(model.topology, {**model.nominal, ("V", "voltage"): output})


@pytest.mark.parametrize("row", published("perturbation factor of peak current control"))
def test_the_multiplier_is_the_published_factor_of_peak_current_control(row: Any) -> None:
    """A disturbance of the coil current is multiplied by -(m2 - ma) / (m1 + ma) in each period."""
    model = peak_current(row.inputs["duty"], row.inputs["ramp"])
    start = nothing(model)
    start[model.topology.index["L", "current"]] = 2.0
    found = cycle(model, {}, 1, start, clock=TICK, tolerance=EXACT)
    assert found.multipliers[0].real == row.expected_within_its_tolerance
    assert found.decays[0] == (abs(row.expected) > 1.0)


def test_where_one_period_does_not_last_a_course_doubles_it() -> None:
    """Without compensation at a duty of 0.55 the factor is -1.22: pulses come long and short."""
    model = peak_current(0.55, 0.0)
    times = np.arange(3000) * 1e-5 + 0.5e-5
    start = nothing(model)
    start[model.topology.index["L", "current"]] = 2.001
    course = transient(model, {}, 1, times, start=start, tolerance=EXACT, watch=[("L", "current")])
    current = course.unknown("L", "current")[0]
    assert abs(current[-1] - current[-2]) > 0.05
    one = cycle(model, {}, 1, start, clock=TICK, tolerance=EXACT)
    assert one.decays.all()


def test_the_map_has_the_slopes_of_its_differences() -> None:
    """With a sensed crossing in the loop, against differences of courses over one period."""
    model = switched(gain=0.02)
    found = cycle(model, {}, 1, nothing(model), clock=TICK, tolerance=EXACT)
    period = np.array([0.0, 1e-5])
    states = [("L", "current"), ("C", "plate"), ("U", "control")]
    names = [model.topology.index[name] for name in states]
    base = np.array([found.unknown(*name)[0] for name in states])[:, :1]

    def after(change: Array) -> Array:
        start = np.zeros((len(model.topology.unknowns), change.shape[1]))
        start[names] = base + change
        course = transient(model, {}, change.shape[1], period, start=start, tolerance=EXACT)
        return np.array([course.unknown(*name)[:, -1] for name in states])

    size = 1e-4
    slopes = (after(size * np.eye(3)) - after(-size * np.eye(3))) / (2.0 * size)
    exact = np.sort_complex(np.linalg.eigvals(slopes))
    # What holds no charge has a multiplier of nil.
    largest = np.argsort(-np.abs(found.multipliers[0]))[:3]
    assert np.sort_complex(found.multipliers[0][largest]) == pytest.approx(exact, abs=2e-3)


def test_a_cycle_is_where_a_long_course_ends() -> None:
    levels = np.linspace(0.25, 0.75, 5)
    model = switched(gain=0.01)
    lanes = {("U", "level"): levels}
    found = cycle(model, lanes, 5, nothing(model), clock=TICK)
    course = transient(model, lanes, 5, np.array([0.0, 2e-2, 2e-2 + 5e-6]), tolerance=EXACT)
    middle = found.potential("OUT")[:, 128]
    assert course.potential("OUT")[:, -1] == pytest.approx(middle, rel=1e-4)
    assert found.lasts.all()


@pytest.mark.parametrize("row", published("ratio in discontinuous conduction"))
def test_discontinuous_conduction_has_its_published_ratio(row: Any) -> None:
    """A diode instead of the lower switch: M = 2 / (1 + sqrt(1 + 4 K / D^2))."""
    duty, ratio = row.inputs["duty"], row.inputs["K"]
    load = 2.0 * 1e-4 / (ratio * 1e-5)
    model = switched(level=duty)
    lanes: dict[tuple[str, str], Any] = {
        ("V", "voltage"): 1200.0,
        ("RL", "resistance"): load,
        ("U", "level"): duty,
    }
    found = cycle(model, lanes, 1, nothing(model), clock=TICK)
    # At 1200 V the diode's and the switch's volts are below the tolerance.
    assert found.solved.all()
    assert found.potential("OUT").mean() / 1200.0 == row.expected_within_its_tolerance


def test_recorded_steps_lie_on_the_cycle() -> None:
    """Read one step at a time they are those of an unbroken run, from tick to tick."""
    model = switched(gain=0.02)
    lanes = {("U", "level"): np.array([0.3, 0.45, 0.6])}
    found = cycle(model, lanes, 3, nothing(model), clock=TICK, phases=4000)
    current, seen = found.unknown("L", "current"), 0
    for which, steps in found.recorded():
        for place, lane in enumerate(which):
            taken = steps.taken[:, place]
            start, end = steps.start[taken, place], steps.end[taken, place]
            assert start[1:].tolist() == end[:-1].tolist()
            assert end[-1] - start[0] == pytest.approx(1e-5, rel=1e-9)
            wanted = np.interp((end - start[0]) / 1e-5, found.phase, current[lane])
            row = model.topology.index["L", "current"]
            assert steps.x[taken, row, place] == pytest.approx(wanted, rel=1e-4)
            seen += 1
    assert seen == 3


def test_a_thousand_points_are_all_found() -> None:
    rng = np.random.default_rng(7)
    model = switched(gain=0.01)
    lanes = {
        ("U", "level"): rng.uniform(0.1, 0.9, 1000),
        ("RL", "resistance"): 10.0 ** rng.uniform(0.3, 3.0, 1000),
        ("L", "inductance"): 1e-4 * rng.uniform(0.8, 1.2, 1000),
    }
    found = cycle(model, lanes, 1000, nothing(model), clock=TICK, watch=[("OUT", "")])
    assert found.solved.all()


def test_a_stage_without_a_period_is_told() -> None:
    """A restless loop neither repeats after one period nor after two."""
    model = switched(gain=5.0)
    found = cycle(model, {}, 1, nothing(model), clock=TICK, watch=[("OUT", "")])
    assert not found.lasts.any()
    assert found.decays.any() or "does not repeat" in found.outcomes[0]


def test_a_clock_or_a_period_is_asked_for() -> None:
    model = switched()
    with pytest.raises(ValueError, match="a clock or a period"):
        cycle(model, {}, 1, nothing(model))
