"""The step-up and the inverting regulator: textbook, averages against cycles, protections.

Textbook: Erickson and Maksimovic, Fundamentals of Power Electronics.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board, crossed
from devices.stage_boards import (
    COIL_ENDS,
    DIODES,
    FAST_STEP_UP,
    INVERTING,
    PINS,
    STEP_UP,
    both,
    mean,
    supply,
)
from outside.ideal import COIL, COOL, STEP_DOWN
from published import Row, published

from railwright.devices.arithmetic import ROOM, thermal_voltage
from railwright.engine.cycle import Cycle, cycle
from railwright.engine.linear import Linear, linearise
from railwright.engine.model import Model
from railwright.engine.operating_point import OperatingPoints
from railwright.engine.poles import poles
from railwright.engine.ports import Given, Potential
from railwright.engine.quiescent import quiescent
from railwright.engine.response import response
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance, transient

UP, DOWN = "step-up-regulator", "inverting-regulator"
VOLTAGE, CURRENT = "voltage-mode", "peak-current-mode"
both_kinds = pytest.mark.parametrize("kind", [UP, DOWN])
SOURCE_VOLTS = 100.0
FORWARD = 0.3  # V; of the diode at 1 A


def ideal(
    kind: str,
    duty: float,
    volts: float = SOURCE_VOLTS,
    inductance: float = 5e-5,
    frequency: float = 1e5,
    forward: float = FORWARD,
) -> Board:
    """The stage without losses and with its loop wide open: the duty is the greatest there is."""
    known = {k: v for k, v in STEP_DOWN.items() if k not in COOL}
    known |= {"reference": 1.0, "duty_limit": duty, "frequency": frequency, "current_limit": 1e6}
    known |= {"compensation_pole": 0.1, "compensation_zero": 1e6}
    known |= {"enable_threshold": 1.3, "supply_minimum": 1.0}
    known |= {"junction_to_case": 1.0, "junction_to_ambient": 10.0}
    board = Board().source("V", "IN", volts, resistance=1e-6, current_limit=1e6)
    board.part("U", kind, PINS | {"feedback": GROUND}, **known)
    board.nominal |= {("U", "noise_voltage"): 0.0, ("U", "noise_corner"): 0.0}
    board.part("L", "inductor", COIL_ENDS[kind], inductance=inductance, **COIL)
    own = {"forward_voltage": forward, "test_current": 1.0, "series_resistance": 1e-6, **COOL}
    own |= {"ideality": 1.0, "junction_capacitance": 0.0, "transit_time": 0.0}
    return board.part("D", "diode", DIODES[kind], **own)


def stepped(points: OperatingPoints) -> float:
    """Output plus the diode's drop: what an ideal diode would leave [V]."""
    drop = FORWARD + thermal_voltage(ROOM) * np.log(points.of("U", "coil_current")[0])
    return float(abs(points.potential("OUT")[0]) + drop)


def ratio(kind: str, duty: float, k: float) -> tuple[float, float]:
    """Stepped voltage over input, and the exact 2 L f / R, with a load near that k."""
    load = 2.0 * 5e-5 * 1e5 / k
    found = ideal(kind, duty).resistor("R", "OUT", GROUND, load).solve()
    volts = stepped(found)
    return volts / SOURCE_VOLTS, 10.0 * found.of("U", "diode_current")[0] / volts


@pytest.mark.parametrize("duty", [0.2, 0.5, 0.8])
def test_ratios_in_continuous_conduction(duty: float) -> None:
    """1 / (1 - D) and D / (1 - D): chapter 2."""
    assert ratio(UP, duty, 1.0)[0] == pytest.approx(1.0 / (1.0 - duty), rel=1e-3)
    assert ratio(DOWN, duty, 2.0)[0] == pytest.approx(duty / (1.0 - duty), rel=1e-3)


