"""The step-down regulator cycle by cycle: closed forms, its averaged model, its protections."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from engine.clocked_switch import Placed
from engine.ideal_parts import IdealSource
from numpy.typing import NDArray
from outside.ideal import COIL, STEP_DOWN
from published import Row, published

from railwright.engine.cycle import Cycle, cycle
from railwright.engine.model import Model
from railwright.engine.quiescent import quiescent
from railwright.engine.solutions import OperatingPoints
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.topology import Topology
from railwright.engine.transient import Course, Tolerance, transient

Array = NDArray[np.float64]
PINS = {"input": "IN", "switch": "SW", "ground": GROUND, "feedback": "FB"}
TICK = ("U", "tick")
EXACT, SHARP = Tolerance(1e-8, 1e-10), Tolerance(1e-6, 1e-9)
CLASSIC, CURRENT_MODE = "step-down 150 kHz 3 A", "step-down 500 kHz 3 A current mode"
STRONG = {"resistance": 1e-3, "current_limit": 100.0}


def switching(board: Board) -> Model:
    """The board's model cycle by cycle, with room temperature everywhere."""
    model = board.model
    return replace(model, topology=replace(model.topology, isothermal=True, switched=True))


def nothing(model: Model) -> Array:
    return np.zeros((len(model.topology.unknowns), 1))


def ideal(options: dict[str, str], **values: float) -> Board:
    """A synchronous stage without losses whose loop stands where its feedback pin puts it."""
    board = Board().source("V", "IN", 28.0, resistance=1e-6, current_limit=1e3)
    known = {**STEP_DOWN, "compensation_pole": 1.0, "compensation_zero": 1e3, **values}
    known = {k: v for k, v in known.items() if not k.startswith("junction")}
    return board.part(
        "U", "step-down-regulator", PINS, {"rectifier": "synchronous", **options}, **known
    )


@pytest.mark.parametrize("row", published("exact ripple of a step-down stage"), ids=str)
def test_ripple_of_the_ideal_stage(row: Row) -> None:
    """28 V to 15 V at the duty limit, 50 µH, 500 µF, 3 Ω, 100 kHz."""
    board = ideal({}, reference=1.0, duty_limit=15.0 / 28.0, frequency=1e5)
    board.part("L", "inductor", {"one": "SW", "two": "OUT"}, inductance=50e-6, **COIL)
    ends = {"plus": "OUT", "minus": GROUND}
    board.part("C", "capacitor", ends, capacitance=500e-6, esr=1e-7, leakage=0.0)
    board.resistor("R", "OUT", GROUND, 3.0).resistor("RF", "FB", GROUND, 1e3)
    board.nominal |= {("U", "switch_resistance"): 1e-6}
    model = switching(board)
    found = cycle(model, {}, 1, nothing(model), clock=TICK, tolerance=EXACT, phases=280)
    current, voltage = found.unknown("L", "current")[0], found.potential("OUT")[0]
    seen = {"valley": current.min(), "peak": current.max(), "voltage": np.ptp(voltage)}
    assert seen[row.inputs["of"]] == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("perturbation factor of peak current control"), ids=str)
def test_slope_compensation_decides_the_multiplier(row: Row) -> None:
    """A disturbance of the coil current is multiplied by -(m2 - ma) / (m1 + ma) in each period."""
    duty, period, inductance, feeding = row.inputs["duty"], 1e-5, 1e-4, 28.0
    output, limit = duty * feeding, 20.0
    falling, rising = output / inductance, (feeding - output) / inductance
    ramp = row.inputs["ramp"] * falling
    demand = (2.0 + (rising + ramp) * duty * period) / limit  # the cycle begins at 2 A
    board = ideal(
        {"control": "peak-current-mode"},
        reference=1.0 + demand,
        gain=1.0,
        frequency=1.0 / period,
        current_limit=limit,
        slope_compensation=ramp,
    )
    board.part("L", "inductor", {"one": "SW", "two": "OUT"}, inductance=inductance, **COIL)
    held = [
        Placed("VO", IdealSource(), {"plus": "OUT", "minus": GROUND}),
        Placed("VF", IdealSource(), {"plus": "FB", "minus": GROUND}),
    ]
    topology = Topology.of([*board.parts, *held], GROUND)
    topology = replace(topology, isothermal=True, switched=True)
    nominal = {("VO", "voltage"): output, ("VF", "voltage"): 1.0, ("U", "low_resistance"): 2e-4}
    model = Model(topology, {**board.nominal, **nominal, ("U", "switch_resistance"): 2e-4})
    start = nothing(model)
    start[topology.index["L", "current"]], start[topology.index["U", "state"]] = 2.0, demand
    found = cycle(model, {}, 1, start, clock=TICK, tolerance=EXACT)
    factors = found.multipliers[0].real
    nearest = factors[np.argmin(np.abs(factors - row.expected))]
    assert nearest == row.expected_within_its_tolerance
    assert found.decays[0] == (abs(row.expected) > 1.0)


