"""A fuse before a capacitor feels the integral of what charges it, squared."""

from __future__ import annotations

import math

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

VOLTS, FARADS, OHMS, RISE = 14.0, 4.7e-3, 1.001, 1e-3


def started(melts: float) -> list[Finding]:
    """4.7 mF behind a fuse of 0.1 Ω that forgets within a minute, and 0.9 Ω."""
    exact = 'tolerance = "0 %"'
    values = [f'melting_integral = {{ typical = "{melts} A²s", {exact} }}',
              f'melting_current = {{ typical = "{(melts / 60.0) ** 0.5} A", {exact} }}',
              f'resistance = {{ typical = "0.1 Ω", {exact} }}', 'breaking_capacity = "35 A"',
              'rated_current = "1 A"']  # fmt: skip
    store = f'capacitance = {{ typical = "{FARADS} F", {exact} }}\nleakage = "1 nA"\n'
    store += f'esr = {{ typical = "1 mΩ", {exact} }}\nrated_voltage = "35 V"\n'
    parts = part("F1", "fuse", "one = IN, two = A", "\n".join(values)) + resistor(
        "R1", "A", "OUT", 0.9
    )
    parts += part("C1", "capacitor", "plus = OUT, minus = GND",
                  store + 'options = { dielectric = "electrolytic" }')  # fmt: skip
    text = supply(parts, input=(VOLTS,) * 3, volts=(VOLTS, VOLTS), amperes=(0.0, 0.0))
    found = prove(read_text(text, "fuse.toml"), only=("stress.fuse-start",)).findings
    return [each for each in found if each.id == "stress.fuse-start"]


def test_what_a_capacitor_takes_melts_a_weak_fuse() -> None:
    """A ramp of T into R and C: the integral of i² is (C V / T)² (T - RC (1 - e^(-T/RC)))."""
    lag = OHMS * FARADS
    heat = (FARADS * VOLTS / RISE) ** 2 * (RISE + lag * math.expm1(-RISE / lag))
    (weak,) = started(1.0)
    assert (weak.verdict, weak.subject) == ("falls short", "F1")
    assert weak.value == pytest.approx(heat / 1.0, rel=0.02)
    (strong,) = started(4.0)
    assert (strong.verdict, strong.limit) == ("holds", 0.29)
    assert strong.value == pytest.approx(heat / 4.0, rel=0.02)


def test_a_fuse_that_hardly_feels_it_is_not_asked() -> None:
    assert not started(100.0)
