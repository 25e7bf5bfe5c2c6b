"""Panel meters: what they show, what they take, and what they do to the circuit."""

from __future__ import annotations

import numpy as np
import pytest
from devices.solving import Part, resistor, solved, source
from published import Row, published

NAME = "panel meter 100 V 10 A"
PINS = {"supply": "S", "ground": "GND", "input": "OUT", "shunt": "RET"}


def meter(**values: float) -> Part:
    return Part("M", "panel-meter", PINS, values, name=NAME)


def board(**values: float) -> list[Part]:
    """A supply that feeds the meter too, and a load whose minus returns through the shunt."""
    own = {"plus": "OUT", "minus": "GND"}
    fed = Part("V", "source", own, {"resistance": 1e-3, "current_limit": 20.0})
    joint = Part("W", "wire", {"one": "OUT", "two": "S"}, {"resistance": 1e-6})
    return [fed, joint, resistor("R", "OUT", "RET", 6.0), meter(**values)]


def test_it_shows_voltage_and_current_with_its_burden() -> None:
    """12 V over 6 Ω and the shunt's 10 mΩ; errors in proportion and of the zero."""
    found = solved(board(), V_voltage=12.0, M_voltage_error=[0.0, 0.01], M_current_error=[0, 0.02])
    amperes = found["OUT"] / 6.01
    assert found["M.current"] == pytest.approx(amperes, rel=1e-9)
    assert found["M.burden"] == pytest.approx(0.01 * amperes, rel=1e-9)
    assert found["M.shown_current"] == pytest.approx(amperes * [1.0, 1.02], rel=1e-9)
    assert found["M.shown_voltage"] == pytest.approx(found["OUT"] * [1.0, 1.01], rel=1e-9)
    # The load has less than what is shown: the burden lies in its minus.
    assert found["R.voltage"] == pytest.approx(found["M.shown_voltage"][0] - 0.01 * amperes)


@pytest.mark.parametrize("row", published("shown current of a panel meter"), ids=str)
def test_its_own_current_passes_by_the_shunt(row: Row) -> None:
    parts = board(supply_current=row.inputs["own"], input_resistance=1e9)
    delivered = row.inputs["delivered"]
    ohms = np.array([12.0]) / (delivered - row.inputs["own"]) - 0.01
    found = solved(parts, V_voltage=12.0 + 1e-3 * delivered, R_resistance=ohms)
    assert found["V.current"][0] == pytest.approx(delivered, rel=1e-4)
    assert found["M.shown_current"][0] == row.expected_within_its_tolerance


def test_its_input_loads_what_it_measures() -> None:
    """100 kΩ behind 100 kΩ: half."""
    parts = [source("V", "IN"), resistor("R", "IN", "OUT", 1e5), source("W", "S"), meter()]
    found = solved([*parts, resistor("RS", "RET", "GND")], V_voltage=20.0, W_voltage=5.0)
    assert found["M.shown_voltage"] == pytest.approx(10.0, rel=1e-3)


def test_without_a_supply_it_is_dark_and_backwards_it_takes_nothing() -> None:
    parts = [source("V", "OUT"), source("W", "S"), resistor("R", "OUT", "RET", 6.0), meter()]
    found = solved(parts, V_voltage=12.0, W_voltage=[0.0, 3.0, 12.0])
    assert found["M.shown_voltage"] == pytest.approx([0.0, 0.0, 12.0], abs=0.01)
    assert found["W.current"] == pytest.approx([0.0, 0.022, 0.022], abs=1e-6)
    turned = Part("M", "panel-meter", {"supply": "GND", "ground": "S"}, name=NAME)
    back = solved([source("W", "S"), resistor("R", "S", "GND", 1e5), turned], W_voltage=12.0)
    assert back["W.current"] == pytest.approx(12.0 / 1e5, rel=1e-3)
