"""Stability of an amplifier's loop against closed forms of its return ratio."""

from __future__ import annotations

import re
from itertools import pairwise
from math import atan, degrees, pi, sqrt
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

UNITY, OHMS = 1e6, 100.0
EXACT = (
    f'use = "358 type"\nunity_gain_frequency = {{ typical = "{UNITY} Hz", tolerance = "0 %" }}\n'
    f'output_resistance = {{ typical = "{OHMS} Ω", tolerance = "0 %" }}'
)


def capacitor(ref: str, net: str, farads: float) -> str:
    value = f'capacitance = {{ typical = "{farads} F", tolerance = "0 %" }}\nesr = "1 mΩ"\n'
    rest = 'leakage = "1 nA"\nrated_voltage = "50 V"\noptions = { dielectric = "film" }'
    return part(ref, "capacitor", f"plus = {net}, minus = GND", value + rest)


def buffer(farads: float = 0.0, lags: int = 0) -> str:
    """An amplifier that buffers half of 12 V; lags of 10 kΩ and 10 nF in its feedback."""
    nets = ["OUT", *(f"LAG{n}" for n in range(lags))]
    pins = f"plus = REF, minus = {nets[-1]}, output = OUT, supply = IN, ground = GND"
    parts = [
        resistor("R1", "IN", "REF", 1e4),
        resistor("R2", "REF", "GND", 1e4),
        part("U1", "operational-amplifier", pins, EXACT),
    ]
    for number, (one, two) in enumerate(pairwise(nets)):
        parts += [resistor(f"RL{number}", one, two, 1e4), capacitor(f"CL{number}", two, 1e-8)]
    if farads:
        parts.append(capacitor("C1", "OUT", farads))
    return supply("".join(parts), input=(12.0, 12.0, 12.0), volts=(6.0, 6.0), amperes=(1e-3, 1e-3))


def finding(text: str, check: str) -> Finding:
    (found,) = [
        f
        for f in prove(read_text(text, "buffer.toml"), only=("stability",)).findings
        if f.id == check
    ]
    return found


@pytest.mark.parametrize("farads", [1e-8, 1e-7, 1e-6])
def test_phase_margin_is_that_of_the_return_ratio(farads: float) -> None:
    """T = (fu/jf) / (1 + jf/fp), fp = 1/(2 pi Ro C): any textbook of amplifiers, from memory."""
    pole = 1.0 / (2.0 * pi * OHMS * farads)
    crossing = brentq(lambda f: f * sqrt(1.0 + (f / pole) ** 2) - UNITY, 1.0, UNITY)
    found = finding(buffer(farads), "stability.phase-margin")
    assert found.subject == "U1"
    assert found.value == pytest.approx(90.0 - degrees(atan(crossing / pole)), rel=0.02)
    assert found.verdict == "marginal"
    gain, phase = (each.lines[0] for each in found.curves)
    assert np.interp(crossing, gain.across, gain.up) == pytest.approx(0.0, abs=0.1)
    assert np.interp(crossing, phase.across, phase.up) == pytest.approx(found.value, abs=0.1)
    assert (gain.up[0], phase.up[0]) == (pytest.approx(60.0, abs=30.0), pytest.approx(90.0, abs=9))


def test_an_unloaded_buffer_holds() -> None:
    assert finding(buffer(), "stability.phase-margin").verdict == "holds"
    assert finding(buffer(), "stability.poles").verdict == "holds"


def test_damping_is_that_of_the_closed_loop() -> None:
    """s²/(wu wp) + s/wu + 1: a damping ratio of sqrt(wp/wu) / 2."""
    pole = 1.0 / (2.0 * pi * OHMS * 1e-7)
    found = finding(buffer(1e-7), "stability.poles")
    assert found.value == pytest.approx(-0.5 * sqrt(pole / UNITY), rel=0.02)


def test_three_lags_in_the_feedback_make_an_oscillator() -> None:
    """Each lags by 30° where all of them together lag by the missing 90°, far above unity gain."""
    for check in ("stability.poles", "stability.phase-margin"):
        assert finding(buffer(lags=3), check).verdict == "falls short"
    assert "grows" in finding(buffer(lags=3), "stability.poles").because