def supply(
    name: str = CLASSIC,
    volts: float = 14.0,
    output: float = 5.0,
    enable: bool = False,
    **values: float,
) -> Board:
    """An ordinary supply around a part of the catalogue."""
    current_mode = name == CURRENT_MODE
    pins = PINS | ({"disable": "EN"} if enable else {})
    board = Board().source("V", "IN", volts, **STRONG).use("U", name, pins, **values)
    board.use("D", "1N5822", {"anode": GROUND, "cathode": "SW"})
    board.part(
        "L",
        "inductor",
        {"one": "SW", "two": "OUT"},
        inductance=10e-6 if current_mode else 68e-6,
        winding_resistance=0.05,
        saturation_current=20.0,
    )
    ends = {"plus": "OUT", "minus": GROUND}
    size = (44e-6, 3e-3) if current_mode else (220e-6, 0.06)
    board.part("C", "capacitor", ends, capacitance=size[0], esr=size[1], leakage=0.0)
    board.load("LD", "OUT", 1.0)
    reference = board.nominal["U", "reference"]
    upper = (output / reference - 1.0) * 1e3
    board.resistor("R1", "FB", GROUND, 1e3).resistor("R2", "OUT", "FB", upper)
    return board.source("VE", "EN", 0.0) if enable else board


def both(board: Board, lanes: dict[Any, Any], count: int) -> tuple[OperatingPoints, Cycle]:
    """The averaged operating points, and the cycles found from there."""
    points = board.solve(lanes, count)
    rest = quiescent(points, switched=True)
    found = cycle(rest.model, rest.lanes, count, rest.x, clock=TICK, phases=2000, tolerance=SHARP)
    return points, found


def mean(row: Array) -> Array:
    return row[:, :-1].mean(axis=1)


@pytest.mark.parametrize("name", [CLASSIC, CURRENT_MODE])
class TestAveragesAreThoseOfTheCycles:
    """Over settings and loads from deep discontinuous to continuous conduction."""

    @pytest.fixture
    def grid(self, name: str) -> tuple[OperatingPoints, Cycle]:
        board = supply(name)
        reference = board.nominal["U", "reference"]
        loads = np.array([0.03, 0.08, 0.12, 0.16, 0.2, 0.3, 0.5, 1.0, 2.5])
        outputs, currents = (a.ravel() for a in np.meshgrid([2.5, 5.0, 9.0], loads))
        upper = (outputs / reference - 1.0) * 1e3
        lanes = {("R2", "resistance"): upper, ("LD", "current"): currents}
        return both(board, lanes, outputs.size)

    def test_they_agree(self, grid: tuple[OperatingPoints, Cycle]) -> None:
        points, found = grid
        assert found.solved.all()
        regime = points.of("U", "continuous")
        assert (regime < 0.01).sum() >= 5
        assert (regime > 0.99).sum() >= 5
        volts, coil = points.potential("OUT"), points.of("U", "coil_current")
        assert mean(found.potential("OUT")) == pytest.approx(volts, rel=2e-3)
        assert mean(found.unknown("L", "current")) == pytest.approx(coil, rel=2e-3)
        peak = found.unknown("L", "current").max(axis=1)
        assert peak == pytest.approx(points.of("U", "coil_peak"), rel=0.015, abs=5e-3)
        diode = mean(found.of("D", "current"))
        assert diode == pytest.approx(points.of("U", "diode_current"), rel=0.03, abs=2e-3)

    def test_the_input_gives_what_the_averages_say(
        self, grid: tuple[OperatingPoints, Cycle]
    ) -> None:
        """But for the loss of the edges, which the cycles take at the current of the last one."""
        points, found = grid
        averaged, cycles = points.of("V", "current"), mean(found.of("V", "current"))
        assert cycles == pytest.approx(averaged, rel=0.02, abs=4e-3)

    def test_the_regime_is_the_same(self, grid: tuple[OperatingPoints, Cycle]) -> None:
        points, found = grid
        idle = (found.unknown("L", "current") < 1e-3).mean(axis=1)
        regime = points.of("U", "continuous")
        assert np.all(idle[regime > 0.99] == 0.0)
        assert np.all(idle[regime < 0.01] > 0.0)


