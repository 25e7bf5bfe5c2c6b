"""Who needs a capacitor across its supply, and which capacitors count as one."""

from __future__ import annotations

import pytest
from surveys.supplies import gate, part, resistor, supply, survey_of

from railwright.checks.decoupling import Decoupling

LOAD = resistor("R1", "OUT", "GND", 1e6)
GATE = gate("U1", "IN", "IN", "OUT") + LOAD
SMALL, USUAL = "ceramic 1 nF 50 V class 1", "ceramic 100 nF 50 V class 2"


def capacitor(plus: str, minus: str, use: str = USUAL) -> str:
    return part(f"C{plus}{minus}", "capacitor", f"plus = {plus}, minus = {minus}", f'use = "{use}"')


def wire(ref: str, one: str, two: str, ohms: str) -> str:
    return part(ref, "wire", f"one = {one}, two = {two}", f'resistance = "{ohms}"')


def faults(parts: str) -> list[str]:
    return [fault.subject for fault in Decoupling().look(survey_of(supply(parts))).faults]


@pytest.mark.parametrize(("parts", "wanted"), [
    ("", ["U1"]),
    (capacitor("IN", "GND"), []),
    (capacitor("GND", "IN"), []),
    (capacitor("IN", "GND", SMALL), ["U1"]),
    (capacitor("OUT", "GND"), ["U1"]),
    (capacitor("NEAR", "GND") + wire("W1", "IN", "NEAR", "20 mΩ"), []),
    (capacitor("FAR", "GND") + resistor("R2", "IN", "FAR", 100), ["U1"]),
    (capacitor("IN", "MID") + capacitor("MID", "GND") + resistor("R2", "MID", "GND", 1e3), []),
], ids=["none", "across", "the other way", "too small", "at its output", "through a wire",
        "behind a resistor", "one from each side"])  # fmt: skip
def test_which_capacitor_counts(parts: str, wanted: list[str]) -> None:
    assert faults(GATE + parts) == wanted


def test_one_serves_all_that_share_its_nets() -> None:
    two = GATE + gate("U2", "IN", "OUT", "AND") + resistor("R3", "AND", "GND", 1e6)
    assert faults(two) == ["U1", "U2"]
    assert faults(two + capacitor("IN", "GND")) == []


def test_regulators_have_windows_instead() -> None:
    regulator = part(
        "U1", "fixed-regulator", "input = IN, output = OUT, ground = GND", 'use = "7805 type 1 A"'
    )
    assert Decoupling().look(survey_of(supply(regulator))).looked == []
