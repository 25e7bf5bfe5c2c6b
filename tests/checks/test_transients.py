"""What happens to a supply in time, against closed forms of linear circuits."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

VOLTS, LEAST, MOST = 10.0, 0.1, 0.8
STEP = MOST - LEAST


def exactly(name: str, value: float, unit: str) -> str:
    """A value without spread."""
    return f'{name} = {{ typical = "{value} {unit}", tolerance = "0 %" }}\n'


def capacitor(farads: float, ohms: float) -> str:
    values = exactly("capacitance", farads, "F") + exactly("esr", ohms, "Ω")
    rated = 'leakage = "1 nA"\nrated_voltage = "100 V"\noptions = { dielectric = "film" }'
    return part("C1", "capacitor", "plus = OUT, minus = GND", values + rated)


def coil(henries: float, ohms: float, one: str = "IN") -> str:
    values = exactly("inductance", henries, "H") + exactly("winding_resistance", ohms, "Ω")
    rated = 'saturation_current = "1000 A"\nrated_current = "10 A"'
    return part("L1", "inductor", f"one = {one}, two = OUT", values + rated)


def step(deviation: str = "2 V", settle: str = "1 ms") -> str:
    return (
        f'accuracy = "1 %"\nload_step = {{ from = "{LEAST} A", to = "{MOST} A", rise = "10 ns", '
        f'deviation = "{deviation}", settle = "{settle}" }}'
    )


@cache
def findings(parts: str, output: str) -> dict[str, Finding]:
    """What a proof says of the rail, by check."""
    text = supply(
        parts,
        input=(VOLTS, VOLTS, VOLTS),
        volts=(VOLTS, VOLTS),
        amperes=(LEAST, MOST),
        output=output,
    )
    return {f.id: f for f in prove(read_text(text, "step.toml")).findings if f.subject == "main"}


OHMS, FARADS, ESR = 1.0, 100e-6, 0.2


def test_a_load_step_on_a_capacitor_settles_with_its_time_constant() -> None:
    """v = -I (R - (R - R r/(R + r)) e^(-t/T)), T = (R + r) C: by hand from Kirchhoff's laws."""
    parts = resistor("R1", "IN", "OUT", OHMS) + capacitor(FARADS, ESR)
    moved = findings(parts, step())["transient.load-step"]
    assert moved.value == pytest.approx(STEP * OHMS, rel=0.01)
    assert (moved.verdict, moved.limit) == ("holds", 2.0)
    lasting = STEP * (OHMS - OHMS * ESR / (OHMS + ESR))
    wanted = (OHMS + ESR) * FARADS * np.log(lasting / (0.01 * VOLTS))
    took = findings(parts, step())["transient.settle"]
    assert took.value == pytest.approx(wanted, rel=0.08)  # instants lie that far apart
    assert took.verdict == "holds"
    late = findings(parts, step(deviation="0.6 V", settle=f"{wanted / 1.2} s"))
    assert late["transient.load-step"].verdict == "falls short"
    assert late["transient.settle"].verdict == "falls short"


def test_a_load_step_rings_with_coil_and_capacitor() -> None:
    """Step response of (R + s L) / (1 + s R C + s^2 L C), inverted by hand."""
    henries, ohms = 100e-6, 0.1
    damping = (ohms + 1e-4) / (2.0 * henries)
    turns = np.sqrt(1.0 / (henries * FARADS) - damping**2)
    time = np.linspace(0.0, 10e-3, 100_001)
    swing = -ohms * np.cos(turns * time)
    swing += (1.0 / FARADS - damping * ohms) / turns * np.sin(turns * time)
    peak = STEP * np.max(ohms + np.exp(-damping * time) * swing)
    parts = coil(henries, ohms) + capacitor(FARADS, 1e-4)
    found = findings(parts, step(deviation="0.5 V"))["transient.load-step"]
    assert found.value == pytest.approx(peak, rel=0.01)
    assert found.verdict == "falls short"


def test_what_swings_without_an_end_does_not_settle() -> None:
    parts = coil(1e-3, 1e-4) + capacitor(FARADS, 1e-4)
    found = findings(parts, step())["transient.settle"]
    assert found.verdict == "falls short"
    assert "still moves" in found.because
