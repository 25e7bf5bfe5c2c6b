"""What the terminals show when a control is turned, against a second-order step response."""

from __future__ import annotations

import numpy as np
import pytest
from checks.test_transients import VOLTS, capacitor, coil, exactly
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

HENRIES, FARADS, WINDING, TRACK = 10.0, 10e-3, 1.0, 10.0
LOW, HIGH = 2.0, 8.0
KNOB = """
[[control]]
part = "RV1"
value = "position"
sets = "main.voltage"
role = "set"
"""


def turned(never_above: float) -> Finding:
    """What a proof says of a slow coil and capacitor behind a potentiometer across 10 V."""
    parts = (
        part(
            "RV1",
            "potentiometer",
            "one = IN, wiper = MID, two = GND",
            'use = "potentiometer single-turn 2 kΩ"\n'
            + exactly("resistance", TRACK, "Ω")
            + exactly("contact_resistance", 1e-3, "Ω")
            + exactly("end_resistance", 1e-3, "Ω"),
        )
        + coil(HENRIES, WINDING, "MID")
        + capacitor(FARADS, 1e-2)
        + resistor("R1", "OUT", "GND", 1e5)
    )
    text = supply(
        parts + KNOB,
        input=(VOLTS, VOLTS, VOLTS),
        volts=(LOW, HIGH),
        amperes=(1e-3, 0.1),
        output=f'never_above = "{never_above} V"',
    )
    findings = prove(read_text(text, "knob.toml"), only=("transient.control-step",)).findings
    (one,) = (f for f in findings if f.id == "transient.control-step")
    return one


def test_a_turn_rings_in_coil_and_capacitor() -> None:
    """From 2 V to 8 V: 6 V (1 + exp(-pi z / sqrt(1 - z^2))), z = R/2 sqrt(C/L).

    Ogata, Modern Control Engineering, section 5.3 (from memory). R is that of the winding and of
    the track as seen from its wiper; a turn of 0.1 s is short against the period of 2 s.
    """
    seen = WINDING + TRACK * (HIGH / VOLTS) * (1.0 - HIGH / VOLTS)
    ratio = seen / 2.0 * np.sqrt(FARADS / HENRIES)
    peak = LOW + (HIGH - LOW) * (1.0 + np.exp(-np.pi * ratio / np.sqrt(1.0 - ratio**2)))
    rung = turned(12.0)
    assert rung.value == pytest.approx(peak, rel=0.01)
    assert rung.verdict == "falls short"
    assert turned(16.0).verdict == "holds"
