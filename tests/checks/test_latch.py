"""The latch on a slow rise: forced over late, left in two states, or forced all the way."""

from __future__ import annotations

from surveys.supplies import gate, part, resistor, supply, survey_of

from railwright.checks.check import WiringAnswer
from railwright.checks.latch import PowerUp
from railwright.engine.two_state import MOST_PARTS

TRIP = 'overload = { style = "trip", carry = "1 mA", act_by = "2 mA", at_power_up = "on" }'


def gates(count: int = 2) -> str:
    """Cross-coupled gates at 5 V; further ones are idle inverters."""
    crossed = gate("U1", "SET", "OUT", "OTHER") + gate("U2", "RESET", "OTHER", "OUT")
    idle = [gate(f"U{n}", "OUT", "OUT", f"N{n}") for n in range(3, count + 1)]
    return (crossed + "".join(idle)).replace('supply = "IN"', 'supply = "Z"')


FIVE = part("D1", "zener", "cathode = Z, anode = GND", 'use = "zener 5V1 0.5 W"') + resistor(
    "R1", "IN", "Z", 470.0
)
"""A zener rail that stays where it is from 6 V of input on."""
LOCKOUT = (
    part(
        "U9",
        "comparator",
        "plus = Z, minus = PART, output = SET, supply = IN, ground = GND",
        'use = "391 type"',
    )
    + resistor("R8", "IN", "PART", 1e4)
    + resistor("R9", "PART", "GND", 1e4)
)
"""Pulls SET low from 10 V of input on."""


def look(parts: str) -> WiringAnswer:
    text = supply(FIVE + parts, input=(7.0, 8.0, 12.0), volts=(4.0, 5.0), output=TRIP)
    return PowerUp().look(survey_of(text))


SET_HIGH = resistor("R2", "Z", "SET", 1e4)
RESET_LOW = resistor("R3", "RESET", "GND", 1e4)
RESET_HIGH = resistor("R3", "RESET", "Z", 1e4)


def test_a_network_that_forces_the_wanted_state_holds() -> None:
    answer = look(gates() + SET_HIGH + RESET_LOW)
    assert answer.looked == ["U1"]
    assert answer.faults == []


def test_a_latch_forced_over_after_its_rail_has_settled_falls_short() -> None:
    (fault,) = look(gates() + SET_HIGH + RESET_LOW + LOCKOUT).faults
    assert fault.proven
    assert "past 10" in fault.because
    assert "U9 puts the latch into the other state" in fault.because
    assert fault.causes == [("U9", "output")]


def test_a_latch_that_nothing_forces_is_not_proven() -> None:
    (fault,) = look(gates() + SET_HIGH + RESET_HIGH).faults
    assert not fault.proven
    assert "can rest in 2 states" in fault.because


def test_more_parts_than_can_be_tried_are_not_proven() -> None:
    (fault,) = look(gates(MOST_PARTS + 1) + SET_HIGH + RESET_LOW).faults
    assert not fault.proven
    assert f"{MOST_PARTS + 1} gates" in fault.because


def latch(reset: str) -> str:
    """A latch of the 4043 type at 5 V whose output is alone on its net."""
    pins = f"set = SET, reset = {reset}, output = OUT, supply = Z, ground = GND"
    return part("U1", "sr-latch", pins, 'use = "4043 type"') + resistor("R2", "SET", "GND", 1e4)


def test_a_latch_in_a_package_that_nothing_forces_is_not_proven() -> None:
    (fault,) = look(latch("RESET") + RESET_LOW).faults
    assert not fault.proven
    assert "can rest in 2 states" in fault.because


def test_a_latch_in_a_package_is_forced_by_its_reset() -> None:
    answer = look(latch("RESET") + RESET_HIGH)
    assert answer.looked == ["U1"]
    assert answer.faults == []
