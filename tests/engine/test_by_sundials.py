"""The outside integrator that our transients are held against, itself held against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from circuits import GROUND
from engine.by_sundials import Course, EndlessEvents, by_sundials
from engine.charge_form import ChargeForm
from engine.ideal_parts import IdealBoard, IdealSource
from engine.published_circuits import nand_gate, transistor_amplifier
from engine.textbook_circuits import (
    NO_LEAK,
    low_pass,
    series_circuit,
    step_of_the_series_circuit,
)

from railwright.devices.arithmetic import where
from railwright.devices.device import Device, Pin, Terms
from railwright.engine import reference
from railwright.engine.stimulus import PiecewiseLinear

SOURCE = ("V", "voltage")
STEP = {SOURCE: PiecewiseLinear([0.0, 0.0], [0.0, 1.0])}


class Clock(Device):
    """Counts ticks; `level` is 1 in every second period."""

    pins = {"output": Pin("output")}
    holds = {"tick": 0.0, "level": 0.0}

    def equations(self, t: Terms) -> None:
        due = t.p.tick + 1e-3
        t.event(t.time - due, tick=due, level=1.0 - t.p.level)
        t.flow("output", (t.v("output") - t.p.level) * 1e-3)


class Discharger(Device):
    """Closes at 0.5 V and opens again at 0.1 V."""

    pins = {"plus": Pin("passive"), "minus": Pin("passive")}
    holds = {"on": 0.0}

    def equations(self, t: Terms) -> None:
        voltage = t.v("plus") - t.v("minus")
        t.event(voltage - 0.5, on=1.0)
        t.event(0.1 - voltage, on=0.0)
        t.through("plus", "minus", voltage * (1e-9 + 1e-2 * t.p.on))


class Quarrel(Device):
    """Two events that take back each other's changes."""

    pins = {"plus": Pin("passive")}
    holds = {"on": 0.0}

    def equations(self, t: Terms) -> None:
        t.flow("plus", t.v("plus") - t.time)
        t.event(where(-t.p.on, t.v("plus") - 0.3, -1.0), on=1.0)
        t.event(where(t.p.on - 0.5, 1.0, -1.0), on=0.0)


class Follower(Device):
    """Switches as soon as the one that it watches has switched: at the same instant."""

    pins = {"plus": Pin("passive"), "minus": Pin("passive")}
    holds = {"on": 0.0}

    def equations(self, t: Terms) -> None:
        t.event(t.v("plus") - 0.5, on=1.0)
        t.flow("minus", (t.v("minus") - t.p.on) * 1e-3)


def test_a_step_on_resistor_and_capacitor() -> None:
    times = np.linspace(0.0, 3e-3, 13)
    course = by_sundials(low_pass().model, NO_LEAK, times, stimuli=STEP, relative=1e-10)
    assert course.solved
    assert course.potential("OUT") == pytest.approx(-np.expm1(-times / 1e-3), abs=1e-8)


def test_a_step_on_a_series_resonant_circuit() -> None:
    times, model = np.array([0.0, 1e-4]), series_circuit().model
    course = by_sundials(model, NO_LEAK, times, stimuli=STEP, relative=1e-10)
    assert course.potential("OUT") == pytest.approx(step_of_the_series_circuit(times), rel=1e-7)


def test_corners_are_met_exactly() -> None:
    """A pulse of a millionth of the whole time, which a general integrator would pass over."""
    pulse = PiecewiseLinear([5e-3, 5e-3, 5.00001e-3, 5.00001e-3], [0.0, 10.0, 10.0, 0.0])
    course = by_sundials(
        low_pass().model, NO_LEAK, [0.0, 5.00001e-3, 1e-2], None, {SOURCE: pulse}, 1e-9, 1e-13
    )
    peak = -10.0 * math.expm1(-1e-5)
    wanted = [0.0, peak, peak * math.exp(-4.99999)]
    assert course.potential("OUT") == pytest.approx(wanted, rel=1e-5)


def test_a_clock_ticks_at_its_instants_and_outputs_are_those_just_after() -> None:
    board = IdealBoard().put("CLK", Clock(), "OUT")
    times = np.array([0.0, 0.5e-3, 1e-3, 1.5e-3, 2e-3, 2.5e-3, 3e-3])
    course = by_sundials(board.model, NO_LEAK, times)
    assert course.potential("OUT") == pytest.approx([0.0, 0.0, 1.0, 1.0, 0.0, 0.0, 1.0])
    assert [t for t, _ in course.happened] == pytest.approx([1e-3, 2e-3, 3e-3], rel=1e-12)


