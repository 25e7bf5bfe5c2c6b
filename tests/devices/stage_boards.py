"""Switching stages around the step-up and the inverting regulator, for tests of both."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
from circuits import GROUND, Board
from numpy.typing import NDArray

from railwright.engine.cycle import Cycle, cycle
from railwright.engine.operating_point import OperatingPoints
from railwright.engine.quiescent import quiescent
from railwright.engine.transient import Tolerance

Array = NDArray[np.float64]
PINS = {"input": "IN", "switch": "SW", "ground": GROUND, "feedback": "FB"}
STEP_UP, FAST_STEP_UP = "step-up 52 kHz 3 A", "step-up 600 kHz 2 A"
INVERTING = "inverting 300 kHz 2 A"
DIODES: Mapping[str, dict[str, str]] = {
    "step-up-regulator": {"anode": "SW", "cathode": "OUT"},
    "inverting-regulator": {"anode": "OUT", "cathode": "SW"},
}
COIL_ENDS: Mapping[str, dict[str, str]] = {
    "step-up-regulator": {"one": "IN", "two": "SW"},
    "inverting-regulator": {"one": "SW", "two": GROUND},
}
PARTS = {
    STEP_UP: (100e-6, 470e-6, 0.05),
    FAST_STEP_UP: (10e-6, 44e-6, 3e-3),
    INVERTING: (22e-6, 100e-6, 5e-3),
}
"""Coil [H], output capacitor [F] and its resistance [Ω] with which a part is used."""


def supply(
    name: str, volts: float, output: float, control: str = "", enable: bool = False, **values: float
) -> Board:
    """An ordinary supply around a part of the catalogue; `output` as a magnitude."""
    pins = PINS | ({"disable": "EN"} if enable else {})
    strong = {"resistance": 1e-3, "current_limit": 100.0}
    board = Board().source("V", "IN", volts, **strong).use("U", name, pins, **values)
    part = board.parts[-1]
    if control:
        board.parts[-1] = replace(part, options={**part.options, "control": control})
    inductance, capacitance, esr = PARTS[name]
    kind = part.device.kind
    own = {"inductance": inductance, "winding_resistance": 0.05, "saturation_current": 30.0}
    board.part("L", "inductor", COIL_ENDS[kind], **own)
    board.use("D", "1N5822", DIODES[kind])
    high, low = ("OUT", GROUND) if kind == "step-up-regulator" else (GROUND, "OUT")
    own = {"capacitance": capacitance, "esr": esr, "leakage": 0.0}
    board.part("C", "capacitor", {"plus": high, "minus": low}, **own)
    board.load("LD", high, 0.1, minus=low)
    upper = (output / board.nominal["U", "reference"] - 1.0) * 1e3
    board.resistor("R1", "FB", GROUND, 1e3).resistor("R2", "OUT", "FB", upper)
    return board.source("VE", "EN", 5.0) if enable else board


def both(board: Board, lanes: Mapping[Any, Any], count: int) -> tuple[OperatingPoints, Cycle]:
    """The averaged operating points, and the cycles found from there."""
    points = board.solve(lanes, count)
    rest = quiescent(points, switched=True)
    sharp = Tolerance(1e-6, 1e-9)
    how: dict[str, Any] = {"clock": ("U", "tick"), "phases": 2000, "tolerance": sharp}
    return points, cycle(rest.model, rest.lanes, count, rest.x, **how)


def mean(row: Array) -> Array:
    """Mean over the cycle (lane)."""
    found: Array = row[:, :-1].mean(axis=1)
    return found
