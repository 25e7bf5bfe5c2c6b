"""An ohmmeter on networks that can be worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import resistor, supply

from railwright.circuit.circuit import Circuit
from railwright.circuit.design import read_text
from railwright.engine.assembly import bridge_name
from railwright.surveys.crossbar import NOWHERE
from railwright.surveys.fault_modes import Change
from railwright.surveys.ohms import MOST, Ohms, pairs_of, parts_alone

CHAIN = (
    resistor("R1", "IN", "HIGH", 1e3, "1 %")
    + resistor("R2", "HIGH", "OUT", 2e3, "1 %")
    + resistor("R3", "OUT", "GND", 7e3, "1 %")
    + resistor("R4", "OUT", "GND", 7e3, "1 %")
)
PAIRS = [("IN", "GND"), ("OUT", "GND"), ("HIGH", "OUT")]


@pytest.fixture(scope="module")
def circuit() -> Circuit:
    return read_text(supply(CHAIN), "small.toml").circuit


def read(circuit: Circuit, *changes: Change, **moves: str) -> list[float]:
    ohms = Ohms(circuit, {}, 2, 1)
    moved = {("R4", pin): net for pin, net in moves.items()}
    return [float(v) for v in ohms.read(changes, moved, PAIRS)[:, 0]]


def test_series_and_parallel(circuit: Circuit) -> None:
    # Series and parallel resistance (definition): 1k + 2k + 7k || 7k.
    assert read(circuit) == pytest.approx([6.5e3, 3.5e3, 2e3], rel=1e-4)


def test_another_value_a_bridge_and_a_loose_pin(circuit: Circuit) -> None:
    assert read(circuit, Change(("R2", "resistance"), 2.0, 0.0))[2] == pytest.approx(4e3, rel=1e-4)
    shorted = read(circuit, Change(bridge_name("HIGH", "OUT"), 0.0, 10.0))
    assert shorted == pytest.approx([4.5e3, 3.5e3, 0.1], rel=1e-3)
    assert read(circuit, one=NOWHERE) == pytest.approx([1e4, 7e3, 2e3], rel=1e-4)


def test_what_is_open_is_over_the_range(circuit: Circuit) -> None:
    values = read(circuit, Change(("R1", "resistance"), 0.0, 1e9))
    assert values[0] == MOST
    assert np.isfinite(values).all()


def test_pairs_are_each_there_once(circuit: Circuit) -> None:
    pairs = pairs_of(circuit, "GND")
    assert len({frozenset(pair) for pair in pairs}) == len(pairs)
    assert ("IN", "HIGH") in pairs
    assert ("HIGH", "GND") in pairs


def test_a_part_alone_is_read_without_what_it_stands_beside(circuit: Circuit) -> None:
    # Nothing of the board conducts across a part of which a lead is lifted: its value is read.
    ohms = Ohms(circuit, {}, 2, 1)
    assert ("R4", "OUT", "GND") in parts_alone(circuit)
    assert ohms.alone("R4", ()) == pytest.approx(7e3, rel=1e-4)
    million = Change(("R4", "resistance"), 0.0, 1e6)
    assert ohms.alone("R4", [million]) == pytest.approx(1e6, rel=1e-3)
    shorted = Change(bridge_name("OUT", "GND"), 0.0, 10.0)
    assert ohms.alone("R4", [shorted]) == pytest.approx(0.1, rel=1e-3)