@pytest.mark.parametrize("duty", [0.2, 0.5, 0.8])
@pytest.mark.parametrize("near", [0.005, 0.02])
def test_ratios_in_discontinuous_conduction(duty: float, near: float) -> None:
    """(1 + sqrt(1 + 4 D^2 / K)) / 2 and D / sqrt(K): table 5.2."""
    found, k = ratio(UP, duty, near)
    assert found == pytest.approx(0.5 * (1.0 + np.sqrt(1.0 + 4.0 * duty**2 / k)), rel=1e-3)
    found, k = ratio(DOWN, duty, near)
    assert found == pytest.approx(duty / np.sqrt(k), rel=1e-3)


@pytest.mark.parametrize("row", published("critical K of an indirect regulator"), ids=str)
def test_critical_k(row: Row) -> None:
    """The load at which the peak is just twice the mean of the coil current."""
    kind = row.inputs["kind"]
    high, low = ("OUT", GROUND) if kind == UP else (GROUND, "OUT")
    board = ideal(kind, row.inputs["duty"]).load("LD", high, 1.0, minus=low)
    busy = {("U", "coil_peak"): 1.0, ("U", "coil_current"): -2.0}
    board.cross("LD", "current", *busy)
    begin = board.solve({("", "given LD.current"): 20.0})
    found = board.solve(crossed("LD", "current", busy), start=begin)
    load = stepped(found) / found.of("U", "diode_current")[0]
    assert 2.0 * 5e-5 * 1e5 / load == row.expected_within_its_tolerance


@cache
def small_signals(
    kind: str,
    duty: float,
    load: float,
    input: float,
    coil: float,
    capacitor: float,
    esr: float = 1e-4,
) -> Linear:
    board = ideal(kind, duty, input, coil, 1e6, 0.05).resistor("R", "OUT", GROUND, load)
    high, low = ("OUT", GROUND) if kind == UP else (GROUND, "OUT")
    own = {"capacitance": capacitor, "esr": esr, "leakage": 0.0}
    board.part("C", "capacitor", {"plus": high, "minus": low}, **own)
    return linearise(quiescent(board.solve()))


def duty_gain(linear: Linear, frequency: float = 0.0) -> complex:
    cause = Given("U", "duty_limit")
    found = response(linear, cause, Potential("OUT", GROUND), np.array([frequency]))
    return complex(found.value[0, 0])


def right_half_plane_zero(linear: Linear) -> float:
    """What is left of the response without its poles is 1 - j f / f_zero [Hz]."""
    natural = poles(linear)
    one, two = natural.value[0, np.flatnonzero(natural.value[0].imag != 0.0)]
    f = 5e3
    s = 2j * np.pi * f
    left = duty_gain(linear, f) / duty_gain(linear) * (1.0 - s / one) * (1.0 - s / two)
    return -f / left.imag


@pytest.mark.parametrize(("duty", "load"), [(0.4, 10.0), (0.6, 10.0), (0.6, 20.0)])
def test_the_step_up_has_its_zero_in_the_right_half_plane(duty: float, load: float) -> None:
    """w = D'^2 R / L, duty gain Vin / D'^2, corner D' / sqrt(L C): table 8.2."""
    linear = small_signals(UP, duty, load, 60.0, 1.6e-4, 1.6e-4, esr=1e-3)
    rest = 1.0 - duty
    zero = rest * rest * load / (2.0 * np.pi * 1.6e-4)
    assert right_half_plane_zero(linear) == pytest.approx(zero, rel=0.01)
    assert duty_gain(linear).real == pytest.approx(60.0 / rest**2, rel=0.01)
    natural = poles(linear)
    ringing = np.flatnonzero(natural.value[0].imag != 0.0)
    corner = rest / (2.0 * np.pi * 1.6e-4)
    assert natural.frequency[0, ringing[0]] == pytest.approx(corner, rel=0.01)


@pytest.mark.parametrize("row", published("buck-boost stage"), ids=str)
def test_the_textbooks_inverting_stage(row: Row) -> None:
    inputs = {k: v for k, v in row.inputs.items() if k != "of"}
    linear = small_signals(DOWN, **inputs)
    natural = poles(linear)
    ringing = np.flatnonzero(natural.value[0].imag != 0.0)
    match row.inputs["of"]:
        case "line gain":
            cause = Given("V", "voltage")
            found = response(linear, cause, Potential("OUT", GROUND), np.zeros(1)).value[0, 0]
            value = -complex(found).real
        case "duty gain":
            value = -duty_gain(linear).real
        case "corner":
            value = natural.frequency[0, ringing[0]]
        case "quality":
            value = 0.5 / natural.damping[0, ringing[0]]
        case "zero":
            value = right_half_plane_zero(linear)
    assert value == row.expected_within_its_tolerance


