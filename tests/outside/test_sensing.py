"""Difference amplifiers, comparators and references: figures of others."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from circuits import GROUND, Board, crossed
from numpy.typing import NDArray
from outside.ideal import AMPLIFIER, COMPARATOR
from published import Row, published

Array = NDArray[np.float64]
RESISTORS = ("R1", "R2", "R3", "R4")
CORNERS = np.array(list(itertools.product((-1.0, 1.0), repeat=4))).T


def difference_amplifier(ratio: float, reference: float) -> Board:
    """Four resistors around an ideal amplifier on plus and minus 30 V; inputs P and M."""
    board = Board().source("VP", "VCC", 30.0).source("VN", GROUND, 30.0, minus="VEE")
    for ref, net, volts in (("VR", "REF", reference), ("V1", "P", 0.0), ("V2", "M", 0.0)):
        board.source(ref, net, volts).resistor(f"B{ref}", net, "VEE", 5e3)  # lets it sink
    board.resistor("R1", "M", "X", 1e4).resistor("R2", "X", "OUT", ratio * 1e4)
    board.resistor("R3", "P", "Y", 1e4).resistor("R4", "Y", "REF", ratio * 1e4)
    pins = {"plus": "Y", "minus": "X", "output": "OUT", "supply": "VCC", "ground": "VEE"}
    return board.part("A", "operational-amplifier", pins, **AMPLIFIER)


def output_at_corners(board: Board, tolerance: float, plus: float, minus: float) -> Array:
    """Output over all sixteen corners of the resistors' tolerance [V]."""
    lanes = {
        (ref, "resistance"): board.nominal[ref, "resistance"] * (1.0 + tolerance * corner)
        for ref, corner in zip(RESISTORS, CORNERS, strict=True)
    }
    inputs = {("V1", "voltage"): plus, ("V2", "voltage"): minus}
    return board.solve({**lanes, **inputs}, 16).potential("OUT")


@pytest.mark.parametrize("row", published("rejection of a difference amplifier"), ids=str)
def test_worst_rejection_of_common_mode(row: Row) -> None:
    def rejection(ratio: float, tolerance: float) -> float:
        board = difference_amplifier(ratio, 0.0)
        rest = output_at_corners(board, tolerance, 1.0, 1.0)
        lifted = output_at_corners(board, tolerance, 5.0, 5.0)
        signal = output_at_corners(board, tolerance, 1.05, 0.95)
        common, wanted = (lifted - rest) / 4.0, (signal - rest) / 0.1
        return float((20.0 * np.log10(np.abs(wanted / common))).min())

    assert rejection(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("error of a difference amplifier"), ids=str)
def test_worst_error_from_common_mode(row: Row) -> None:
    def error(ratio: float, tolerance: float, reference: float, common_mode: float) -> float:
        board = difference_amplifier(ratio, reference)
        low = output_at_corners(board, tolerance, 0.0, 0.0)
        high = output_at_corners(board, tolerance, common_mode, common_mode)
        return float(np.abs(high - low).max())

    assert error(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("comparator hysteresis"), ids=str)
def test_hysteresis_of_a_comparator(row: Row) -> None:
    def hysteresis(high: float, low: float, source: float, feedback: float) -> float:
        board = Board().source("VH", "HIGH", high).source("VL", "LOW", low)
        board.source("VR", "REF", 0.5 * (high + low)).source("VI", "IN", 0.0)
        board.resistor("B", "IN", GROUND, 1e3)  # lets the source sink
        board.resistor("R1", "IN", "P", source).resistor("R2", "P", "OUT", feedback)
        pins = {"plus": "P", "minus": "REF", "output": "OUT", "supply": "HIGH", "ground": "LOW"}
        board.part("C", "comparator", pins, {"output": "push-pull"}, **COMPARATOR)
        board.cross("VI", "voltage", ("C", "difference"))
        # In each of its two states, the input at which it is about to leave it.
        lanes = {("C", "free"): 0.0, ("C", "forced"): np.array([0.0, 1.0])}
        up, down = board.solve(
            {**lanes, **crossed("VI", "voltage", {("C", "difference"): 1.0})}, 2
        ).potential("IN")
        return float(up - down)

    assert hysteresis(**row.inputs) == row.expected_within_its_tolerance


