"""Meters and switches that the need asks for, on circuits that have them or lack them."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.nets import near
from railwright.checks.panel import Panel
from railwright.circuit.design import read_text

METER = 'use = "panel meter 100 V 10 A"'
SHUNTED = "supply = IN, ground = GND, input = OUT, shunt = RETURN"
SWITCH = part("S1", "switch", "one = RAIL, two = OUT", 'use = "toggle switch 6 A, closed"')
ELSEWHERE = part("S1", "switch", "one = RAIL, two = LAMP", 'use = "toggle switch 6 A, closed"')


def told(panel: str, more: str) -> list[str]:
    """What is missing of a rail that a resistor feeds."""
    text = supply(
        resistor("R1", "IN", "RAIL", 1.0)
        + resistor("R2", "OUT", "GND", 1e4)
        + resistor("R3", "RAIL", "OUT" if "S1" not in more or "LAMP" in more else "LAMP", 0.01)
        + resistor("R4", "LAMP", "GND", 1e4)
        + more,
        output=f"panel = {{ {panel} }}",
    )
    text = text.replace('nets = { plus = "OUT", minus = "GND" }', NETS)
    return [fault.because for fault in Panel().look(survey_of(text)).faults]


NETS = 'nets = { plus = "OUT", minus = "RETURN" }'


@pytest.mark.parametrize(
    ("panel", "more", "words"),
    [
        ('meter = "voltage and current"', part("M1", "panel-meter", SHUNTED, METER), []),
        ("switch = true", SWITCH + resistor("R5", "RETURN", "GND", 0.01), []),
        (
            'meter = "voltage and current"',
            part("M1", "panel-meter", SHUNTED.rpartition(",")[0], METER)
            + resistor("R5", "RETURN", "GND", 0.01),
            ["no meter shows the current of main"],
        ),
        (
            'meter = "voltage"',
            resistor("R5", "RETURN", "GND", 0.01),
            ["no meter shows the voltage of main"],
        ),
        (
            "switch = true",
            ELSEWHERE + resistor("R5", "RETURN", "GND", 0.01),
            ["no contact takes main off"],
        ),
    ],
    ids=["meter", "switch", "no shunt", "no meter", "elsewhere"],
)
def test_what_the_need_asks_for_is_there(panel: str, more: str, words: list[str]) -> None:
    found = told(panel, more)
    assert len(found) == len(words)
    assert all(wanted in text for wanted, text in zip(words, found, strict=True))


def test_a_need_that_asks_for_nothing_is_not_looked_at() -> None:
    text = supply(resistor("R1", "IN", "OUT", 1.0) + resistor("R2", "OUT", "GND", 1e4))
    assert Panel().look(survey_of(text)).looked == []


def test_the_shunt_of_a_meter_is_a_conductor() -> None:
    text = supply(
        resistor("R1", "IN", "OUT", 1.0)
        + resistor("R2", "OUT", "RETURN", 1e4)
        + part("M1", "panel-meter", SHUNTED, METER)
    ).replace('nets = { plus = "OUT", minus = "GND" }', NETS)
    circuit = read_text(text, "meter.toml").circuit
    assert near(circuit, ["RETURN"], 1.0)["GND"] == ("M1",)
