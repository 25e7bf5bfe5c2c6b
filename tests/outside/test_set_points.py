"""What voltage a divider sets, and which divider sets a voltage: figures of others."""

from __future__ import annotations

import pytest
from circuits import GROUND, Board, aimed, crossed
from outside.ideal import COIL, REGULATOR, STEP_DOWN
from published import Row, published


def adjustable(reference: float, adjust_current: float, upper: float) -> Board:
    """A three-terminal regulator with its upper resistor, from 20 V."""
    pins = {"input": "IN", "output": "OUT", "adjust": "ADJ"}
    own = {"reference": reference, "adjust_current": adjust_current, **REGULATOR}
    board = Board().source("V", "IN", 20.0).part("U", "adjustable-regulator", pins, **own)
    return board.resistor("R1", "OUT", "ADJ", upper)


def step_down(reference: float, lower: float, volts: float = 40.0) -> Board:
    """A step-down regulator with its coil and lower resistor, a load that keeps it busy."""
    pins = {"input": "IN", "switch": "SW", "ground": GROUND, "feedback": "FB"}
    board = Board().source("V", "IN", volts)
    board.part("U", "step-down-regulator", pins, reference=reference, **STEP_DOWN)
    board.part("L", "inductor", {"one": "SW", "two": "OUT"}, inductance=1e-4, **COIL)
    return board.resistor("R1", "FB", GROUND, lower).load("LD", "OUT", 1.0)


@pytest.mark.parametrize("row", published("resistor of an adjustable regulator"), ids=str)
def test_resistor_of_an_adjustable_regulator(row: Row) -> None:
    def resistor(output: float, **known: float) -> float:
        board = adjustable(**known).rheostat("R2", "ADJ", GROUND, 1e4).aim("R2", "position", "OUT")
        found = board.solve(aimed("R2", "position", output)).of("R2", "position")
        return float(found[0]) * 1e4

    assert resistor(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("output of an adjustable regulator"), ids=str)
def test_output_of_an_adjustable_regulator(row: Row) -> None:
    def output(lower: float, **known: float) -> float:
        board = adjustable(**known).resistor("R2", "ADJ", GROUND, lower)
        return float(board.solve().potential("OUT")[0])

    assert output(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("resistor of a step-down regulator"), ids=str)
def test_resistor_of_a_step_down_regulator(row: Row) -> None:
    def resistor(output: float, **known: float) -> float:
        board = step_down(**known).rheostat("R2", "OUT", "FB", 1e5).aim("R2", "position", "OUT")
        found = board.solve(aimed("R2", "position", output)).of("R2", "position")
        return float(found[0]) * 1e5

    assert resistor(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("output of a step-down regulator"), ids=str)
def test_output_of_a_step_down_regulator(row: Row) -> None:
    def output(upper: float, **known: float) -> float:
        board = step_down(**known, volts=12.0).resistor("R2", "OUT", "FB", upper)
        return float(board.solve().potential("OUT")[0])

    assert output(**row.inputs) == row.expected_within_its_tolerance


def shunt_reference(cathode: str, upper: float, lower: float, **values: float) -> Board:
    """A 431 type whose divider watches RAIL."""
    pins = {"cathode": cathode, "anode": GROUND, "reference": "REF"}
    own = {"dynamic_resistance": 1e-3, "cathode_voltage_effect": 0.0, "off_current": 0.0}
    board = Board().part("U", "shunt-reference", pins, **own, **values)
    return board.resistor("R1", "RAIL", "REF", upper).resistor("R2", "REF", GROUND, lower)


@pytest.mark.parametrize("row", published("shunt reference"), ids=str)
def test_voltage_that_a_shunt_reference_holds(row: Row) -> None:
    board = shunt_reference("RAIL", **row.inputs)
    board.source("V", "IN", 12.0).resistor("RS", "IN", "RAIL", 4.7e3)
    assert board.solve().potential("RAIL")[0] == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("shunt reference"), ids=str)
def test_voltage_at_which_a_shunt_reference_fires(row: Row) -> None:
    board = shunt_reference("K", **row.inputs)
    board.source("VR", "RAIL", 4.0).source("V", "IN", 12.0).resistor("RS", "IN", "K", 1e3)
    board.cross("VR", "voltage", ("U", "current"))
    begin = board.solve({("", "given VR.voltage"): 5.5})
    fires = crossed("VR", "voltage", {("U", "current"): 1.0}, 1e-3)
    found = board.solve(fires, start=begin)
    assert found.potential("RAIL")[0] == row.expected_within_its_tolerance