def comparator_on_a_reference(supply: float, below_supply: float, divided: float) -> Board:
    """A comparator whose inputs both stand at a share of a 2.5 V shunt reference."""
    board = Board().source("V", "VCC", supply).resistor("RB", "VCC", "REF", 270.0)
    pins = {"cathode": "REF", "anode": GROUND, "reference": "REF"}
    own = {"dynamic_resistance": 1e-3, "cathode_voltage_effect": 0.0}
    board.part("U", "shunt-reference", pins, reference_voltage=2.5, **own)
    board.resistor("R1", "REF", "TAP", 1e5 * (1.0 - divided) + 1e-3)
    board.resistor("R2", "TAP", GROUND, 1e5 * divided)
    pins = {"plus": "TAP", "minus": "TAP", "output": "OUT", "supply": "VCC", "ground": GROUND}
    values = {**COMPARATOR, "input_range_high": below_supply}
    board.part("C", "comparator", pins, **values)
    return board.resistor("RP", "VCC", "OUT", 1e4)


@pytest.mark.parametrize("row", published("top of a comparator's input range"), ids=str)
def test_top_of_the_input_range(row: Row) -> None:
    found = comparator_on_a_reference(**row.inputs, divided=1.0).solve()
    assert found.of("C", "input_range_high")[0] == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("input of a comparator at its trip"), ids=str)
def test_input_at_the_trip(row: Row) -> None:
    found = comparator_on_a_reference(**row.inputs).solve()
    inside = found.of("C", "input_high") < found.of("C", "input_range_high")
    assert found.of("C", "input_high")[0] == row.expected_within_its_tolerance
    assert inside[0] == (row.inputs["divided"] < 1.0)


def lifted_reference(board: Board, bias: float, resistor: float, amplifier: float) -> Board:
    """The node REF with its bias resistor and the amplifier output that pushes into it."""
    board.resistor("RB", "REF", GROUND, bias).source("VA", "AMP", amplifier)
    return board.resistor("R", "AMP", "REF", resistor)


@pytest.mark.parametrize("row", published("current of a pushed reference"), ids=str)
def test_current_of_a_reference_that_is_pushed(row: Row) -> None:
    def needed(reference: float, **known: float) -> float:
        """Current that holds the node, from a buffer that can sink as well [mA]."""
        board = Board().source("VCC", "VCC", 10.0).source("VN", GROUND, 5.0, minus="VEE")
        board.source("VR", "WANTED", reference)
        pins = {"plus": "WANTED", "minus": "REF", "output": "REF"}
        pins |= {"supply": "VCC", "ground": "VEE"}
        board.part("A", "operational-amplifier", pins, **AMPLIFIER)
        return float(lifted_reference(board, **known).solve().of("A", "output_current")[0]) * 1e3

    assert needed(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("current of a pushed reference"), ids=str)
def test_a_reference_that_cannot_sink_lets_go(row: Row) -> None:
    """The same as a fact of the circuit: where it would have to sink, the node rises."""
    known = dict(row.inputs)
    wanted = known.pop("reference")
    board = lifted_reference(Board().source("VR", "REF", wanted), **known)
    rise = board.solve().potential("REF")[0] - wanted
    assert (rise > 0.05) == (row.expected < 0.0)


@pytest.mark.parametrize("row", published("current source on a lifted reference"), ids=str)
def test_current_source_on_a_lifted_reference(row: Row) -> None:
    def current(reference: float, resistor: float) -> float:
        board = Board().source("V", "VCC", 12.0).source("VR", "TOP", reference, minus="BASE")
        board.resistor("RS", "TOP", "LOAD", resistor).resistor("RL", "LOAD", GROUND, 1e3)
        pins = {"plus": "LOAD", "minus": "BASE", "output": "BASE"}
        pins |= {"supply": "VCC", "ground": GROUND}
        board.part("A", "operational-amplifier", pins, **AMPLIFIER)
        return float(board.solve().of("RL", "current")[0]) * 1e3

    assert current(**row.inputs) == row.expected_within_its_tolerance
