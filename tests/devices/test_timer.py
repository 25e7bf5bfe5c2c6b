"""Timers: truth table, levels and output stages as published, and times by their closed forms."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from numpy.typing import NDArray

from railwright.engine.states import steady_states
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Course, Tolerance, transient

Array = NDArray[np.float64]
POWERED = {"supply": "VCC", "ground": GROUND}
DRIVEN = ("TRIGGER", "THRESHOLD", "RESET")
SUPPLY = 5.0
IDEAL = {
    "threshold_current": 0.0,
    "trigger_current": 0.0,
    "reset_current": 0.0,
    "discharge_leakage": 1e-12,
    "discharge_voltage": 1e-3,
    "discharge_limit": 10.0,
    "propagation_delay": 1e-9,
}
STIFF: dict[str, Any] = {"resistance": 1e-3, "current_limit": 10.0}


def bench(name: str, volts: float = SUPPLY, control: bool = False) -> Board:
    """A timer whose inputs are driven."""
    board = Board().source("V", "VCC", volts, **STIFF)
    for net in DRIVEN:
        board.source(f"V{net}", net, 0.0).resistor(f"B{net}", net, GROUND, 1e4)
    pins = {"trigger": "TRIGGER", "threshold": "THRESHOLD", "reset": "RESET"}
    if control:
        pins["control"] = "CONTROL"
    board.use("U", name, {**pins, "discharge": "D", "output": "O", **POWERED})
    return board.resistor("RO", "O", GROUND, 1e5).resistor("RD", "VCC", "D", 1e4)


def driven(trigger: Any, threshold: Any, reset: Any = SUPPLY) -> dict[tuple[str, str], Any]:
    levels = zip(DRIVEN, (trigger, threshold, reset), strict=True)
    return {(f"V{net}", "voltage"): level for net, level in levels}


LOW, HIGH = {"trigger": SUPPLY, "threshold": SUPPLY}, {"trigger": 0.0, "threshold": 0.0}
"""Levels that make the output low and high."""


@pytest.mark.parametrize("name", ["555 type", "7555 type"])
def test_rests_as_its_truth_table_says(name: str) -> None:
    """Truth table in datasheets of the 7555 type, levels of 1/3 and 2/3 of the supply."""
    table = [  # trigger, threshold, reset; what it can be
        (0.0, 5.0, 0.0, [0]),
        (2.0, 4.0, 5.0, [0]),
        (2.0, 3.0, 5.0, [0, 1]),
        (1.3, 3.0, 5.0, [1]),
        (1.3, 4.0, 5.0, [1]),
    ]
    trigger, threshold, reset = np.array([row[:3] for row in table]).T
    lanes = driven(trigger, threshold, reset)
    states = steady_states(bench(name).model, lanes, len(table), directions=0)
    for lane, (*_, wanted) in enumerate(table):
        own = [k for k in states.of(lane) if states.verdict[k] == "stable"]
        assert sorted(states.points.of("U", "state")[own]) == pytest.approx(wanted, abs=1e-3)
        conducts = states.points.potential("D")[own] < 0.1
        assert np.array_equal(conducts, states.points.potential("O")[own] < 0.1)
    assert (states.balance == 1.0).all()


def test_control_voltage_is_published_and_moves_both_levels() -> None:
    """3.33 V at 5 V and 10 V at 15 V (datasheet table of the 555 type)."""
    board = bench("555 type", control=True)
    lanes = {("V", "voltage"): np.array([5.0, 15.0]), **driven(15.0, 0.0)}
    assert board.solve(lanes, 2).of("U", "control") == pytest.approx([3.33, 10.0], abs=0.01)
    board.source("VC", "CONTROL", 4.4, **STIFF)
    trigger = np.array([2.15, 2.25, 3.0, 3.0])
    threshold = np.array([0.0, 0.0, 4.35, 4.45])
    held = {("U", "free"): 0.0, ("U", "forced"): np.array([0.0, 0.0, 1.0, 1.0])}
    lanes = driven(trigger, threshold)
    freed = board.solve(lanes, 4, start=board.solve(lanes | held, 4))
    assert freed.of("U", "state") == pytest.approx([1.0, 0.0, 1.0, 0.0], abs=1e-3)


@pytest.mark.parametrize(("name", "volts", "state", "milliamperes", "output"), [
    ("555 type", 15.0, HIGH, 100.0, 13.3),
    ("555 type", 15.0, HIGH, 200.0, 12.5),
    ("555 type", 5.0, HIGH, 100.0, 3.3),
    ("555 type", 15.0, LOW, 50.0, 0.4),
    ("555 type", 15.0, LOW, 200.0, 2.5),
    ("7555 type", 5.0, HIGH, 0.8, 4.3),
    ("7555 type", 5.0, LOW, 3.2, 0.2),
])  # fmt: skip
def test_output_voltages_are_published(
    name: str, volts: float, state: dict[str, float], milliamperes: float, output: float
) -> None:
    """Typical values in datasheet tables of the 555 and 7555 types."""
    high = state is HIGH
    ohms = (output if high else volts - output) / (1e-3 * milliamperes)
    board = bench(name, volts).resistor("L", "O", GROUND if high else "VCC", ohms)
    levels = {pin: x * volts / SUPPLY for pin, x in state.items()}
    found = board.solve(driven(**levels, reset=volts)).potential("O")[0]
    lost = volts - output if high else output
    assert abs(found - output) < 0.06 * lost + 1e-3 * volts


def test_an_emitter_follower_takes_no_current_back() -> None:
    """With its output lifted above the supply less its drop a bipolar timer lets go of it."""
    taken = {}
    for name in ("555 type", "7555 type"):
        board = bench(name).source("VX", "X", 6.0).resistor("RX", "X", "O", 100.0)
        board.resistor("RV", "VCC", GROUND, 100.0)  # lets the supply sink
        taken[name] = (6.0 - board.solve(driven(**HIGH)).potential("O")[0]) / 100.0
    assert abs(taken["555 type"]) < 1e-4
    assert taken["7555 type"] > 5e-4  # through its conducting transistor


@pytest.mark.parametrize(("name", "volts", "milliamperes"), [
    ("555 type", 5.0, 3.0), ("555 type", 15.0, 10.0), ("7555 type", 5.0, 0.04),
    ("7555 type", 15.0, 0.06),
])  # fmt: skip
def test_own_current_is_published(name: str, volts: float, milliamperes: float) -> None:
    """Datasheet tables of both types (that of the 7555 type from memory); the divider included."""
    board = bench(name, volts)
    at = board.solve(driven(0.0, 0.0, volts) | {("RO", "resistance"): 1e12})
    found = at.of("U", "power")[0] / volts
    assert found == pytest.approx(1e-3 * milliamperes, rel=0.2)


# In time


def course(board: Board, times: Array, **levels: PiecewiseLinear) -> Course:
    model = replace(board.model, topology=replace(board.topology, isothermal=True))
    stimuli = {(f"V{net}", "voltage"): level for net, level in levels.items()}
    found = transient(model, {}, 1, times, stimuli=stimuli, tolerance=Tolerance(1e-6, 1e-8))
    assert found.solved.all()
    return found


def passes(times: Array, values: Array, level: float) -> Array:
    """Instants at which a course passes a level."""
    at = np.flatnonzero((values[1:] > level) != (values[:-1] > level))
    share = (level - values[at]) / (values[at + 1] - values[at])
    return np.asarray(times[at] + share * (times[at + 1] - times[at]))


def astable(name: str, ra: float, rb: float, c: float, **values: float) -> Board:
    """Two resistors in series charge a capacitor, the lower one discharges it."""
    board = Board().source("V", "VCC", SUPPLY, **STIFF)
    board.resistor("RA", "VCC", "D", ra).resistor("RB", "D", "T", rb)
    board.part("C", "capacitor", {"plus": "T", "minus": GROUND}, capacitance=c, leakage=0.0)
    pins = {"trigger": "T", "threshold": "T", "reset": "VCC", "discharge": "D", "output": "O"}
    return board.use("U", name, {**pins, **POWERED}, **values).resistor("L", "O", GROUND, 1e5)


def period(board: Board, expected: float) -> float:
    """Length of the third and fourth cycle together, halved [s]."""
    times = np.linspace(0.0, 6.0 * expected, 6001)
    found = course(board, times)
    at = passes(times, found.potential("T")[0], 0.5 * SUPPLY)
    return float(0.5 * (at[7] - at[3]))


@pytest.mark.parametrize(("ra", "rb", "c"), [(1e4, 1e4, 1e-7), (1e3, 4.7e4, 1e-8)])
def test_an_ideal_astable_has_its_closed_form(ra: float, rb: float, c: float) -> None:
    """T = ln 2 (RA + 2 RB) C: from one third to two thirds and back."""
    wanted = np.log(2.0) * (ra + 2.0 * rb) * c
    assert period(astable("555 type", ra, rb, c, **IDEAL), wanted) == pytest.approx(
        wanted, rel=4e-4
    )


@pytest.mark.parametrize("name", ["555 type", "7555 type"])
def test_an_astable_has_its_published_frequency(name: str) -> None:
    """f = 1.44 / ((RA + 2 RB) C) within 1 % (datasheets of both types, initial accuracy)."""
    expected = (1e4 + 2.0 * 1e4) * 1e-7 / 1.44
    assert period(astable(name, 1e4, 1e4, 1e-7), expected) == pytest.approx(expected, rel=0.01)


def test_a_monostable_has_its_published_time_and_ignores_a_second_trigger() -> None:
    """t = 1.1 R C (datasheet of the 555 type); in closed form ln 3 R C."""
    ohms, farads, begin = 9.1e3, 1e-7, 2e-4
    board = Board().source("V", "VCC", SUPPLY, **STIFF).resistor("R", "VCC", "T", ohms)
    board.part("C", "capacitor", {"plus": "T", "minus": GROUND}, capacitance=farads, leakage=0.0)
    board.source("VG", "G", SUPPLY).resistor("BG", "G", GROUND, 1e4)
    pins = {"trigger": "G", "threshold": "T", "reset": "VCC", "discharge": "T", "output": "O"}
    board.use("U", "555 type", {**pins, **POWERED}).resistor("L", "O", GROUND, 1e5)
    corners = np.array([0.0, 1.0, 1.001, 1.02, 1.021, 2.0, 2.001, 2.02, 2.021]) * begin
    levels = SUPPLY * np.array([1, 1, 0, 0, 1, 1, 0, 0, 1.0])
    times = np.linspace(0.0, 2e-3, 4001)
    output = course(board, times, G=PiecewiseLinear(corners, levels)).potential("O")[0]
    at = passes(times, output, 0.5 * SUPPLY)
    assert at.size == 2
    assert at[1] - at[0] == pytest.approx(1.1 * ohms * farads, rel=0.01)
    assert at[1] - at[0] == pytest.approx(np.log(3.0) * ohms * farads, rel=5e-3)


def test_an_astable_rests_nowhere() -> None:
    states = steady_states(astable("555 type", 1e4, 1e4, 1e-7).model, {}, 1, directions=0)
    assert states.verdict == ("unstable",)
    assert (states.balance == 1.0).all()