def test_a_synchronous_stage_carries_its_coil_current_both_ways() -> None:
    board = supply(CURRENT_MODE)
    synchronous = {part.ref: dict(part.options) for part in board.parts}["U"]
    synchronous["rectifier"] = "synchronous"
    board.parts = [
        replace(part, options=synchronous) if part.ref == "U" else part
        for part in board.parts
        if part.ref != "D"
    ]
    ends = {"plus": "IN", "minus": GROUND}  # takes what the coil gives back
    board.part("CI", "capacitor", ends, capacitance=47e-6, esr=5e-3, leakage=0.0)
    lanes = {("LD", "current"): np.array([0.0, 0.2, 2.0]), ("U", "low_resistance"): 0.05}
    points, found = both(board, lanes, 3)
    assert found.solved.all()
    coil = found.unknown("L", "current")
    assert coil[0].min() < -0.1
    assert mean(coil) == pytest.approx(points.of("U", "coil_current"), abs=2e-3)
    assert coil.max(axis=1) == pytest.approx(points.of("U", "coil_peak"), rel=0.01)
    assert mean(found.potential("OUT")) == pytest.approx(points.potential("OUT"), rel=1e-3)


def test_every_cycle_ends_at_the_current_limit() -> None:
    """Overloaded, but not so far that the clock slows down; averages agree."""
    board = supply().resistor("RO", "OUT", GROUND, 1.0)
    lanes = {("LD", "current"): 0.0, ("RO", "resistance"): np.array([0.9, 1.0])}
    points, found = both(board, lanes, 2)
    assert np.all(points.of("U", "demanded_peak") > 4.5 + 0.1)
    peak = found.unknown("L", "current").max(axis=1)
    assert peak == pytest.approx(4.5, rel=2e-3)
    assert mean(found.potential("OUT")) == pytest.approx(points.potential("OUT"), rel=5e-3)


def following(
    board: Board,
    until: float,
    stimuli: dict[Any, PiecewiseLinear],
    lanes: dict[Any, Any],
    count: int,
) -> Course:
    """A course of the switched model from nothing."""
    model = switching(board)
    times = np.linspace(0.0, until, 4001)
    found = transient(model, lanes, count, times, stimuli=stimuli)
    assert found.solved.all(), found.outcomes
    return found


