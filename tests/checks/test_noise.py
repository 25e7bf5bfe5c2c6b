"""Noise at the terminals against Nyquist's formula, and where a part does not state any."""

from __future__ import annotations

from math import pi, sqrt
from pathlib import Path

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

BOLTZMANN = 1.380649e-23
HOT = 333.15  # K
BAND = 100e3 - 10.0


def finding(text: str) -> Finding:
    (found,) = [
        f
        for f in prove(read_text(text, "quiet.toml"), only=("noise",)).findings
        if f.id == "noise.output"
    ]
    return found


def halved(allowed: str, farads: float = 0.0) -> str:
    """Half of 10 V by two resistors of 1 MΩ, up to 60 °C."""
    parts = resistor("R1", "IN", "OUT", 1e6) + resistor("R2", "OUT", "GND", 1e6)
    if farads:
        value = f'capacitance = {{ typical = "{farads} F", tolerance = "0 %" }}\n'
        value += 'esr = "1 mΩ"\nleakage = "1 pA"\nrated_voltage = "50 V"\n'
        more = 'options = { dielectric = "film" }'
        parts += part("C1", "capacitor", "plus = OUT, minus = GND", value + more)
    return supply(parts, output=f'noise = "{allowed}"', ambient=(25.0, 60.0))


def nyquist(ohms: float, band: float) -> float:
    return sqrt(4.0 * BOLTZMANN * HOT * ohms * band)


def test_a_divider_makes_the_noise_of_both_resistors_side_by_side() -> None:
    found = finding(halved("40 µV"))
    assert found.verdict == "holds"
    assert found.value == pytest.approx(nyquist(0.5e6, BAND), rel=1e-3)
    assert found.curves[0].lines[0].up == pytest.approx(nyquist(0.5e6, 1.0), rel=1e-3)
    assert found.where is not None
    assert found.where.ambient == pytest.approx(HOT)
    assert "mostly from R" in found.because


def test_more_noise_than_the_need_allows_falls_short() -> None:
    found = finding(halved("25 µV"))
    assert found.verdict == "falls short"
    assert found.margin == pytest.approx(25e-6 - nyquist(0.5e6, BAND), rel=1e-2)


def test_a_capacitor_leaves_what_is_below_its_corner() -> None:
    """Far below 100 kHz a lag has the noise band pi / 2 times its corner: kT/C in all."""
    ohms, farads = 0.5e6, 1e-9
    corner = 1.0 / (2.0 * pi * ohms * farads)
    found = finding(halved("40 µV", farads))
    # 10 Hz and 100 kHz cut off a little at either end.
    assert found.value == pytest.approx(nyquist(ohms, pi / 2.0 * corner), rel=0.03)


def test_noise_that_nobody_states_is_not_proven() -> None:
    lamp = (Path(__file__).parents[1] / "data" / "night_lamp.toml").read_text("utf-8")
    found = finding(lamp)
    assert found.verdict == "not proven"
    assert "U1 (adjustable-regulator) has no" in found.because