def sawtooth() -> Course:
    board = low_pass().put("D", Discharger(), "OUT 0")
    return by_sundials(board.model, NO_LEAK, [0.0, 3e-3], stimuli=STEP, relative=1e-9)


def test_events_of_unknowns_are_found() -> None:
    """Up to 0.5 V by 1 kΩ, down to 0.1 V by 100 Ω in parallel, by closed forms."""
    low, rest, high = math.log(1.0 / 0.5), math.log(0.9 / 0.5), 1.0 / 11.0
    down = math.log((0.5 - high) / (0.1 - high)) / 11.0
    wanted = [low, low + down, low + down + rest, low + 2.0 * down + rest]
    found = [t * 1e3 for t, _ in sawtooth().happened]
    assert found[:4] == pytest.approx(wanted, rel=1e-5)


def test_an_event_may_set_off_another_at_the_same_instant() -> None:
    board = low_pass().put("F", Follower(), "OUT A")
    board.put("G", Follower(), "A B")
    course = by_sundials(board.model, NO_LEAK, [0.0, 2e-3], stimuli=STEP, relative=1e-9)
    (first, _), (second, _) = course.happened
    assert first == second == pytest.approx(1e-3 * math.log(2.0), rel=1e-6)
    assert course.potential("B")[-1] == pytest.approx(1.0)


def test_events_without_end_are_an_error() -> None:
    board = IdealBoard().put("Q", Quarrel(), "A")
    with pytest.raises(EndlessEvents, match=r"events at 0\.3"):
        by_sundials(board.model, NO_LEAK, [0.0, 1.0])


def test_a_constant_that_would_have_to_move_is_refused() -> None:
    board = IdealBoard().put("V", IdealSource(), "IN 0", voltage=1.0)
    board.part("LD", "load", {"plus": "IN", "minus": GROUND}, current=1.0)
    moving = {("LD", "voltage"): PiecewiseLinear([0.0, 1.0], [1.0, 2.0])}
    with pytest.raises(ValueError, match="per_volt"):
        by_sundials(board.model, NO_LEAK, [0.0, 1.0], stimuli=moving)


def test_residuals_are_those_of_the_plain_equations() -> None:
    problem = nand_gate()
    form = ChargeForm(problem.model.topology, tuple(problem.stimuli))
    found = problem.model.parameters(form.parameters, problem.lanes)
    values = np.array([float(np.asarray(found[name])) for name in form.parameters])
    rng = np.random.default_rng(3)
    x, rates, out = rng.normal(0.0, 2.0, form.size), np.zeros(form.size), np.zeros(form.size)
    form.hold(values, 0.0)
    form.residual(0.0, x, rates, out)
    plain = reference.residuals(form.topology, x[:, None], dict(found))[:, 0]
    assert out == pytest.approx(plain, rel=1e-12, abs=1e-15)
    rates = rng.normal(0.0, 1.0, form.size)
    form.run(values, 0.0, {("V1", "voltage"): 3.0})
    form.residual(0.0, x, rates, out)
    h = 1e-5
    ahead, back = (form.stored(s * h, x + s * h * rates) for s in (1.0, -1.0))
    assert out - plain == pytest.approx((ahead - back) / (2.0 * h), rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("make", [nand_gate, transistor_amplifier])
def test_slopes_are_those_of_differences(make: type) -> None:
    problem = make()
    form = ChargeForm(problem.model.topology, tuple(problem.stimuli))
    found = problem.model.parameters(form.parameters, problem.lanes)
    form.run(np.array([float(np.asarray(found[name])) for name in form.parameters]), 0.0, {})
    rng = np.random.default_rng(4)
    x, rates = problem.start + rng.normal(0.0, 0.02, form.size), rng.normal(0.0, 1e3, form.size)
    slopes, res, cj, h = np.zeros((form.size, form.size)), np.zeros(form.size), 50.0, 1e-7
    form.slopes(0.0, x, rates, res, cj, slopes)
    for column in range(form.size):
        ahead, back = np.zeros(form.size), np.zeros(form.size)
        push = h * np.eye(form.size)[column]
        form.residual(0.0, x + push, rates + cj * push, ahead)
        form.residual(0.0, x - push, rates - cj * push, back)
        wanted = (ahead - back) / (2.0 * h)
        assert slopes[:, column] == pytest.approx(wanted, rel=1e-5, abs=1e-9)
