"""The output without its sense leads: by the divider that is left, and what the input gives."""

from __future__ import annotations

import pytest
from surveys.supplies import EXACT, part, resistor, supply, survey_of

from railwright.checks.remote_sense import RemoteSense

LEAD = f'use = "wire AWG 18"\nresistance = {{ typical = "20 mΩ", {EXACT} }}'
REGULATOR = part(
    "U1", "adjustable-low-dropout-regulator",
    "input = IN, output = LOCAL, ground = GND, feedback = FB", 'use = "1763 type adjustable 0.5 A"'
)  # fmt: skip
UPPER = resistor("R1", "SENSE", "FB", 3100.0)
TO_LEAD, TO_GROUND = (resistor("R2", "FB", net, 1000.0) for net in ("BACK", "GND"))


def wire(ref: str, one: str, two: str) -> str:
    return part(ref, "wire", f"one = {one}, two = {two}", LEAD)


LEADS = wire("W1", "LOCAL", "OUT") + wire("W2", "RETURN", "GND")
PLUS, MINUS = wire("W3", "OUT", "SENSE"), wire("W4", "RETURN", "BACK")
HOLDS = resistor("R3", "LOCAL", "SENSE", 100.0) + resistor("R4", "BACK", "GND", 100.0)


def faults(parts: str, output: str, lower: str = TO_LEAD) -> dict[str, list[str]]:
    text = supply(REGULATOR + UPPER + lower + LEADS + parts, output=output, amperes=(0.1, 0.4))
    text = text.replace('plus = "OUT", minus = "GND"', 'plus = "OUT", minus = "RETURN"')
    survey = survey_of(text)
    answer = RemoteSense().look(survey)
    assert list(answer.looked) == ["W3", "W4"]
    told: dict[str, list[str]] = {"W3": [], "W4": []}
    for fault in answer.faults:
        assert fault.proven, fault.because
        told[fault.subject].append(fault.because)
    return told


def off(told: dict[str, list[str]]) -> list[str]:
    """What is told of leads that come off and touch nothing."""
    return [because for each in told.values() for because in each if "comes off, " in because]


def test_resistors_beside_the_leads_keep_hold_of_the_output() -> None:
    """They leave 5 V x (1 + 100 Ω / 4.1 kΩ)."""
    assert off(faults(PLUS + MINUS + HOLDS, 'never_above = "6 V"')) == []


def test_nothing_holds_the_output_when_the_lead_comes_off() -> None:
    """The feedback pin is at 0 V then: all of the input, less the dropout, is at the output."""
    (told,) = off(faults(PLUS + MINUS, 'never_above = "6 V"'))
    assert "W3, which senses main, comes off" in told
    volts = float(told.split("goes to ")[1].split(" V;")[0])
    assert 9.0 < volts < 10.0


@pytest.mark.parametrize(("lower", "most", "told"), [
    (TO_GROUND, "11 V", []),
    (TO_GROUND, "9 V", ["comes off and touches RETURN", "is exchanged with W4"]),
    (TO_LEAD, "9 V", ["comes off and touches RETURN"]),
], ids=["the load survives it", "nothing at the feedback", "more at the feedback"])  # fmt: skip
def test_leads_that_are_mixed_up(lower: str, most: str, told: list[str]) -> None:
    """Where nothing is left at the feedback pin the input alone bounds the output.

    Exchanged, with the divider between both leads, it is turned over: 1.22 V x 4.1 / 3.1 are left.
    """
    found = faults(PLUS + MINUS + HOLDS, f'never_above = "{most}"', lower)
    assert found["W4"] == []
    assert len(found["W3"]) == len(told)
    assert all(words in because for words, because in zip(told, found["W3"], strict=True))


def test_leads_that_carry_the_load_are_no_sense_leads() -> None:
    text = supply(REGULATOR + UPPER.replace("SENSE", "OUT") + TO_GROUND
                  + wire("W1", "LOCAL", "OUT"), amperes=(0.1, 0.4))  # fmt: skip
    assert RemoteSense().look(survey_of(text)).looked == []