GRIDS = {
    "classic, current": (STEP_UP, CURRENT, 5.0, (8.0, 12.0, 20.0), (0.02, 0.05, 0.1, 0.2, 0.6)),
    "classic, voltage": (STEP_UP, VOLTAGE, 5.0, (8.0, 12.0, 20.0), (0.02, 0.05, 0.1, 0.2, 0.6)),
    "fast": (FAST_STEP_UP, CURRENT, 5.0, (8.0, 10.0, 12.0), (0.03, 0.05, 0.1, 0.2, 0.45)),
    "inverting, current": (INVERTING, CURRENT, 12.0, (3.3, 5.0, 12.0), (0.01, 0.03, 0.1, 0.3, 0.6)),
    "inverting, voltage": (INVERTING, VOLTAGE, 12.0, (3.3, 5.0, 12.0), (0.01, 0.03, 0.1, 0.3, 0.6)),
}


@pytest.fixture(params=GRIDS, scope="module")
def grid(request: pytest.FixtureRequest) -> tuple[OperatingPoints, Cycle]:
    """Averages and cycles over settings and loads."""
    name, control, volts, settings, loads = GRIDS[request.param]
    board = supply(name, volts, settings[0], control)
    outputs, currents = (a.ravel() for a in np.meshgrid(settings, loads))
    upper = (outputs / board.nominal["U", "reference"] - 1.0) * 1e3
    lanes = {("R2", "resistance"): upper, ("LD", "current"): currents}
    return both(board, lanes, outputs.size)


class TestAveragesAreThoseOfTheCycles:
    """Over settings and loads from deep discontinuous to continuous conduction, to 1 %."""

    def test_they_agree(self, grid: tuple[OperatingPoints, Cycle]) -> None:
        points, found = grid
        assert found.solved.all()
        regime = points.of("U", "continuous")
        assert (regime < 0.01).sum() >= 4
        assert (regime > 0.99).sum() >= 4
        assert mean(found.potential("OUT")) == pytest.approx(points.potential("OUT"), rel=1e-3)
        coil = np.abs(found.unknown("L", "current"))
        assert mean(coil) == pytest.approx(points.of("U", "coil_current"), rel=0.01)
        assert coil.max(axis=1) == pytest.approx(points.of("U", "coil_peak"), rel=0.01)
        diode = mean(found.of("D", "current"))
        assert diode == pytest.approx(points.of("U", "diode_current"), rel=0.01)

    def test_the_input_gives_what_the_averages_say(
        self, grid: tuple[OperatingPoints, Cycle]
    ) -> None:
        """A narrow pulse is known as well as it is sampled: to a 2000th of the cycle."""
        points, found = grid
        wanted, cycles = points.of("V", "current"), mean(found.of("V", "current"))
        assert cycles == pytest.approx(wanted, rel=0.01, abs=5e-4)

    def test_the_regime_is_the_same(self, grid: tuple[OperatingPoints, Cycle]) -> None:
        points, found = grid
        idle = (np.abs(found.unknown("L", "current")) < 1e-3).mean(axis=1)
        regime = points.of("U", "continuous")
        assert np.all(idle[regime > 0.99] == 0.0)
        assert np.all(idle[regime < 0.01] > 0.0)

    def test_energy_balances_including_the_diode(self, grid: tuple[OperatingPoints, Cycle]) -> None:
        """The diode's heat is what its junction hands on to the air."""
        points, _ = grid
        total = sum(points.of(ref, "power") for ref in ("V", "U", "L", "R1", "R2", "LD"))
        board = supply(STEP_UP, 5.0, 8.0)
        to_air = board.nominal["D", "junction_to_ambient"]
        diode = (points.of("D", "junction") - 298.15) / to_air
        assert np.all(diode > 0.0)
        assert total + diode == pytest.approx(np.zeros(diode.size), abs=1e-5)


