"""Whether a way for current leads from the input to the outputs."""

from __future__ import annotations

from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.fed import Fed

SHUNT = resistor("R2", "MID", "OUT", 0.1)
SUPPLY = (
    part("Q1", "bipolar-transistor", "collector = IN, base = B, emitter = MID", 'use = "2N3055"')
    + resistor("R1", "IN", "B", 1000)
    + resistor("R3", "OUT", "GND", 1000)
    + part("C1", "capacitor", "plus = MID, minus = OUT", 'use = "film 1 µF 63 V"')
)


def faults(text: str) -> list[tuple[str, str]]:
    """(subject, first cause)."""
    answer = Fed().look(survey_of(supply(text)))
    assert answer.looked == ["main"]
    return [(fault.subject, fault.causes[0][0]) for fault in answer.faults]


def test_a_way_through_transistor_and_shunt_holds() -> None:
    assert faults(SUPPLY + SHUNT) == []


def test_without_the_shunt_nothing_feeds_the_output() -> None:
    # A capacitor carries no direct current; the way ends where it is.
    assert faults(SUPPLY) == [("main", "C1")]


def test_a_way_through_ground_is_none() -> None:
    assert faults(resistor("R1", "IN", "GND", 1000) + resistor("R2", "OUT", "GND", 1000)) == [
        ("main", "R2")
    ]


def test_a_shunt_in_the_return_is_no_missing_feed() -> None:
    text = supply(resistor("R1", "IN", "OUT", 10) + resistor("R2", "BACK", "GND", 0.1))
    text = text.replace('plus = "OUT", minus = "GND"', 'plus = "OUT", minus = "BACK"')
    assert Fed().look(survey_of(text)).faults == []


def test_a_way_through_what_switches_holds() -> None:
    pins = "input = IN, switch = SW, ground = GND, feedback = OUT"
    regulator = part("U1", "step-down-regulator", pins, 'use = "step-down 150 kHz 3 A"')
    coil = part("L1", "inductor", "one = SW, two = OUT", 'use = "inductor 68 µH 3 A"')
    assert faults(regulator + coil) == []
    # The same with the coil on another net: its end leads nowhere.
    assert faults(regulator + coil.replace('"OUT"', '"RAIL"')) == [("main", "U1")]


def test_a_capacitor_carries_on_what_switches_to_and_fro() -> None:
    pins = "input = IN, switch = SW, ground = GND, feedback = GND"
    pump = part("U1", "step-down-regulator", pins, 'use = "step-down 150 kHz 3 A"')
    pump += part("C1", "capacitor", "plus = SW, minus = P", 'use = "film 1 µF 63 V"')
    pump += part("D1", "diode", "anode = P, cathode = OUT", 'use = "1N5822"')
    pump += part("D2", "diode", "anode = GND, cathode = P", 'use = "1N5822"')
    assert faults(pump) == []
