"""Heat of regulators and transistors, solved with their circuits: figures of others."""

from __future__ import annotations

import numpy as np
import pytest
from circuits import GROUND, Board, crossed
from outside.ideal import REGULATOR, TRANSISTOR
from published import Row, published

from railwright.engine.assembly import AMBIENT
from railwright.engine.topology import AIR

ZERO_CELSIUS = 273.15


def regulator(input: float, output: float, own: float, **values: float) -> Board:
    """A fixed regulator whose tab is on the net TAB. own: its own current [A]."""
    pins = {"input": "IN", "output": "OUT", "ground": GROUND, "case": "TAB"}
    stated = {"output_voltage": output, "quiescent_current": own, **values}
    board = Board().source("V", "IN", input)
    board.part("U", "fixed-regulator", pins, **{**REGULATOR, **stated})
    return board.load("LD", "OUT")


@pytest.mark.parametrize("row", published("heat sink of a regulator"), ids=str)
def test_heat_sink_of_a_regulator(row: Row) -> None:
    def sink(
        load: float, to_case: float, to_sink: float, ambient: float, junction: float, **known: float
    ) -> float:
        """Thermal resistance that leads to a junction temperature; temperatures in °C."""
        board = regulator(**known, junction_to_case=to_case)
        board.part("I", "insulator", {"one": "TAB", "two": "SINK"}, resistance=to_sink)
        board.part("H", "heat-sink", {"face": "SINK", "air": AIR}, resistance=5.0)
        tried = np.linspace(4.0, 6.0, 21)
        lanes = {("H", "resistance"): tried, AMBIENT: ambient + ZERO_CELSIUS}
        hot = board.solve({**lanes, ("LD", "current"): load}, 21).of("U", "junction")
        return float(np.interp(junction + ZERO_CELSIUS, hot, tried))

    assert sink(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("junction of a bare regulator"), ids=str)
def test_junction_of_a_bare_regulator(row: Row) -> None:
    def junction(load: float, to_air: float, ambient: float, **known: float) -> float:
        board = regulator(**known, own=0.0)
        board.part("H", "heat-sink", {"face": "TAB", "air": AIR}, resistance=to_air - 0.01)
        lanes = {("LD", "current"): load, AMBIENT: ambient + ZERO_CELSIUS}
        return float(board.solve(lanes).of("U", "junction")[0]) - ZERO_CELSIUS

    assert junction(**row.inputs) == row.expected_within_its_tolerance


def power_at(case: float, junction: float, to_case: float) -> float:
    """Power that brings a transistor's junction to a temperature, case held [W, °C]."""
    board = Board().source("V", "C", 20.0).source("VB", "B", 10.0).load("LD", "E", 1.0)
    pins = {"collector": "C", "base": "B", "emitter": "E", "case": AIR}
    own = {**TRANSISTOR, "junction_to_case": to_case, "test_current": 4.0}
    own |= {"saturation_test_current": 15.0}
    board.part("Q", "bipolar-transistor", pins, base_emitter_voltage=0.9, **own)
    board.cross("LD", "current", ("Q", "junction"))
    held = {AMBIENT: case + ZERO_CELSIUS}
    begin = board.solve({**held, ("", "given LD.current"): 5.0})
    hot = crossed("LD", "current", {("Q", "junction"): 1.0}, junction + ZERO_CELSIUS)
    return float(board.solve({**held, **hot}, start=begin).of("Q", "power")[0])


@pytest.mark.parametrize("row", published("power of a transistor"), ids=str)
def test_power_of_a_transistor(row: Row) -> None:
    assert power_at(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("derating of a transistor"), ids=str)
def test_derating_of_a_transistor(row: Row) -> None:
    cool, warm = power_at(case=25.0, **row.inputs), power_at(case=35.0, **row.inputs)
    assert (cool - warm) / 10.0 == row.expected_within_its_tolerance