@pytest.mark.parametrize(
    ("name", "volts", "output"), [(STEP_UP, 5.0, 12.0), (INVERTING, 12.0, 5.0)]
)
def test_every_cycle_ends_at_the_current_limit(name: str, volts: float, output: float) -> None:
    """Overloaded in voltage mode, but not so far that a step-up's output falls to its input."""
    board = supply(name, volts, output, VOLTAGE, foldback_voltage=0.0)
    limit = board.nominal["U", "current_limit"]
    full = 0.5 * limit * (volts / (volts + output) if name == INVERTING else volts / output)
    heavy = output / (np.array([1.4, 1.6]) * 2.0 * full)
    board.resistor("RO", "OUT", GROUND, 1.0)
    points, found = both(board, {("LD", "current"): 0.0, ("RO", "resistance"): heavy}, 2)
    assert np.all(points.of("U", "demanded_peak") > limit + 0.1)
    assert points.of("U", "coil_peak") == pytest.approx(np.full(2, limit), rel=2e-3)
    assert np.all(np.abs(points.potential("OUT")) < 0.95 * output)
    assert found.solved.all()
    peak = np.abs(found.unknown("L", "current")).max(axis=1)
    assert peak == pytest.approx(limit, rel=2e-3)
    assert mean(found.potential("OUT")) == pytest.approx(points.potential("OUT"), rel=0.01)


def test_what_the_shortest_pulse_gives_too_much_of_is_made_up_for_by_ticks_without_one() -> None:
    """In current mode no pulse is shorter than 2 µs in which its current is not seen.

    Each gives the charge (V t / L)² L / (2 (Vout + Vd - V)): the legs, which are all of the load,
    want but a third of it. Lossless in the closed form.
    """
    board = supply(STEP_UP, 5.0, 12.0, blanking_time=2e-6)
    points = board.solve({("LD", "current"): 0.0})
    clock = board.nominal["U", "frequency"]
    assert points.of("U", "duty_least")[0] == pytest.approx(2e-6 * clock)
    rest = quiescent(points, switched=True)
    how: dict[str, Any] = {"phases": 128, "tolerance": Tolerance(1e-3, 1e-6)}
    found = cycle(rest.model, rest.lanes, 1, rest.x, clock=("U", "tick"), **how)
    assert not found.solved.any()
    (stretch,) = found.followed(64, [("U", "coil_peak"), ("OUT", "")])
    pulses = np.count_nonzero(stretch.of("U", "coil_peak")[0, 127::128] > 0.0)
    peak = 5.0 * 2e-6 / 100e-6
    charge = peak**2 * 100e-6 / (2.0 * (12.0 + 0.3 - 5.0))
    wanted = 12.0 / (12.0 / board.nominal["U", "reference"] * 1e3)
    assert pulses == pytest.approx(64.0 * wanted / (charge * clock), rel=0.15)
    assert stretch.period[0] == pytest.approx(64.0 / clock)
    assert stretch.potential("OUT")[0] == pytest.approx(12.0, rel=0.01)


def test_an_input_above_the_output_goes_past_the_switch() -> None:
    """The diode carries the current once: its drop is the one at the whole current."""
    board = supply(STEP_UP, 15.0, 12.0)
    points = board.solve({("LD", "current"): np.array([0.1, 1.0])}, 2)
    loose = supply(STEP_UP, 15.0, 12.0)
    loose.parts = [p for p in loose.parts if p.ref != "U"]
    wanted = loose.solve({("LD", "current"): np.array([0.1, 1.0])}, 2)
    assert np.all(points.of("U", "duty") < 1e-3)
    assert points.potential("OUT") == pytest.approx(wanted.potential("OUT"), abs=3e-3)
    assert points.of("D", "junction") == pytest.approx(wanted.of("D", "junction"), abs=0.1)


