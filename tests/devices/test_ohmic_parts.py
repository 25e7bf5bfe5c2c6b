"""Resistors, wires, terminals and switches: Ohm's law in networks known otherwise."""

from __future__ import annotations

import pytest
from devices.solving import Part, resistor, solved, source
from published import Row, published

from railwright.standards.wire import area, resistance

ENDS = {"one": "IN", "two": "OUT"}
FOOT = 0.3048  # m


def test_resistors_in_an_unbalanced_bridge() -> None:
    """Second form: the upper three as a star instead of a delta (any textbook of circuits)."""
    upper, other, across, lower, last = 100.0, 220.0, 470.0, 330.0, 150.0
    parts = [
        source("V", "T", resistance=1e-9),
        resistor("R1", "T", "A", upper),
        resistor("R2", "T", "B", other),
        resistor("R3", "A", "B", across),
        resistor("R4", "A", "GND", lower),
        resistor("R5", "B", "GND", last),
    ]
    found = solved(parts, V_voltage=10.0)
    whole = upper + other + across
    top, left, right = upper * other / whole, upper * across / whole, other * across / whole
    left, right = left + lower, right + last
    current = 10.0 / (top + left * right / (left + right))
    star = 10.0 - current * top
    assert found["A"] == pytest.approx(star * lower / left, rel=1e-6)
    assert found["B"] == pytest.approx(star * last / right, rel=1e-6)
    heat = sum(found[f"R{number}.power"] for number in range(1, 6))
    assert heat == pytest.approx(10.0 * current, rel=1e-6)


@pytest.mark.parametrize("row", published("resistance of a wire gauge"), ids=str)
def test_a_wire_drops_what_the_table_of_its_gauge_says(row: Row) -> None:
    """1000 feet at 1 A: as many volts as the table has ohms."""
    ohms = resistance(1000.0 * FOOT, area(**row.inputs))
    wire = Part("W", "wire", ENDS, {"resistance": ohms})
    draws = Part("LD", "load", {"plus": "OUT", "minus": "GND"}, {}, {"style": "constant-current"})
    found = solved(
        [source("V", "IN", resistance=1e-9), wire, draws], V_voltage=200.0, LD_current=1.0
    )
    assert found["W.voltage"][0] == row.expected_within_its_tolerance
    assert found["W.power"] == pytest.approx(ohms, rel=1e-6)


@pytest.mark.parametrize("kind", ["wire", "terminal"])
@pytest.mark.parametrize("pins", [ENDS, {"one": "OUT", "two": "IN"}], ids=["ahead", "back"])
def test_what_a_conductor_takes_is_what_its_ends_lack(kind: str, pins: dict[str, str]) -> None:
    """Second form: the divider of its resistance and the load, either way round."""
    part = Part("X", kind, pins, {"resistance": 0.05})
    parts = [source("V", "IN", resistance=1e-9), part, resistor("R", "OUT", "GND", 5.0)]
    found = solved(parts, V_voltage=5.0)
    assert found["OUT"] == pytest.approx(25.0 / 5.05, rel=1e-6)
    assert found["X.power"] == pytest.approx(0.05 * (5.0 / 5.05) ** 2, rel=1e-6)


@pytest.mark.parametrize("rest", ["open", "closed"])
def test_a_switch_connects_either_way_round_and_insulates(rest: str) -> None:
    """Closed it is its contact's resistance; open at least 1 GΩ are left, as in usual sheets."""
    part = Part("S", "switch", ENDS, {"contact_resistance": 0.01}, {"rest": rest})
    parts = [source("V", "IN", resistance=1e-9), part, resistor("R", "OUT", "GND", 1.0)]
    found = solved(parts, V_voltage=3.0, S_operated=[0.0, 1.0])
    closed, open_ = (0, 1) if rest == "closed" else (1, 0)
    assert found["S.current"][closed] == pytest.approx(3.0 / 1.01, rel=1e-6)
    assert 0.0 < found["S.current"][open_] <= 3.0 / 1e9
