"""Courses in time against exact solutions, and what they may not lose."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from engine.conservation import imbalance, lost
from engine.ideal_parts import (
    CoupledCoils,
    ExponentialDiode,
    IdealBoard,
    IdealCapacitor,
    IdealInductor,
    IdealRectifier,
    IdealSource,
    SlopedRectifier,
)
from engine.textbook_circuits import (
    NO_LEAK,
    low_pass,
    series_circuit,
    step_of_the_series_circuit,
)
from numpy.typing import NDArray
from scipy.linalg import expm
from scipy.optimize import brentq

from railwright.devices.inductor import BEND
from railwright.engine.model import Model
from railwright.engine.operating_point import operating_point
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Course, Tolerance, transient

Array = NDArray[np.float64]
EXACT = Tolerance(1e-9, 1e-12)


def isothermal(board: Board) -> Model:
    return replace(board.model, topology=replace(board.topology, isothermal=True))


def jump(volts: float) -> PiecewiseLinear:
    return PiecewiseLinear(np.zeros(2), np.array([0.0, volts]))


STEP = {("V", "voltage"): jump(1.0)}


def followed(board: Board, times: Array, **how: Any) -> Course:
    course = transient(isothermal(board), NO_LEAK, 1, times, tolerance=EXACT, **how)
    assert course.solved.all()
    return course


class TestSteps:
    """Textbook steps on linear circuits."""

    def test_resistor_and_capacitor(self) -> None:
        found = followed(low_pass(), np.linspace(0.0, 2e-3, 3), stimuli=STEP).potential("OUT")[0]
        assert found == pytest.approx([0.0, 1.0 - math.exp(-1.0), 1.0 - math.exp(-2.0)], abs=1e-6)

    def test_rise_time(self) -> None:
        """From 10 to 90 % within RC ln 9."""
        times = np.linspace(0.0, 3e-3, 3001)
        found = followed(low_pass(), times, stimuli=STEP).potential("OUT")[0]
        rise = np.interp([0.1, 0.9], found, times)
        assert rise[1] - rise[0] == pytest.approx(1e-3 * math.log(9.0), rel=1e-5)

    def test_overshoot_of_a_resonant_circuit(self) -> None:
        """Damping 0.5: overshoot exp(-pi z / sqrt(1 - z²)) after half a period of ringing."""
        peak = math.pi / math.sqrt(1e8 - 5e3**2)
        times = np.array([0.0, 1e-4, peak, 1e-3])
        found = followed(series_circuit(), times, stimuli=STEP).potential("OUT")[0]
        assert found == pytest.approx(step_of_the_series_circuit(times), abs=2e-6)
        assert found[2] - 1.0 == pytest.approx(0.163033535, abs=2e-6)


def test_a_coil_runs_empty_between_the_ends_of_steps() -> None:
    """Up and down in straight lines, v = L di/dt, and then nothing: the diode keeps it there.

    The drop of the diode is that of its equation at a tenth of the peak, within 0.06 V of 100 V.
    """
    board = IdealBoard().put("V", IdealSource(), "IN 0")
    board.put("D", ExponentialDiode(), "IN A", saturation=1e-9, slope=0.025)
    board.put("L", IdealInductor(), "A 0", inductance=1e-3)
    turn = {("V", "voltage"): PiecewiseLinear(np.array([1e-5, 1e-5]), np.array([100.0, -100.0]))}
    times = np.linspace(0.0, 4e-5, 801)
    model, tolerance = isothermal(board), Tolerance(1e-4, 1e-6)
    course = transient(model, NO_LEAK, 1, times, None, turn, tolerance)
    drop = 0.025 * math.log(0.1 / 1e-9)
    up, down = (100.0 - drop) / 1e-3, (100.0 + drop) / 1e-3
    wanted = np.where(times < 1e-5, up * times, up * 1e-5 - down * (times - 1e-5))
    found = course.unknown("L", "current")[0]
    assert course.solved.all()
    assert found == pytest.approx(np.maximum(wanted, 0.0), abs=2e-3)


@pytest.mark.parametrize("sharpness", [5.0, 10.0, 10.0 * math.pi, 50.0, 100.0])
def test_valley_and_peak_of_an_ideal_rectifier(sharpness: float) -> None:
    """The diode opens at pi - atan(w R C); closes where the decay meets the next half wave."""
    off = math.pi - math.atan(sharpness)
    on = brentq(
        lambda a: math.sin(a) - math.sin(off) * math.exp(-(a + math.pi - off) / sharpness),
        0.0,
        math.pi / 2.0,
        xtol=1e-14,
    )
    ohms = 100.0
    farads = sharpness / (2.0 * math.pi * 50.0 * ohms)
    board = IdealBoard().put("D", IdealRectifier(), "OUT 0", amplitude=1.0, frequency=50.0)
    board.resistor("R", "OUT", GROUND, ohms)
    board.put("C", IdealCapacitor(), "OUT 0", capacitance=farads)
    half = 0.01
    angles = np.array([off, math.pi + on, math.pi + math.pi / 2.0])
    times = np.concatenate([[0.0], 3.0 * half + half * angles / math.pi])
    found = followed(board, times, longest=2e-5).potential("OUT")[0, 1:]
    assert found == pytest.approx([math.sin(off), math.sin(on), 1.0], rel=2e-5)


@pytest.mark.parametrize("share", [0.01, 0.05, 0.1])
def test_mean_of_a_rectifier_with_source_resistance(share: float) -> None:
    """A large capacitor: tan p - p = pi Rs / 2R, and its voltage is cos p of the peak."""
    angle = brentq(lambda p: math.tan(p) - p - 0.5 * math.pi * share, 1e-3, 1.5)
    ohms = 100.0
    board = IdealBoard()
    values = {"amplitude": 1.0, "frequency": 50.0, "resistance": share * ohms}
    board.put("D", SlopedRectifier(), "OUT 0", **values)
    board.resistor("R", "OUT", GROUND, ohms)
    board.put("C", IdealCapacitor(), "OUT 0", capacitance=3e4 / (100.0 * math.pi * ohms))
    model = isothermal(board)
    start = np.array([[math.cos(angle)]])
    times = np.linspace(0.0, 0.2, 2001)
    # Half waves have no corners of which the steps are told: a longer one may pass over a pulse.
    course = transient(
        model, NO_LEAK, 1, times, start, tolerance=Tolerance(1e-8, 1e-9), longest=5e-4
    )
    found = course.potential("OUT")[0]
    # Neither rising nor falling: what flows in on the mean is what the load takes.
    drift = (found[-1] - found[0]) * 3e4 / (100.0 * math.pi * ohms) / 0.2 * ohms
    assert abs(drift) < 1e-3
    peak = (1.0 - math.cos(angle)) / share
    assert course.of("D", "current").max() == pytest.approx(peak / ohms, rel=2e-4)


def test_ripple_of_a_step_down_stage() -> None:
    """28 V to 15 V, 50 µH, 500 µF, 3 Ω, 100 kHz; the periodic state by matrix exponentials."""
    duty, period, inductance, farads, ohms = 15.0 / 28.0, 1e-5, 50e-6, 500e-6, 3.0
    slopes = np.array([[0.0, -1.0 / inductance], [1.0 / farads, -1.0 / (ohms * farads)]])
    push = np.array([28.0 / inductance, 0.0])
    whole, rest = expm(slopes * duty * period), expm(slopes * (1.0 - duty) * period)
    driven = np.linalg.solve(slopes, (whole - np.eye(2)) @ push)
    valley = np.linalg.solve(np.eye(2) - rest @ whole, rest @ driven)
    peak = whole @ valley + driven
    assert (valley[0], peak[0]) == pytest.approx((4.303513676821441, 5.696486310307308), rel=1e-9)

    board = IdealBoard().put("V", IdealSource(), "SW 0")
    board.put("L", IdealInductor(), "SW OUT", inductance=inductance)
    board.put("C", IdealCapacitor(), "OUT 0", capacitance=farads)
    board.resistor("R", "OUT", GROUND, ohms)
    cycles = np.arange(20)[:, None] * period
    corners = (cycles + np.array([0.0, 0.0, duty * period, duty * period])).reshape(-1)
    square = PiecewiseLinear(corners, np.tile([0.0, 28.0, 28.0, 0.0], 20))
    names = board.topology.index
    start = np.zeros((len(names), 1))
    start[names["L", "current"]], start[names["OUT", ""]] = valley
    times = np.sort(np.concatenate([cycles[:, 0], cycles[:, 0] + duty * period]))
    course = followed(board, times, start=start, stimuli={("V", "voltage"): square})
    current = course.unknown("L", "current")[0]
    assert current[::2] == pytest.approx(np.full(20, valley[0]), rel=1e-6)
    assert current[1::2] == pytest.approx(np.full(20, peak[0]), rel=1e-6)
    assert course.potential("OUT")[0, ::2] == pytest.approx(np.full(20, valley[1]), rel=1e-7)


def passive(seed: int) -> IdealBoard:
    """A source in a net of resistors, coils, capacitors and coupled coils, joined at random."""
    rng = np.random.default_rng(seed)
    nets = [GROUND, "IN", *(f"N{i}" for i in range(int(rng.integers(2, 7))))]
    board = IdealBoard().source("V", "IN", 5.0, resistance=0.5, current_limit=100.0)

    def size(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    for number, net in enumerate(nets[1:]):
        board.resistor(f"R{number}", net, str(rng.choice(nets[: number + 1])), size(1.0, 1e4))
    for number in range(int(rng.integers(2, 9))):
        ends = [str(net) for net in rng.choice(nets, 2, replace=False)]
        kind = rng.integers(4)
        if kind == 0:
            board.resistor(f"X{number}", *ends, size(1.0, 1e4))
        elif kind == 1:
            values = {"capacitance": size(1e-9, 1e-5), "esr": size(0.01, 1.0), "leakage": 1e-6}
            pins = {"plus": ends[0], "minus": ends[1]}
            board.part(f"X{number}", "capacitor", pins, **values)
        elif kind == 2:
            values = {"inductance": size(1e-5, 1e-2), "winding_resistance": size(0.01, 1.0)}
            board.part(f"X{number}", "inductor", {"one": ends[0], "two": ends[1]}, **values)
        else:
            pair = [str(net) for net in rng.choice(nets, 2, replace=False)]
            first, second = size(1e-5, 1e-2), size(1e-5, 1e-2)
            mutual = float(rng.uniform(0.1, 0.95)) * math.sqrt(first * second)
            coils = {"first": first, "second": second, "mutual": mutual}
            board.put(f"X{number}", CoupledCoils(), " ".join([*ends, *pair]), **coils)
    return board


def powers(board: Board, found: Any) -> Array:
    """Power that each part takes (part, ...)."""

    def across(ref: str, one: str, two: str) -> Array:
        pins = board.topology.element[ref].pins
        return np.asarray(found.potential(pins[one]) - found.potential(pins[two]))

    taken = []
    for element in board.topology.elements:
        ref, kind = element.ref, element.device.kind
        if not kind:
            taken += [
                across(ref, "plus", "minus") * found.unknown(ref, "current"),
                across(ref, "second_plus", "second_minus") * found.unknown(ref, "second_current"),
            ]
        else:
            one, two = tuple(element.device.pins)[:2]
            sign = -1.0 if kind == "source" else 1.0
            taken.append(sign * across(ref, one, two) * found.of(ref, "current"))
    return np.array(taken)


@pytest.mark.parametrize("seed", range(12))
def test_random_passive_networks_conserve_power(seed: int) -> None:
    board = passive(seed)
    times = np.linspace(0.0, 1e-3, 101)
    course = transient(isothermal(board), NO_LEAK, 1, times)
    assert course.solved.all()
    assert np.abs(imbalance(powers(board, course))[0, 1:]).max() < 1e-9
    points = operating_point(board.model, NO_LEAK, 1)
    if points.solved.all():  # coils in a loop have no operating point of their own
        # A solution rests once no unknown moves by more than 1e-9 of itself.
        assert np.abs(imbalance(powers(board, points))).max() < 1e-8


def test_no_charge_and_no_energy_are_lost() -> None:
    board = Board().source("V", "IN", 5.0, resistance=10.0, current_limit=10.0)
    ends = {"one": "IN", "two": "OUT"}
    board.part("L", "inductor", ends, inductance=1e-3, winding_resistance=1.0)
    board.part("C", "capacitor", {"plus": "OUT", "minus": GROUND}, capacitance=1e-5, esr=0.5)
    # Its power is what it turns into heat; a junction without charge stores nothing beside.
    bare = {"junction_capacitance": 0.0, "transit_time": 0.0}
    board.part("D", "diode", {"anode": "OUT", "cathode": "A"}, **bare)
    board.resistor("R", "A", GROUND, 100.0)
    times = np.linspace(0.0, 2e-3, 20001)
    course = followed(board, times)
    plate, current = course.unknown("C", "plate")[0], course.of("C", "current")[0]
    leak = 1e-5 / 35.0 * plate
    assert np.abs(lost(times, current - leak, 1e-5 * plate)).max() < 1e-5
    coil = course.unknown("L", "current")[0]
    share = BEND / 4.0
    # Integral of i d(flux), the coil's flux being L i / sqrt(1 + (share i)²).
    coil_energy = 1e-3 / share**2 * (1.0 - 1.0 / np.sqrt(1.0 + (share * coil) ** 2))
    given = course.potential("IN")[0] * course.of("V", "current")[0]
    taken = sum(course.of(ref, "power")[0] for ref in ("L", "C", "D", "R"))
    stored = 0.5e-5 * plate**2 + coil_energy
    assert np.abs(lost(times, given - taken, stored)).max() < 1e-5
