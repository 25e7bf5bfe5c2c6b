"""A step-down regulator wired as an inverting one: its ground pin is the negative output.

The textbook's buck-boost stage; with a zero in the right half-plane.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from outside.ideal import COIL, COOL, STEP_DOWN
from published import Row, published

from railwright.engine.cycle import cycle
from railwright.engine.linear import Linear, linearise
from railwright.engine.poles import poles
from railwright.engine.ports import Given, Potential
from railwright.engine.quiescent import quiescent
from railwright.engine.response import response
from railwright.engine.transient import Tolerance

PINS = {"input": "IN", "switch": "SW", "ground": "OUT", "feedback": "FB"}


@cache
def textbook(duty: float, load: float, input: float, coil: float, capacitor: float) -> Linear:
    """The stage with its loop wide open, so that the duty is at its limit."""
    own = {k: v for k, v in STEP_DOWN.items() if k not in COOL}
    own |= {"reference": 1.0, "duty_limit": duty, "frequency": 1e6}
    own |= {"compensation_pole": 0.1, "compensation_zero": 1e6}
    board = Board().source("V", "IN", input, resistance=1e-6, current_limit=1e3)
    board.part("U", "step-down-regulator", PINS | {"feedback": "OUT"}, **own)
    board.nominal |= {("U", "noise_voltage"): 0.0, ("U", "noise_corner"): 0.0}
    board.part("L", "inductor", {"one": "SW", "two": GROUND}, inductance=coil, **COIL)
    ends = {"plus": GROUND, "minus": "OUT"}
    board.part("C", "capacitor", ends, capacitance=capacitor, esr=1e-4, leakage=0.0)
    return linearise(quiescent(board.resistor("R", "OUT", GROUND, load).solve()))


def gain(linear: Linear, of: tuple[str, str], frequency: float = 0.0) -> complex:
    found = response(linear, Given(*of), Potential("OUT", GROUND), np.array([frequency]))
    return complex(found.value[0, 0])


@pytest.mark.parametrize("row", published("buck-boost stage"), ids=str)
def test_the_textbooks_stage(row: Row) -> None:
    wanted = row.inputs["of"]
    linear = textbook(**{k: v for k, v in row.inputs.items() if k != "of"})
    natural = poles(linear)
    ringing = np.flatnonzero(natural.value[0].imag != 0.0)
    duty = gain(linear, ("U", "duty_limit"))
    match wanted:
        case "line gain":
            found = -gain(linear, ("V", "voltage")).real
        case "duty gain":
            found = -duty.real
        case "corner":
            found = natural.frequency[0, ringing[0]]
        case "quality":
            found = 0.5 / natural.damping[0, ringing[0]]
        case "zero":
            # What is left of the response without its poles is 1 - j f / f_zero.
            f = 5e3
            s, (one, two) = 2j * np.pi * f, natural.value[0, ringing]
            left = gain(linear, ("U", "duty_limit"), f) / duty * (1.0 - s / one) * (1.0 - s / two)
            assert left.imag < 0.0
            found = -f / left.imag
    assert found == row.expected_within_its_tolerance


def test_averages_are_those_of_the_cycles() -> None:
    """12 V to -5 V with a part of the catalogue, in both regimes."""
    board = Board().source("V", "IN", 12.0, resistance=1e-3, current_limit=100.0)
    board.use("U", "step-down 150 kHz 3 A", PINS, compensation_pole=5.0, transition_time=0.0)
    board.use("D", "1N5822", {"anode": "OUT", "cathode": "SW"})
    own = {"inductance": 68e-6, "winding_resistance": 0.05, "saturation_current": 20.0}
    board.part("L", "inductor", {"one": "SW", "two": GROUND}, **own)
    ends = {"plus": GROUND, "minus": "OUT"}
    board.part("C", "capacitor", ends, capacitance=470e-6, esr=0.06, leakage=0.0)
    board.load("LD", GROUND, 1.0, minus="OUT")
    board.resistor("R1", "FB", "OUT", 1e3).resistor("R2", GROUND, "FB", (5.0 / 1.23 - 1.0) * 1e3)
    lanes: dict[Any, Any] = {("LD", "current"): np.array([0.02, 0.05, 0.1, 0.2, 0.5, 1.0])}
    points = board.solve(lanes, 6)
    rest = quiescent(points, switched=True)
    how: dict[str, Any] = {
        "clock": ("U", "tick"),
        "phases": 2000,
        "tolerance": Tolerance(1e-6, 1e-9),
    }
    found = cycle(rest.model, rest.lanes, 6, rest.x, **how)
    assert found.solved.all()
    regime = points.of("U", "continuous")
    assert regime[0] < 0.01
    assert regime[-1] > 0.99
    volts = found.potential("OUT")[:, :-1].mean(axis=1)
    assert volts == pytest.approx(points.potential("OUT"), rel=3e-3)
    current = found.unknown("L", "current")[:, :-1]
    assert current.mean(axis=1) == pytest.approx(points.of("U", "coil_current"), rel=5e-3)
    assert current.max(axis=1) == pytest.approx(points.of("U", "coil_peak"), rel=0.02)
