"""Open pins, and who is named for a lead that leads nowhere."""

from __future__ import annotations

from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.wiring import OpenPin


def wire(ref: str, one: str, two: str) -> str:
    value = 'resistance = { typical = "10 mΩ", tolerance = "10 %" }'
    return part(ref, "wire", f"one = {one}, two = {two}", f'use = "wire AWG 18"\n{value}')


def feed(*leads: str) -> list[tuple[str, list[str]]]:
    """(subject, causes) of what is open behind a regulator that has a divider at its output."""
    pins = "input = IN, output = LOCAL, ground = GND"
    text = part("U1", "fixed-regulator", pins, 'use = "7805 type 1 A"')
    text += resistor("R1", "LOCAL", "TAP", 1000) + resistor("R2", "TAP", "GND", 1000)
    faults = OpenPin().look(survey_of(supply(text + "".join(leads)))).faults
    return [(fault.subject, [ref for ref, _ in fault.causes]) for fault in faults]


def test_leads_one_behind_the_other_hold() -> None:
    assert feed(wire("W1", "LOCAL", "LEAD"), wire("W2", "LEAD", "OUT")) == []


def test_the_lead_that_passes_an_open_one_by_is_named_first() -> None:
    # W2 and U1 lead on to a terminal each, and W2 has no other business; the divider leads to 0 V.
    assert feed(wire("W1", "LOCAL", "LEAD"), wire("W2", "LOCAL", "OUT")) == [
        ("W1", ["W2", "U1", "R1"])
    ]


def test_a_lead_that_is_elsewhere_is_none_of_them() -> None:
    assert feed(wire("W1", "LOCAL", "LEAD"), wire("W2", "IN", "OUT")) == [("W1", ["U1", "R1"])]
