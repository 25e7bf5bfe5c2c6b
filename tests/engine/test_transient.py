"""Courses in time against closed forms, and what lanes must never do to one another."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from engine.clocked_switch import ClockedSwitch, Placed
from numpy.typing import NDArray

from railwright.devices.device import Device, Pin, Unknown, Value
from railwright.engine import processor, storage, transient_kernel
from railwright.engine.model import Model
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.topology import Topology
from railwright.engine.transient import Tolerance, transient

Array = NDArray[np.float64]
STRONG: dict[str, Any] = {"resistance": 1e-3, "current_limit": 1e3}


def isothermal(board: Board) -> Model:
    return replace(board.model, topology=replace(board.topology, isothermal=True))


def low_pass() -> Board:
    """1 kΩ and 1 µF behind a source."""
    board = Board().source("V", "IN", 5.0, **STRONG).resistor("R", "IN", "OUT", 1e3)
    ends = {"plus": "OUT", "minus": GROUND}
    return board.part("C", "capacitor", ends, capacitance=1e-6, esr=1e-3, leakage=0.0)


def resonant() -> Board:
    """A series circuit of 10 Ω, 1 mH and 10 µF at 1 V; the source's load sinks."""
    board = Board().source("V", "IN", 1.001, **STRONG).resistor("RB", "IN", GROUND, 1.0)
    board.resistor("R", "IN", "A", 10.0 - 2e-3 - 1e-3 / 1.001)
    ends = {"one": "A", "two": "OUT"}
    board.part(
        "L", "inductor", ends, inductance=1e-3, winding_resistance=1e-3, saturation_current=1e9
    )
    ends = {"plus": "OUT", "minus": GROUND}
    return board.part("C", "capacitor", ends, capacitance=1e-5, esr=1e-3, leakage=0.0)


@pytest.mark.parametrize("relative", [1e-3, 1e-5])
def test_a_charging_capacitor_follows_its_exponential(relative: float) -> None:
    """u = U (1 - exp(-t/RC)): textbook."""
    times = np.linspace(0.0, 5e-3, 21)
    resistance = 1e3 * np.linspace(1.0, 2.0, 11)
    exact_tolerance = Tolerance(relative, 1e-3 * relative)
    course = transient(
        isothermal(low_pass()),
        {("R", "resistance"): resistance},
        11,
        times,
        tolerance=exact_tolerance,
    )
    constant = (resistance + 2e-3)[:, None] * 1e-6
    exact = 5.0 * (1.0 - np.exp(-times / constant))
    assert course.solved.all()
    assert course.potential("OUT") == pytest.approx(exact, abs=5.0 * 20 * relative)


def test_a_resonant_circuit_rings_as_the_closed_form() -> None:
    """Underdamped series circuit, textbook; damping ratio 0.5."""
    times = np.linspace(0.0, 1e-3, 41)
    course = transient(isothermal(resonant()), {}, 1, times, tolerance=Tolerance(1e-8, 1e-11))
    decay, natural = 10.0 / 2e-3, 1.0 / np.sqrt(1e-3 * 1e-5)
    ringing = np.sqrt(natural**2 - decay**2)
    shape = np.cos(ringing * times) + decay / ringing * np.sin(ringing * times)
    exact = 1.0 - np.exp(-decay * times) * shape
    assert course.unknown("C", "plate")[0] == pytest.approx(exact, abs=3e-6)


def test_halving_the_tolerance_exponent_by_three_tightens_the_error_by_its_square() -> None:
    """A second-order method: the global error goes with the tolerance to the power 2/3."""
    times = np.linspace(0.0, 1e-3, 41)
    model = isothermal(resonant())
    exact = transient(model, {}, 1, times, tolerance=Tolerance(1e-9, 1e-12)).potential("OUT")
    errors = [
        np.abs(
            transient(model, {}, 1, times, tolerance=Tolerance(r, 1e-3 * r)).potential("OUT")
            - exact
        ).max()
        for r in (1e-4, 1e-7)
    ]
    assert 30.0 < errors[0] / errors[1] < 300.0


