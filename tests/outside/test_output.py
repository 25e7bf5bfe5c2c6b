"""What is left at a supply's terminals, and what it limits: figures of others."""

from __future__ import annotations

import numpy as np
import pytest
from circuits import GROUND, Board, aimed
from outside.ideal import COIL, COOL, REGULATOR, STEP_DOWN, TRANSISTOR
from published import Row, published

from railwright.engine.assembly import AMBIENT
from railwright.engine.solutions import OperatingPoints


def fixed_regulator(input: float, setting: float, **values: float) -> Board:
    """A fixed regulator from a stiff input, with a load at OUT."""
    pins = {"input": "IN", "output": "OUT", "ground": GROUND}
    own = {**REGULATOR, "output_voltage": setting, "quiescent_current": 0.0, **values}
    board = Board().source("V", "IN", input).part("U", "fixed-regulator", pins, **own)
    return board.load("LD", "OUT")


@pytest.mark.parametrize("row", published("drop between sense point and terminals"), ids=str)
def test_drop_between_sense_point_and_terminals(row: Row) -> None:
    def drop(path: float, current: float) -> float:
        board = fixed_regulator(12.0, 5.0)
        board.part("W", "wire", {"one": "OUT", "two": "TERMINAL"}, resistance=path)
        board.load("LT", "TERMINAL")
        idle, full = board.solve({("LT", "current"): np.array([0.0, current])}, 2).potential(
            "TERMINAL"
        )
        return float(idle - full)

    assert drop(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("output without headroom"), ids=str)
def test_output_without_headroom(row: Row) -> None:
    def output(input: float, ripple: float, setting: float, dropout: float, load: float) -> float:
        valley = input - ripple
        board = fixed_regulator(valley, setting, dropout=dropout, dropout_current=load)
        return float(board.solve({("LD", "current"): load}).potential("OUT")[0])

    assert output(**row.inputs) == row.expected_within_its_tolerance


def folding_back(shunt: float, ratio: float, junction: float) -> Board:
    """A pass transistor whose base is starved by the divided voltage across its shunt."""
    board = Board().source("V", "IN", 30.0).load("BIAS", "IN", 1e-3, minus="B")
    pins = {"collector": "IN", "base": "B", "emitter": "E"}
    board.part("Q1", "bipolar-transistor", pins, test_current=1.0, **TRANSISTOR)
    board.resistor("RS", "E", "OUT", shunt)
    board.resistor("R1", "E", "X", ratio * 1e3).resistor("R2", "X", GROUND, 1e3)
    pins = {"collector": "B", "base": "X", "emitter": "OUT"}
    own = {"base_emitter_voltage": junction, "test_current": 1e-3, **TRANSISTOR}
    return board.part("Q2", "bipolar-transistor", pins, **own)


@pytest.mark.parametrize("row", published("foldback"), ids=str)
def test_foldback(row: Row) -> None:
    def limit(output: float, **known: float) -> float:
        board = folding_back(**known)
        if output == 0.0:
            return float(board.resistor("R", "OUT", GROUND, 1e-4).solve().of("RS", "current")[0])
        board.load("LD", "OUT", 1.0).aim("LD", "current", "OUT", GROUND, 0.0, 10.0)
        held = aimed("LD", "current", output, slope=1.0)
        return float(board.solve(held).of("RS", "current")[0])

    assert limit(**row.inputs) == row.expected_within_its_tolerance


def tracking(
    upper: float, lower: float, base: float, feedback: float, junction: float, gain: float
) -> Board:
    """A step-down regulator held above SET by one transistor: R1 upper, R2 lower, R3 base."""
    pins = {"input": "IN", "switch": "SW", "ground": GROUND, "feedback": "FB"}
    board = Board().source("V", "IN", 30.0).source("VS", "SET", 10.0)
    board.resistor("B", "SET", GROUND, 1e3)  # lets the source sink
    board.part("U", "step-down-regulator", pins, reference=feedback, **STEP_DOWN)
    board.part("L", "inductor", {"one": "SW", "two": "PRE"}, **COIL)
    board.resistor("R1", "PRE", "E", upper).resistor("R2", "FB", GROUND, lower)
    board.resistor("R3", "B", "SET", base).load("LD", "PRE", 0.5)
    pins = {"emitter": "E", "base": "B", "collector": "FB"}
    own = {"current_gain": gain, "base_emitter_voltage": junction, **COOL}
    current = feedback / lower
    npn = {"polarity": "pnp"}
    return board.part("Q", "bipolar-transistor", pins, npn, test_current=current, **own)


def gap(points: OperatingPoints) -> float:
    return float((points.potential("PRE") - points.potential("SET"))[0])


@pytest.mark.parametrize("row", published("tracking difference"), ids=str)
def test_tracking_difference(row: Row) -> None:
    assert gap(tracking(**row.inputs).solve()) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("warming of a tracking difference"), ids=str)
def test_warming_of_a_tracking_difference(row: Row) -> None:
    def change(kelvins: float, **known: float) -> float:
        board = tracking(**known)
        return gap(board.solve({AMBIENT: 298.15 + kelvins})) - gap(board.solve())

    assert change(**row.inputs) == row.expected_within_its_tolerance