def settled(course: Course, row: Array) -> Array:
    """Mean over the last tenth."""
    return row[:, -row.shape[1] // 10 :].mean(axis=1)


SHORTED = {("LD", "current"): 0.0, ("RS", "resistance"): 0.01}


def test_a_shorted_output_slows_the_clock() -> None:
    """To a fifth; and the mean stays near what one pulse of the least length can bring."""
    board = supply().resistor("RS", "OUT", GROUND, 1e6)
    course = following(board, 2e-3, {}, SHORTED, 1)
    assert settled(course, course.of("U", "frequency")) == pytest.approx(0.2 * 150e3, rel=1e-6)
    assert course.unknown("L", "current").max() < 1.1 * 4.5


def test_pulses_are_skipped_rather_than_shortened() -> None:
    """0.9 V of 27 V take 70 ns at 500 kHz; the least pulse is 200 ns.

    The output lies a little high: the amplifier's clamp forgets part of each overshoot.
    """
    least = 2e-7
    board = supply(CURRENT_MODE, volts=27.0, output=0.9, minimum_on_time=least)
    rest = quiescent(board.solve({("LD", "current"): 0.05}, 1), switched=True)
    times = np.linspace(0.0, 1e-3, 200001)
    course = transient(rest.model, rest.lanes, 1, times, start=rest.x)
    on = course.unknown("U", "on")[0][-40000:] > 0.5
    edges = np.flatnonzero(np.diff(on.astype(int)))
    rises, falls = edges[~on[edges]], edges[on[edges]]
    falls = falls[falls > rises[0]]
    lengths = (falls - rises[: falls.size]) * (times[1] - times[0])
    assert lengths.min() > 0.95 * least
    assert falls.size < 0.7 * 2e-4 * 500e3  # of 100 cycles
    assert course.potential("OUT")[0, -40000:].mean() == pytest.approx(0.93, abs=0.04)


def test_the_reference_rises_from_when_the_supply_is_there() -> None:
    """Fed after 0.5 ms: nothing before, half after half of the soft start, then the whole."""
    feeding = PiecewiseLinear(np.array([0.5e-3, 0.52e-3]), np.array([0.0, 14.0]))
    board = supply(CURRENT_MODE, foldback_share=1.0)
    course = following(board, 3e-3, {("V", "voltage"): feeding}, {("LD", "current"): 0.3}, 1)
    volts, times = course.potential("OUT")[0], course.times
    assert np.abs(volts[times < 0.5e-3]).max() < 1e-2
    halfway = np.argmin(np.abs(times - (0.507e-3 + 0.5e-3)))
    assert volts[halfway] == pytest.approx(2.5, abs=0.2)
    assert volts.max() < 5.0 * 1.06
    assert settled(course, volts[None])[0] == pytest.approx(5.0, rel=0.01)
    assert course.unknown("U", "ready")[0, -1] == 1.0


@pytest.mark.parametrize(("name", "working"), [(CLASSIC, 0.0), (CURRENT_MODE, 5.0)])
def test_the_enable_pin_stops_and_starts_it(name: str, working: float) -> None:
    idle = 5.0 - working
    toggled = PiecewiseLinear(np.array([0.0, 2e-3, 2.001e-3]), np.array([working, working, idle]))
    board = supply(name, enable=True)
    course = following(board, 4e-3, {("VE", "voltage"): toggled}, {("LD", "current"): 0.5}, 1)
    times, on = course.times, course.unknown("U", "on")[0]
    before = (times > 1.5e-3) & (times < 2e-3)
    assert course.potential("OUT")[0][before].mean() == pytest.approx(5.0, rel=0.05)
    assert on[before].mean() > 0.2
    assert np.all(on[times > 2.01e-3] == 0.0)
    own = -course.of("V", "current")[0, -1]
    assert abs(own) < 1.2 * board.nominal["U", "standby_current"] + 1e-5


def test_at_full_duty_the_switch_stays_closed() -> None:
    """5 V wanted of 5.2 V: without a duty limit it closes for good."""
    course = following(supply(volts=5.2), 6e-3, {}, {("LD", "current"): 0.5}, 1)
    last = course.times > 5e-3
    assert np.all(course.unknown("U", "on")[0][last] == 1.0)
    drop = 0.86 + 0.5 * (0.1 + 0.05)
    assert course.potential("OUT")[0, -1] == pytest.approx(5.2 - drop, abs=0.01)


def test_a_duty_limit_opens_it_in_every_cycle() -> None:
    board = supply(volts=5.2, duty_limit=0.9)
    course = following(board, 6e-3, {}, {("LD", "current"): 0.5}, 1)
    on = course.unknown("U", "on")[0]
    assert on[course.times > 5e-3].mean() == pytest.approx(0.9, abs=0.02)


def test_crossings_are_found_without_many_tries() -> None:
    """Guards with a time in them must not blunt the secant that locates their crossing."""
    rest = quiescent(supply().solve({}, 1), switched=True)
    times = np.linspace(0.0, 100 / 150e3, 3)
    course = transient(
        rest.model, rest.lanes, 1, times, start=rest.x, tolerance=Tolerance(1e-5, 1e-7)
    )
    assert course.rejected[0] < 0.3 * course.steps[0]


def test_without_slope_compensation_it_hunts_above_half_duty() -> None:
    """Erickson and Maksimovic, chapter 18: 5 V of 7 V, a duty of 0.75."""
    lanes = {("U", "slope_compensation"): np.array([0.3e6, 0.0])}
    _, found = both(supply(CURRENT_MODE, volts=7.0), lanes, 2)
    assert found.lasts.tolist() == [True, False]
    assert found.decays[1] or not found.solved[1]