def test_a_ramped_source_drives_a_current_through_a_capacitor() -> None:
    """i = C dv/dt while the source rises, nil after its corner."""
    board = Board().source("V", "IN", 0.0, **STRONG)
    ends = {"plus": "IN", "minus": GROUND}
    board.part("C", "capacitor", ends, capacitance=1e-6, esr=1e-3, leakage=0.0)
    rise = {("V", "voltage"): PiecewiseLinear(np.array([1e-3, 2e-3]), np.array([0.0, 10.0]))}
    times = np.linspace(0.0, 3e-3, 13)
    course = transient(isothermal(board), {}, 1, times, stimuli=rise)
    current = course.of("C", "current")[0]
    inside, outside = (times > 1e-3) & (times < 2e-3), (times < 1e-3) | (times > 2e-3)
    assert current[inside] == pytest.approx(1e-2, rel=1e-3)
    assert np.abs(current[outside][1:]).max() < 1e-5
    assert course.potential("IN")[0, -1] == pytest.approx(10.0, abs=1e-5)


def test_lanes_may_have_corners_of_their_own() -> None:
    corners = np.array([[1e-3, 1e-3], [2e-3, 2e-3]])
    jump = {("V", "voltage"): PiecewiseLinear(corners, np.array([0.0, 5.0]))}
    times = np.linspace(0.0, 4e-3, 9)
    course = transient(isothermal(low_pass()), {}, 2, times, stimuli=jump)
    since = np.maximum(times - np.array([[1e-3], [2e-3]]), 0.0)
    exact = 5.0 * (1.0 - np.exp(-since / 1e-3))
    assert course.potential("OUT") == pytest.approx(exact, abs=2e-3)


def switched(level: float = 0.4, gain: float = 0.0) -> Model:
    """A step-down stage with ideal parts: 12 V, 100 kHz, 100 µH, 100 µF, 5 Ω."""
    board = Board().source("V", "IN", 12.0, **STRONG)
    ends = {"one": "SW", "two": "OUT"}
    board.part(
        "L", "inductor", ends, inductance=1e-4, winding_resistance=1e-3, saturation_current=1e9
    )
    board.part(
        "D",
        "diode",
        {"anode": GROUND, "cathode": "SW"},
        forward_voltage=0.4,
        test_current=1.0,
        series_resistance=0.01,
    )
    ends = {"plus": "OUT", "minus": GROUND}
    board.part("C", "capacitor", ends, capacitance=1e-4, esr=1e-3, leakage=0.0)
    board.resistor("RL", "OUT", GROUND, 5.0)
    switch = Placed("U", ClockedSwitch(), {"input": "IN", "switch": "SW", "feedback": "OUT"})
    topology = Topology.of([*board.parts, switch], GROUND)
    values = {
        "period": 1e-5,
        "gain": gain,
        "level": level,
        "reference": 5.0,
        "lag": 1e-4,
        "on_resistance": 0.01,
    }
    nominal = {**board.nominal, **{("U", name): value for name, value in values.items()}}
    return Model(replace(topology, isothermal=True, switched=True), nominal)


def test_ticks_are_met_exactly() -> None:
    times = np.linspace(0.0, 1e-3, 101) + 5e-6
    course = transient(switched(), {}, 1, times)
    ticks = course.unknown("U", "tick")[0]
    assert ticks == pytest.approx(1e-5 * np.arange(101), abs=1e-15)


def test_a_step_down_stage_reaches_duty_times_input() -> None:
    """Volt-second balance: Erickson and Maksimovic, Fundamentals of Power Electronics, ch. 2."""
    levels = np.linspace(0.2, 0.8, 7)
    times = np.linspace(0.0, 2e-2, 2001)
    course = transient(
        switched(), {("U", "level"): levels}, 7, times, tolerance=Tolerance(1e-5, 1e-7)
    )
    mean = course.potential("OUT")[:, -500:].mean(axis=1)
    current = mean / 5.0
    drop = 0.4 + 0.01 * (current - 1.0) + 1.7 * 0.025693 * np.log(current)
    exact = levels * (12.0 - 0.012 * current) - (1.0 - levels) * drop - 1e-3 * current
    assert course.solved.all()
    assert mean == pytest.approx(exact, rel=3e-3)