COIL, STORE, LOSS = 1e-3, 22e-6, 0.1


def behind_a_filter(damped: bool) -> str:
    """A step-down regulator from 12 V to 5 V at 2.5 A behind a coil and a film capacitor."""
    exact = f'inductance = {{ typical = "{COIL} H", tolerance = "0 %" }}\n'
    exact += f'winding_resistance = {{ typical = "{LOSS} Ω", tolerance = "0 %" }}\n'
    rated = 'saturation_current = "9 A"\nrated_current = "9 A"'
    pins = "input = QUIET, switch = SW, ground = GND, feedback = FB, disable = GND, case = HS"
    parts = [
        part("L1", "inductor", "one = IN, two = QUIET", exact + rated),
        capacitor("C1", "QUIET", STORE),
        part("U1", "step-down-regulator", pins, 'use = "step-down 150 kHz 3 A"'),
        part("D1", "diode", "anode = GND, cathode = SW", 'use = "1N5822"'),
        part("H1", "heat-sink", "face = HS, air = AMBIENT", 'use = "heat sink 9 K/W"'),
        part("L2", "inductor", "one = SW, two = OUT", 'use = "inductor 68 µH 3 A"'),
        part("C2", "capacitor", "plus = OUT, minus = GND",
             'use = "electrolytic 470 µF 35 V low-ESR"'),
        resistor("R1", "OUT", "FB", 3065.0),
        resistor("R2", "FB", "GND", 1000.0),
    ]  # fmt: skip
    if damped:
        more = 'use = "electrolytic 220 µF 50 V low-ESR"\nesr = "2 Ω"'
        parts.append(part("C3", "capacitor", "plus = QUIET, minus = GND", more))
    return supply("".join(parts), input=(12.0, 12.0, 12.0), volts=(5.0, 5.0), amperes=(2.5, 2.5))


def test_a_converter_undamps_the_filter_before_it() -> None:
    """It is a resistance of -V²/P: s² + s (R/L - 1/(|r| C)) + 1/LC, a textbook of converters.

    Middlebrook 1976: |r| is far below L/(R C), the height of the filter's resonance.
    """
    found = finding(behind_a_filter(damped=False), "stability.poles")
    assert found.verdict == "falls short"
    efficiency = 0.8  # of this type at 5 V, about
    negative = 12.0**2 / (5.0 * 2.5 / efficiency)
    assert negative < 0.2 * COIL / (LOSS * STORE)
    growth = 0.5 * (1.0 / (negative * STORE) - LOSS / COIL) * sqrt(COIL * STORE)
    assert found.value == pytest.approx(growth, rel=0.25)
    assert "L1" in found.because
    assert "C1" in found.because
    told = re.search(r"U1 is there like -([0-9.]+) Ω", found.because)
    assert told is not None
    assert float(told[1]) == pytest.approx(12.0**2 / 12.5, rel=0.1)


def test_a_lossy_capacitor_damps_that_filter() -> None:
    assert finding(behind_a_filter(damped=True), "stability.poles").verdict == "holds"


PANEL = Path(__file__).parents[2] / "examples" / "panel-five-volts.toml"
STORE_AT_THE_INPUT = 'use = "ceramic 1 µF 50 V class 2"\npins = { plus = "VIN", minus = "GND" }'


def test_what_a_junction_stores_on_a_switching_net_starts_nothing_beyond_its_clock() -> None:
    """From input to output the capacitor passes edges on that the duty cannot answer within 7 µs.

    What tells is the cycle itself: nothing is left there of a disturbance. At 1 kHz, where the
    means swing, 1 µF has 160 Ω beside some 30 mΩ.
    """
    text = PANEL.read_text("utf-8")
    assert STORE_AT_THE_INPUT in text
    across = text.replace(STORE_AT_THE_INPUT, STORE_AT_THE_INPUT.replace("GND", "OUT"))
    findings = prove(read_text(across, PANEL.name), only=("ripple.subharmonic",)).findings
    assert [f.verdict for f in findings if f.id == "ripple.subharmonic"] == ["holds"]
    found, usual = (finding(each, "stability.poles") for each in (across, text))
    assert found.verdict == "holds"
    assert found.value == pytest.approx(usual.value, rel=1e-2)
