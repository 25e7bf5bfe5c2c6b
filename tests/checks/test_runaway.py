"""Thermal runaway: reverse leakage of a Schottky diode against the tangent of loss and cooling.

Loss that grows e-fold every d kelvin and heat that leaves through a thermal resistance R have a
balance only where the loop gain R × dP/dT reaches 1 no sooner than both are equal: at a rise of d
above air, P × R = d (with a doubling every 10 K: P × R × log(2) / 10 K = 1). Textbooks of power
electronics and of Schottky rectifiers state it so; common practice, no one source.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK

FIVE = (Path(__file__).parents[1] / "data" / "trimmed_five_volts.toml").read_text("utf-8")
LEAKY = """
[[part]]
ref = "D1"
kind = "diode"
forward_voltage = { typical = "0.2 V", tolerance = "0 %" }
test_current = { typical = "1 A", tolerance = "0 %" }
ideality = { typical = 1.05, tolerance = "0 %" }
series_resistance = { typical = "10 mΩ", tolerance = "0 %" }
gap = { typical = "0.69 V", tolerance = "0 %" }
junction_to_case = { typical = "1 K/W", tolerance = "0 %" }
junction_to_ambient = { typical = "RTH K/W", tolerance = "0 %" }
junction_limit = "125 °C"
reverse_voltage = "40 V"
forward_current = "3 A"
pins = { anode = "GND", cathode = "IN" }
"""
AIR, ROOM, PER_KELVIN = 313.15, 298.15, 8.617333e-5
"""Hottest air and room [K]; Boltzmann's constant over the elementary charge [V/K]."""


def loss(kelvin: np.ndarray | float) -> np.ndarray:
    """Leakage × 13 V: Is ~ T^(3/n) × exp(-gap / (n k T)), and 0.19 V at 1 A in the junction."""
    n = 1.05
    at_room = 1.0 / np.expm1(0.19 / (n * PER_KELVIN * ROOM))
    barrier = 0.69 / (n * PER_KELVIN) * (1.0 / ROOM - 1.0 / np.asarray(kelvin))
    grown = (np.asarray(kelvin) / ROOM) ** (3.0 / n) * np.exp(barrier)
    return np.asarray(13.0 * at_room * grown)


def critical() -> float:
    """The thermal resistance at which the tangent of loss goes through the air [K/W]."""
    rise = 12.0
    for _ in range(50):  # the rise is that in which loss grows e-fold there
        here = AIR + rise
        rise = 1e-3 / float(np.log(loss(here + 1e-3) / loss(here)))
    return rise / float(loss(AIR + rise))


@cache
def junction(kelvin_per_watt: float) -> Finding:
    text = FIVE + LEAKY.replace("RTH", f"{kelvin_per_watt:.3f}")
    proof = prove(read_text(text, "leaky.toml"), depth=QUICK, only=("heat.junction",))
    (found,) = [f for f in proof.findings if f.subject == "D1 junction_limit"]
    return found


def test_below_the_critical_resistance_it_is_as_hot_as_loss_and_cooling_balance() -> None:
    resistance = 0.95 * critical()
    rise = 0.0
    for _ in range(500):  # from cold on to the lower of the two balances
        rise = resistance * float(loss(AIR + rise))
    found = junction(resistance)
    assert found.verdict == "holds"
    assert found.value == pytest.approx(AIR + rise, abs=0.5)


@pytest.mark.parametrize("above", [1.05, 1.3, 3.0])
def test_above_it_the_diode_falls_short_by_what_is_lacking(above: float) -> None:
    resistance = above * critical()
    rises = np.linspace(0.0, 398.15 - AIR, 2000)
    lacking = float(np.max(rises - resistance * loss(AIR + rises)))
    found = junction(resistance)
    assert found.verdict == "falls short"
    assert "runs away" in found.because
    assert found.margin == pytest.approx(lacking, abs=0.05 * abs(lacking) + 0.4)