@pytest.mark.parametrize("relative", [1e-3, 1e-5])
def test_a_crossing_is_located_within_the_step(relative: float) -> None:
    """A ramp of 1 V meets a level of 0.4 V after 0.4 of each period."""
    model = switched(level=0.4)
    times = np.arange(0.0, 1e-4, 1e-9) + 0.5e-9
    start = np.zeros((len(model.topology.unknowns), 1))
    start[model.topology.index["U", "control"]] = 0.4
    tolerance = Tolerance(relative, 1e-3 * relative)
    course = transient(model, {}, 1, times, start=start, tolerance=tolerance, watch=[("U", "on")])
    assert course.unknown("U", "on")[0].mean() == pytest.approx(0.4, abs=2e-5)


def test_a_lane_takes_no_notice_of_its_neighbours() -> None:
    levels = np.linspace(0.1, 0.9, 13)
    times = np.linspace(0.0, 1e-3, 11)
    together = transient(switched(), {("U", "level"): levels}, 13, times).potential("OUT")
    for lane in (0, 5, 12):
        alone = transient(switched(), {("U", "level"): levels[lane]}, 1, times).potential("OUT")
        assert together[lane] == pytest.approx(alone[0], abs=1e-9)


@pytest.mark.parametrize("width", ["2", "4"])
def test_narrow_vectors_agree_with_wide_ones(width: str, monkeypatch: pytest.MonkeyPatch) -> None:
    times = np.linspace(0.0, 1e-3, 11)
    wide = transient(switched(), {}, 3, times).potential("OUT")
    monkeypatch.setenv(processor.WIDTH_VARIABLE, width)
    monkeypatch.setattr(transient_kernel, "_loaded", {})
    narrow = transient(switched(), {}, 3, times).potential("OUT")
    assert narrow == pytest.approx(wide, abs=1e-9)


def test_a_lane_without_a_course_is_told_and_the_others_go_on() -> None:
    """A current limit of nil leaves nothing: the lane with a lost value must not be silent."""
    times = np.linspace(0.0, 1e-3, 11)
    resistance = np.array([1e3, np.nan, 2e3])
    course = transient(isothermal(low_pass()), {("R", "resistance"): resistance}, 3, times)
    assert course.solved.tolist() == [True, False, True]
    assert "no consistent state" in course.outcomes[1]
    assert np.isnan(course.potential("OUT")[1, -1])


def test_a_budget_of_steps_is_kept() -> None:
    course = transient(switched(), {}, 1, np.array([0.0, 1e-2]), most_steps=50)
    assert course.outcomes == ("the steps allowed were used up",)


class Restless(ClockedSwitch):
    """Its two events take each other's changes back."""

    def equations(self, t: Any) -> None:
        super().equations(t)
        t.event(t.time - 1e-4, on=1.0 - t.p.on)


def test_events_without_an_end_are_told() -> None:
    model = switched()
    elements = [
        replace(e, device=Restless()) if e.ref == "U" else e for e in model.topology.elements
    ]
    restless = replace(model, topology=replace(model.topology, elements=tuple(elements)))
    course = transient(restless, {}, 1, np.array([0.0, 1e-3]))
    assert "events follow one another" in course.outcomes[0]
    assert course.ended[0] == pytest.approx(1e-4, rel=1e-3)


def test_what_is_not_watched_is_named() -> None:
    course = transient(switched(), {}, 1, np.array([0.0, 1e-4]), watch=[("OUT", "")])
    with pytest.raises(KeyError, match="L current was not watched"):
        course.unknown("L", "current")
    with pytest.raises(KeyError, match="NOWHERE is neither"):
        transient(switched(), {}, 1, np.array([0.0, 1e-4]), watch=[("NOWHERE", "")])


def test_a_model_that_warms_up_is_refused() -> None:
    with pytest.raises(ValueError, match="isothermal"):
        transient(low_pass().model, {}, 1, np.array([0.0, 1.0]))


