"""Linear circuits that textbooks start with, and how they come to be linearised."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from circuits import GROUND, Board
from engine.ideal_parts import IdealBoard, IdealCapacitor, IdealInductor, IdealSource
from numpy.typing import NDArray

from railwright.engine.assembly import LEAK
from railwright.engine.linear import Linear, linearise
from railwright.engine.model import Model, Name
from railwright.engine.quiescent import Quiescent, quiescent

Array = NDArray[np.float64]
NO_LEAK = {LEAK: 0.0}


def low_pass() -> IdealBoard:
    """A source V behind 1 kΩ on 1 µF at OUT: a time constant of 1 ms."""
    board = IdealBoard().put("V", IdealSource(), "IN 0").resistor("R", "IN", "OUT", 1e3)
    return board.put("C", IdealCapacitor(), "OUT 0", capacitance=1e-6)


def series_circuit() -> IdealBoard:
    """A source V, 10 Ω, 1 mH and 10 µF in series; OUT is across the capacitor. Damping 0.5."""
    board = IdealBoard().put("V", IdealSource(), "IN 0").resistor("R", "IN", "A", 10.0)
    board.put("L", IdealInductor(), "A OUT", inductance=1e-3)
    return board.put("C", IdealCapacitor(), "OUT 0", capacitance=1e-5)


def step_of_the_series_circuit(time: Array) -> Array:
    """Its voltage at OUT after a step of 1 V: 1 - exp(-a t) (cos w t + a / w sin w t), textbook."""
    decay = 10.0 / (2.0 * 1e-3)
    ringing = np.sqrt(1.0 / (1e-3 * 1e-5) - decay**2)
    swing = np.cos(ringing * time) + decay / ringing * np.sin(ringing * time)
    return np.asarray(1.0 - np.exp(-decay * time) * swing)


def butterworth_ladder(corner: float) -> IdealBoard:
    """Butterworth's fifth order from IN to N2 between 50 Ω; corner [rad/s].

    Its normal form has the values 2 sin((2k - 1) π / 10) (any handbook of filters).
    """
    ohms = 50.0
    board = IdealBoard().put("V", IdealSource(), "IN 0").resistor("RS", "IN", "N0", ohms)
    for k in range(5):
        value = 2.0 * np.sin((2 * k + 1) * np.pi / 10.0)
        here = f"N{k // 2}"
        if k % 2 == 0:
            board.put(f"C{k}", IdealCapacitor(), f"{here} 0", capacitance=value / (ohms * corner))
        else:
            nets = f"{here} N{k // 2 + 1}"
            board.put(f"L{k}", IdealInductor(), nets, inductance=value * ohms / corner)
    return board.resistor("RL", "N2", GROUND, ohms)


def at_rest(board: Board, lanes: Mapping[Name, Any] | None = None, count: int = 1) -> Linear:
    """A linear circuit, linearised at nil, where nothing has to be solved; nets have no leak."""
    topology = replace(board.topology, isothermal=True)
    x: Array = np.zeros((len(topology.unknowns), count))
    model = Model(topology, dict(board.nominal))
    return linearise(Quiescent(model, {**NO_LEAK, **(lanes or {})}, x, np.ones(count, bool)))


def first_of_two_unsolved(board: Board, name: Name, values: tuple[float, float]) -> Linear:
    """Two lanes with other values of a name, the first of them as if it had not been solved."""
    points = board.solve({name: np.array(values)}, 2)
    points.solved[0] = False
    return linearise(quiescent(points))
