"""What the terminals show when the input changes, against closed forms and by hand."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from checks.test_transients import VOLTS, capacitor, coil, powered
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove


def proved(parts: str, output: str, most: float, volts: float) -> dict[str, Finding]:
    """What a proof says of a rail that is loaded with next to nothing, from 10 V on."""
    text = supply(
        parts,
        input=(VOLTS, VOLTS, most),
        volts=(volts, volts),
        amperes=(1e-3, 2e-3),
        output=output,
    )
    return {f.id: f for f in prove(read_text(text, "input.toml")).findings if f.subject == "main"}


@pytest.mark.parametrize(("deviation", "verdict"), [(2.5, "falls short"), (4.0, "holds")])
def test_a_step_of_the_input_rings_in_coil_and_capacitor(deviation: float, verdict: str) -> None:
    """dV (1 + exp(-pi z / sqrt(1 - z^2))), z = R/2 sqrt(C/L): second-order step response.

    Ogata, Modern Control Engineering, section 5.3 (from memory). The edge of 100 µs is short
    against the period of 20 ms.
    """
    henries, farads, ohms, change = 10e-3, 1e-3, 2.0, 2.0
    ratio = ohms / 2.0 * np.sqrt(farads / henries)
    peak = change * (1.0 + np.exp(-np.pi * ratio / np.sqrt(1.0 - ratio**2)))
    output = (
        'load_step = { from = "1 mA", to = "2 mA", rise = "1 µs", settle = "1 ms", '
        f'deviation = "{deviation} V" }}'
    )
    parts = coil(henries, ohms) + capacitor(farads, 1e-2)
    found = proved(parts, output, VOLTS + change, VOLTS)["transient.line-step"]
    assert found.value == pytest.approx(peak, rel=0.01)
    assert found.verdict == verdict


STORED = (
    part("D1", "diode", "anode = IN, cathode = STORE", 'use = "1N4007"')
    + capacitor(10e-3, 1e-3).replace('plus = "OUT"', 'plus = "STORE"')
    + resistor("R1", "STORE", "OUT", 100.0)
    + resistor("R2", "OUT", "LOW", 100.0)
    + part("Q1", "bipolar-transistor", "collector = LOW, base = BASE, emitter = GND",
           'use = "BC547C"')
    + resistor("R3", "IN", "BASE", 1e3)
)  # fmt: skip
"""Half of what is stored, as long as the input turns a transistor on; then all of it."""


@cache
def stored(never_above: float) -> dict[str, Finding]:
    return proved(STORED, f'never_above = "{never_above} V"', VOLTS, 4.7)


@pytest.mark.parametrize("check", ["transient.power-down", "transient.brown-out"])
def test_what_lets_go_before_the_store_is_empty_lets_the_output_rise(check: str) -> None:
    """10 V less a diode are stored; 100 ms at 200 Ω take 5 % of them from 10 mF."""
    found = stored(7.0)[check]
    assert found.verdict == "falls short"
    assert found.value is not None
    assert 0.93 * (VOLTS - 0.9) < found.value < VOLTS - 0.5
    assert found.curves[0].lines[0].up.max() == pytest.approx(found.value)
    assert stored(12.0)[check].verdict == "holds"


def limited(amperes: float) -> Finding:
    limit = f'limit = {{ current = "{amperes} A", style = "constant-current" }}'
    source = f'resistance = "0.1 Ω"\n{limit}'
    parts = resistor("R1", "IN", "OUT", 0.01) + capacitor(1e-3, 0.1)
    return powered(parts, 0.4, source)["transient.returns"]


def test_what_fills_slowly_is_followed_until_it_is_back() -> None:
    """I t = C V: 0.1 A brings 1 mF to 10 V in 0.1 s, 1 mA in 10 s; 30 µA take too long to tell."""
    assert limited(0.5).verdict == limited(0.401).verdict == "holds"
    assert limited(0.40003).verdict == "not proven"


def converter(amperes: float) -> Finding:
    """5 V, 1 A by a step-down from 24 V, whose source has a limit."""
    pins = "input = IN, switch = SW, ground = GND, feedback = FB, disable = GND"
    text = supply(
        part("U1", "step-down-regulator", pins, 'use = "step-down 150 kHz 3 A"')
        + part("D1", "diode", "anode = GND, cathode = SW", 'use = "1N5822"')
        + part("L1", "inductor", "one = SW, two = OUT", 'use = "inductor 68 µH 3 A"')
        + part("C1", "capacitor", "plus = IN, minus = GND",
               'use = "electrolytic 330 µF 50 V low-ESR"')
        + part("C2", "capacitor", "plus = OUT, minus = GND",
               'use = "electrolytic 470 µF 25 V low-ESR"')
        + resistor("R1", "OUT", "FB", 6200, "1 %") + resistor("R2", "FB", "GND", 2000, "1 %"),
        input=(24.0, 24.0, 24.0), amperes=(1.0, 1.0), output='accuracy = "8 %"',
    )  # fmt: skip
    limit = f'limit = {{ current = "{amperes} A", style = "constant-current" }}'
    text = text.replace('resistance = "0 Ω"', f'resistance = "0.1 Ω"\n{limit}', 1)
    findings = prove(read_text(text, "converter.toml"), only=["transient.returns"]).findings
    (found,) = (f for f in findings if f.id == "transient.returns")
    return found


def test_a_converter_that_draws_more_from_a_low_source_hangs() -> None:
    """5 W need 0.27 A at 24 V, and more than 1 A where the converter begins to work."""
    assert converter(3.0).verdict == "holds"
    stuck = converter(0.5)
    assert stuck.verdict == "falls short"
    assert stuck.value is not None
    assert stuck.value < 1.0
