"""Latches and flip-flops: their truth tables, what they remember, and when they turn over."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from numpy.typing import NDArray

from railwright.engine.states import SteadyStates, steady_states
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Course, transient

Array = NDArray[np.float64]
SUPPLY = 10.0
LATCH = {"set": "S", "reset": "R", "output": "Q"}
FLIP_FLOP = {"data": "D", "clock": "C", "set": "S", "reset": "R", "output": "Q", "inverted": "N"}
TOGGLE = {**FLIP_FLOP, "set": GROUND, "data": "N"}
DELAY, SETUP = 120e-9, 20e-9
"""Typical ones of the 4013 type, as in the catalogue."""


def board(name: str, pins: Mapping[str, str], driven: str) -> Board:
    """The part at 10 V with a source at each of the nets in `driven`."""
    made = Board().source("V", "VCC", SUPPLY)
    for net in driven:
        made.source(f"V{net}", net, 0.0).resistor(f"B{net}", net, GROUND, 1e3)
    made.use("U", name, {**pins, "supply": "VCC", "ground": GROUND})
    for pin in ("output", "inverted"):
        if pin in pins:
            made.resistor(f"L{pin}", pins[pin], GROUND, 1e6)
    return made


def rests(made: Board, levels: Mapping[str, Any], count: int) -> SteadyStates:
    """Every steady state with the nets at these levels, 0 or 1."""
    lanes = {(f"V{net}", "voltage"): SUPPLY * np.asarray(x, float) for net, x in levels.items()}
    return steady_states(made.model, lanes, count, directions=0)


def kept(states: SteadyStates, net: str, lane: int) -> list[float]:
    """What a net is at in the stable states of a lane, as a share of the supply."""
    own = [k for k in states.of(lane) if states.verdict[k] == "stable"]
    return sorted(float(round(x, 2)) for x in states.points.potential(net)[own] / SUPPLY)


@pytest.mark.parametrize(
    ("name", "table"),
    [  # set, reset -> output; truth tables in datasheets of the 4043 and 4044 types
        ("4043 type", {(0, 0): [0, 1], (1, 0): [1], (0, 1): [0], (1, 1): [1]}),
        ("4044 type", {(1, 1): [0, 1], (0, 1): [1], (1, 0): [0], (0, 0): [0]}),
    ],
)
def test_latch_rests_as_its_truth_table_says(name: str, table: dict[Any, list[float]]) -> None:
    levels = dict(zip("SR", np.array(list(table)).T, strict=True))
    states = rests(board(name, LATCH, "SR"), levels, len(table))
    for lane, outputs in enumerate(table.values()):
        assert kept(states, "Q", lane) == pytest.approx(outputs, abs=0.01)
    assert (states.balance == 1.0).all()


def test_a_disabled_latch_lets_its_output_go_and_keeps_its_state() -> None:
    made = board("4043 type", {**LATCH, "enable": "E"}, "SRE")
    lanes = {
        ("VS", "voltage"): SUPPLY,
        ("VE", "voltage"): np.array([SUPPLY, 0.0]),
        ("Loutput", "resistance"): 1e5,
    }
    found = made.solve(lanes, 2)
    assert found.of("U", "state") == pytest.approx([1.0, 1.0], abs=1e-3)
    assert found.potential("Q")[0] == pytest.approx(SUPPLY, abs=0.05)
    assert 0.0 < found.potential("Q")[1] < 0.01  # 0.1 µA through 100 kΩ (datasheet, from memory)


def test_flip_flop_obeys_set_and_reset_at_any_clock() -> None:
    """Truth table in datasheets of the 4013 type: with both active, both outputs are high."""
    made = board("4013 type", FLIP_FLOP, "DCSR")
    cases = np.array([(c, s, r) for c in (0, 1) for s, r in ((1, 0), (0, 1), (1, 1))]).T
    levels = {"D": np.zeros(6), **dict(zip("CSR", cases, strict=True))}
    states = rests(made, levels, 6)
    for lane in range(6):
        _, active, cleared = cases[:, lane]
        assert kept(states, "Q", lane) == pytest.approx([active], abs=0.01)
        assert kept(states, "N", lane) == pytest.approx([cleared], abs=0.01)


def test_power_up_leaves_a_flip_flop_in_either_state() -> None:
    """With neither set nor reset both states are steady, at any level of data and clock."""
    levels = {"D": [0, 1, 0, 1], "C": [0, 0, 1, 1], "S": [0] * 4, "R": [0] * 4}
    states = rests(board("4013 type", FLIP_FLOP, "DCSR"), levels, 4)
    for lane in range(4):
        assert kept(states, "Q", lane) == pytest.approx([0.0, 1.0], abs=0.01)
        own = states.of(lane)
        assert sorted(states.verdict[k] for k in own) == ["stable", "stable", "unstable"]
    assert (states.balance == 1.0).all()


@pytest.mark.parametrize("name", ["4013 type", "4043 type"])
def test_without_supply_nothing_comes_out_and_nothing_is_remembered(name: str) -> None:
    pins = FLIP_FLOP if name == "4013 type" else LATCH
    states = steady_states(board(name, pins, "SR").model, {("V", "voltage"): 0.0}, 1, directions=0)
    assert states.points.count == 1
    assert abs(states.points.potential("Q")[0]) < 1e-6


# In time


def steps(*edges: float, low: float = 0.0, high: float = SUPPLY) -> PiecewiseLinear:
    """From low to high and back again at each edge, within a nanosecond."""
    times, values = [0.0], [low]
    for number, edge in enumerate(edges):
        times += [edge, edge + 1e-9]
        values += [(low, high)[number % 2], (high, low)[number % 2]]
    return PiecewiseLinear(np.array(times), np.array(values))


def course(made: Board, end: float, count: int = 1, **levels: PiecewiseLinear) -> Course:
    model = replace(made.model, topology=replace(made.topology, isothermal=True))
    stimuli = {(f"V{net}", "voltage"): level for net, level in levels.items()}
    found = transient(model, {}, count, np.linspace(0.0, end, 1001), stimuli=stimuli)
    assert found.solved.all()
    return found


def turns(found: Course, net: str, lane: int = 0) -> tuple[Array, list[bool]]:
    """When a net passes half the supply, and whether it rises."""
    high = found.potential(net)[lane] > 0.5 * SUPPLY
    at = np.flatnonzero(high[1:] != high[:-1]) + 1
    return found.times[at], high[at].tolist()


RESET_FIRST = steps(3e-7, low=SUPPLY, high=0.0)


def test_a_flip_flop_on_its_own_inverted_output_halves_the_clock() -> None:
    """Application in datasheets of the 4013 type: it turns over at every rising edge."""
    period = 1e-6
    clock = steps(*(period * np.arange(1.0, 6.0, 0.5)))
    found = course(board("4013 type", TOGGLE, "CR"), 6e-6, C=clock, R=RESET_FIRST)
    at, rising = turns(found, "Q")
    assert at == pytest.approx(period * np.arange(1, 6) + DELAY, abs=0.1 * DELAY)
    assert rising == [True, False, True, False, True]
    other, falling = turns(found, "N")
    assert other[-5:] == pytest.approx(at, abs=0.1 * DELAY)
    assert falling[-5:] == [not rises for rises in rising]


def test_data_must_stand_for_the_set_up_time() -> None:
    edge = 1e-6
    before = np.array([10.0, 2.0, 1.1, 0.9, 0.5, 0.0, -2.0]) * SETUP
    times = np.stack([np.zeros(7), edge - before, edge - before + 1e-9], axis=1)
    data = PiecewiseLinear(times, np.tile([0.0, 0.0, SUPPLY], (7, 1)))
    made = board("4013 type", {**FLIP_FLOP, "set": GROUND}, "DCR")
    found = course(made, 1.5e-6, 7, C=steps(edge), D=data, R=RESET_FIRST)
    taken = found.potential("Q")[:, -1] / SUPPLY
    assert taken == pytest.approx([1, 1, 1, 0, 0, 0, 0], abs=0.01)
    assert turns(found, "Q")[0] - edge == pytest.approx([DELAY], rel=0.1)


@pytest.mark.parametrize("rise", [1e-6, 1e-4])
def test_a_slow_clock_lets_no_data_through(rise: float) -> None:
    """Data that change while the clock is on its way are those of the next edge."""
    begin = 1e-6
    clock = PiecewiseLinear(np.array([0.0, begin, begin + rise]), np.array([0.0, 0.0, SUPPLY]))
    data = steps(begin + 0.5 * rise)
    made = board("4013 type", {**FLIP_FLOP, "set": GROUND}, "DCR")
    found = course(made, 2e-6 + rise, C=clock, D=data, R=RESET_FIRST)
    assert abs(found.potential("Q")[0, -1]) < 0.01


def test_a_pulse_is_remembered_and_a_shorter_one_than_the_delay_is_not() -> None:
    made = board("4043 type", LATCH, "SR")
    width = np.array([0.3, 0.8, 1.2, 3.0]) * DELAY
    times = np.stack([0 * width, 1e-6 + 0 * width, 1e-6 + width, 1.001e-6 + width], axis=1)
    times = np.insert(times, 2, times[:, 1] + 1e-9, axis=1)
    pulse = PiecewiseLinear(times, np.tile([0.0, 0.0, SUPPLY, SUPPLY, 0.0], (4, 1)))
    found = course(made, 3e-6, 4, S=pulse, R=RESET_FIRST)
    taken = found.potential("Q")[:, -1] / SUPPLY
    assert taken == pytest.approx([0, 0, 1, 1], abs=0.01)


def test_a_resistor_and_a_capacitor_at_the_reset_make_a_single_pulse() -> None:
    """t = R C ln(1 / (1 - threshold)): the capacitor charges from the output up to there."""
    ohms, farads, edge = 1e5, 1e-9, 5e-4
    made = board("4013 type", {**FLIP_FLOP, "set": GROUND, "data": "VCC"}, "C")
    made.resistor("RT", "Q", "R", ohms)
    made.part("CT", "capacitor", {"plus": "R", "minus": GROUND}, capacitance=farads, leakage=0.0)
    made.nominal["U", "input_leakage"] = 0.0
    found = course(made, 1e-3, C=steps(edge))
    at, rising = turns(found, "Q")
    assert rising[-2:] == [True, False]
    assert at[-1] - at[-2] == pytest.approx(np.log(2.0) * ohms * farads, rel=0.03)


@pytest.mark.parametrize(("part", "high", "milliamperes"), [
    ("4049 type", False, 5.0), ("4049 type", True, 1.6), ("4050 type", False, 5.0),
])  # fmt: skip
def test_buffers_give_their_published_currents(part: str, high: bool, milliamperes: float) -> None:
    """Typical currents at 5 V with 0.4 V lost (datasheet table of the 4049 and 4050 types)."""
    made = Board().source("V", "VCC", 5.0).source("VA", "A", 0.0).resistor("B", "A", GROUND, 1e3)
    made.use("G", part, {"a": "A", "output": "O", "supply": "VCC", "ground": GROUND})
    made.resistor("L", "O", GROUND if high else "VCC", 4.6 / (1e-3 * milliamperes))
    driven = 5.0 * (high == (part == "4050 type"))
    lost = made.solve({("VA", "voltage"): driven}).potential("O")[0]
    assert (5.0 - lost if high else lost) == pytest.approx(0.4, rel=0.05)