class Turncoat(Device):
    """Three equations, of which the first one loses its own unknown at an instant.

    e a + b + c = 1, a + 2 b + c = 3, a + b + 2 c = 5 with e = 1, and e = 1e-20 from then on: what
    divides by e has lost everything else by the third equation.
    """

    kind = ""
    pins = {"pin": Pin("passive")}
    values = {"instant": Value("s", "when it turns")}
    holds = {"share": 1.0}
    unknowns = {name: Unknown("V") for name in "abc"}

    def equations(self, t: Any) -> None:
        a, b, c = (t.x(name) for name in "abc")
        t.zero("a", t.p.share * a + b + c - 1.0)
        t.zero("b", a + 2.0 * b + c - 3.0)
        t.zero("c", a + b + 2.0 * c - 5.0)
        t.flow("pin", 1e-3 * t.v("pin"))
        t.event(t.time - t.p.instant, share=1e-20)


def test_a_bad_order_of_elimination_is_noticed_and_replaced(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Any
) -> None:
    part = Placed("X", Turncoat(), {"pin": "N"})
    model = Model(replace(Topology.of([part], GROUND), isothermal=True), {("X", "instant"): 5e-4})
    place = (model.topology.index["X", "a"],) * 2
    chosen, orders = transient_kernel.pivot_order, []

    def as_if_it_never_turned(places: Any, matrices: Array) -> Any:
        kept = matrices.copy()
        if not orders:
            kept[:, place[0]] = 0.0
            kept[:, place[0], place[1]] = 1.0
        orders.append(chosen(places, kept))
        return orders[-1]

    monkeypatch.setattr(transient_kernel, "_loaded", {})
    monkeypatch.setattr(transient_kernel, "pivot_order", as_if_it_never_turned)
    monkeypatch.setenv(storage.FOLDER_VARIABLE, str(tmp_path))
    found = transient(model, {}, 3, np.array([0.0, 1e-4, 1e-3]))
    assert len(orders) == 2
    assert orders[0].index(place) < orders[1].index(place)
    assert found.solved.all()
    for name, before, after in (("a", -5.0, 2.5), ("b", 2.0, -0.5), ("c", 4.0, 1.5)):
        assert found.unknown("X", name)[:, 1:] == pytest.approx(np.array([[before, after]] * 3))


def test_a_course_does_not_ask_for_what_only_noise_depends_on() -> None:
    board = Board().source("V", "IN", 5.0, **STRONG).resistor("R", "IN", "A", 1e3)
    board.part("D", "diode", {"anode": "A", "cathode": GROUND})
    whole = isothermal(board)
    silent = {name: value for name, value in whole.nominal.items() if "noise" not in name[1]}
    assert len(silent) < len(whole.nominal)
    course = transient(replace(whole, nominal=silent), {}, 1, np.linspace(0.0, 1e-6, 5))
    assert course.solved.all()


def test_what_a_part_computes_of_an_input_follows_its_course() -> None:
    """A resistive load that takes 1 A at a set voltage: the set voltage is what rises."""
    board = Board().source("V", "IN", 6.0, resistance=1.0, current_limit=100.0)
    pins = {"plus": "IN", "minus": GROUND}
    board.part("LD", "load", pins, {"style": "resistive"})
    times = np.linspace(0.0, 1e-3, 11)
    rise = {("LD", "voltage"): PiecewiseLinear(np.array([0.0, 1e-3]), np.array([2.0, 5.0]))}
    course = transient(isothermal(board), {("LD", "current"): 1.0}, 1, times, stimuli=rise)
    resistance = 2.0 + 3e3 * times
    assert course.of("LD", "current")[0] == pytest.approx(6.0 / (1.0 + resistance), rel=1e-5)


def test_a_course_of_something_that_nothing_reads_is_refused() -> None:
    rise = {("V", "volts"): PiecewiseLinear(np.array([0.0, 1.0]), np.array([0.0, 1.0]))}
    with pytest.raises(ValueError, match=r"no equation reads volts of V.*voltage"):
        transient(isothermal(low_pass()), {}, 1, np.array([0.0, 1.0]), stimuli=rise)