@both_kinds
def test_disabled_it_rests(kind: str) -> None:
    name, volts, output = (STEP_UP, 5.0, 12.0) if kind == UP else (INVERTING, 12.0, 5.0)
    board = supply(name, volts, output, enable=True).resistor("RO", "OUT", GROUND, 1e3)
    lanes = {("LD", "current"): 0.0, ("VE", "voltage"): np.array([0.0, 5.0])}
    points, found = both(board, lanes, 2)
    left = 5.0 - 0.2 if kind == UP else 0.0
    assert abs(points.potential("OUT")[0]) == pytest.approx(left, abs=0.2)
    assert abs(points.potential("OUT")[1]) == pytest.approx(output, rel=0.01)
    assert points.of("U", "enabled").tolist() == [0.0, 1.0]
    assert mean(found.potential("OUT")) == pytest.approx(points.potential("OUT"), abs=0.05)


@both_kinds
def test_an_input_that_is_not_fed_does_not_switch(kind: str) -> None:
    name = STEP_UP if kind == UP else INVERTING
    points = supply(name, 0.0, 5.0).solve({("LD", "current"): 0.0})
    assert points.of("U", "duty")[0] < 1e-6
    assert abs(points.potential("OUT")[0]) < 1e-3


@both_kinds
@pytest.mark.parametrize("missing", ["D", "L"])
def test_without_coil_or_diode_nothing_comes_out(kind: str, missing: str) -> None:
    """The loop asks for all it can get; what flows stays below the current limit."""
    name, volts, output = (STEP_UP, 5.0, 12.0) if kind == UP else (INVERTING, 12.0, 5.0)
    board = supply(name, volts, output).resistor("RO", "OUT", GROUND, 1e3)
    board.parts = [p for p in board.parts if p.ref != missing]
    points = board.solve({("LD", "current"): 0.0})
    assert abs(points.potential("OUT")[0]) < 0.01
    assert points.of("U", "coil_current")[0] < 1.01 * board.nominal["U", "current_limit"]
    assert points.of("U", "power")[0] > 0.0


@both_kinds
def test_the_reference_rises_from_when_the_supply_is_there(kind: str) -> None:
    """Fed after 0.2 ms: the output comes up within the soft start, without going far beyond."""
    name, volts, output = (FAST_STEP_UP, 5.0, 12.0) if kind == UP else (INVERTING, 12.0, 5.0)
    board = supply(name, volts, output, soft_start_time=2e-3)
    topology = replace(board.model.topology, isothermal=True, switched=True)
    model = Model(topology, board.nominal)
    feeding = PiecewiseLinear(np.array([0.2e-3, 0.3e-3]), np.array([0.0, volts]))
    lanes: dict[Any, Any] = {("LD", "current"): 0.1}
    times = np.linspace(0.0, 4e-3, 2001)
    course = transient(model, lanes, 1, times, stimuli={("V", "voltage"): feeding})
    assert course.solved.all(), course.outcomes
    size = np.abs(course.potential("OUT")[0])
    assert size[times > 0.3e-3].min() < 0.5 * output
    assert size.max() < 1.06 * output
    assert size[-200:].mean() == pytest.approx(output, rel=0.01)
    assert course.unknown("U", "ready")[0, -1] == 1.0


def test_means_come_up_slowly_through_duties_beyond_a_half() -> None:
    """A peak that is commanded sets one duty only: with (V - Von) / L as the rise, D T of it."""
    board = supply(STEP_UP, 5.0, 12.0)
    rest = quiescent(board.solve({("V", "voltage"): 0.0, ("LD", "current"): 0.4}))
    rising = PiecewiseLinear(np.array([0.0, 0.05]), np.array([0.0, 5.0]))
    course = transient(
        *(rest.model, rest.lanes, 1, np.linspace(0.0, 0.1, 51), rest.x),
        {("V", "voltage"): rising},
        Tolerance(1e-3, 1e-5),
        [("OUT", ""), ("U", "duty")],
        most_steps=2e3,
    )
    assert course.solved.all(), course.outcomes
    assert course.of("U", "duty")[0].max() > 0.8
    assert course.potential("OUT")[0, -1] == pytest.approx(12.0, rel=2e-3)
