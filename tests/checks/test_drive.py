"""Transistors as switches: base current by its sum, gate voltage by what drives it."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

GAIN = 100.0
AMPERES = 10e-3


def findings(text: str, check: str) -> list[Finding]:
    proof = prove(read_text(text, "switch.toml"), only=(check,))
    return [found for found in proof.findings if found.id == check]


def switched(ohms: float) -> str:
    """12 V through a PNP transistor whose base goes to 0 V by a resistor."""
    exact = f'use = "2N3906"\ncurrent_gain = {{ typical = "{GAIN}", tolerance = "0 %" }}\n'
    exact += 'gain_half_current = { typical = "1000 A", tolerance = "0 %" }'
    parts = part("Q1", "bipolar-transistor", "emitter = IN, base = BASE, collector = OUT", exact)
    parts += resistor("R1", "BASE", "GND", ohms) + resistor("R2", "OUT", "GND", 1e5)
    return supply(parts, input=(12.0,) * 3, volts=(11.8, 11.8), amperes=(AMPERES, AMPERES))


@pytest.mark.parametrize(
    ("ohms", "verdict"), [(10e3, "holds"), (62e3, "marginal"), (100e3, "falls short")]
)
def test_base_current_over_what_the_gain_needs(ohms: float, verdict: str) -> None:
    """(12 V - Vbe) / R times the gain over the load."""
    (found,) = findings(switched(ohms), "headroom.base-drive")
    by_hand = GAIN * (12.0 - 0.75) / ohms / AMPERES
    assert found.value == pytest.approx(by_hand, rel=0.03)
    assert found.verdict == verdict


def test_a_transistor_that_is_not_on_is_not_asked() -> None:
    assert not findings(switched(1e6), "headroom.base-drive")


def gated(volts: float) -> str:
    """A p-channel transistor in the lead, its gate at 0 V."""
    pins = "source = IN, gate = GND, drain = OUT, case = TAB"
    parts = part("Q1", "field-effect-transistor", pins, 'use = "p-channel 100 V 19 A"')
    parts += part("H1", "heat-sink", "face = TAB, air = AMBIENT", 'use = "heat sink 9 K/W"')
    return supply(
        parts + resistor("R1", "OUT", "GND", 1e5),
        input=(volts,) * 3,
        volts=(volts, volts),
        amperes=(0.1, 0.1),
    )


@pytest.mark.parametrize(("volts", "verdict"), [(12.0, "holds"), (5.5, "falls short")])
def test_gate_voltage_against_the_published_one(volts: float, verdict: str) -> None:
    (found,) = findings(gated(volts), "headroom.gate-drive")
    assert found.value == pytest.approx(volts, rel=1e-3)
    assert found.limit == pytest.approx(8.0)
    assert found.verdict == verdict
