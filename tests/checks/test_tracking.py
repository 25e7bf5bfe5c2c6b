"""The loop of a step-down regulator that keeps a difference above the rail behind it."""

from __future__ import annotations

import re

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

UPPER, LOWER = 2200.0, 1000.0
LAG = """
capacitance = { typical = "330 nF", tolerance = "0 %" }
esr = "10 mΩ"
leakage = "1 nA"
rated_voltage = "50 V"
options = { dielectric = "film" }
"""


def board(feedback: str, more: str = "") -> list[Finding]:
    """A step-down regulator ahead of one for 5 V; feedback: what sets it."""
    pins = "input = IN, switch = SW, ground = GND, feedback = FB, disable = GND, case = HS"
    parts = [
        part("C1", "capacitor", "plus = IN, minus = GND",
             'use = "electrolytic 220 µF 50 V low-ESR"'),
        part("U1", "step-down-regulator", pins, 'use = "step-down 150 kHz 3 A"'),
        part("D1", "diode", "anode = GND, cathode = SW", 'use = "1N5822"'),
        part("L1", "inductor", "one = SW, two = PRE", 'use = "inductor 68 µH 3 A"'),
        part("C2", "capacitor", "plus = PRE, minus = GND",
             'use = "electrolytic 470 µF 35 V low-ESR"'),
        part("U2", "fixed-regulator", "input = PRE, output = OUT, ground = GND, case = HS",
             'use = "7805 type 1 A"'),
        part("H1", "heat-sink", "face = HS, air = AMBIENT", 'use = "heat sink 9 K/W"'),
    ]  # fmt: skip
    text = supply(
        "".join(parts) + feedback + more,
        input=(16.0, 16.0, 16.0),
        volts=(5.0, 5.0),
        amperes=(0.9, 0.9),
    )
    found = prove(read_text(text, "pre.toml"), only=("stability.tracking",)).findings
    return [finding for finding in found if finding.id == "stability.tracking"]


SHIFT = (
    resistor("R1", "PRE", "SHIFT", UPPER)
    + part("Q1", "bipolar-transistor", "emitter = SHIFT, base = OUT, collector = FB",
           'use = "2N3906"')
    + resistor("R2", "FB", "GND", LOWER)
)  # fmt: skip


def test_a_level_shift_passes_on_more_than_a_divider() -> None:
    """R2/R1 of what PRE moves, less 1/B, where a divider has Vfb/V(PRE)."""
    (found,) = board(SHIFT)
    assert found.subject == "U1"
    assert found.verdict == "holds"
    told = re.search(r"passes on ([0-9.]+) times as much", found.because)
    assert told is not None
    before = 5.0 + 0.65 + 1.23 * UPPER / LOWER
    assert float(told[1]) == pytest.approx((LOWER / UPPER) / (1.23 / before), rel=0.05)


def test_both_loops_fall_in_proportion_to_what_is_fed_back() -> None:
    """Far above the poles the gain falls as 1/f, with the capacitor's resistance as a zero."""
    (found,) = board(SHIFT)
    told = re.search(r"gain of 1 at ([0-9.]+) kHz .* it would at ([0-9.]+) kHz", found.because)
    assert told is not None
    higher, lower = map(float, told.groups())
    assert 1.5 < higher / lower < 3.2


def test_a_divider_is_no_matter_of_tracking() -> None:
    assert not board(resistor("R1", "PRE", "FB", 5700.0) + resistor("R2", "FB", "GND", 1000.0))


def test_a_lag_at_the_feedback_pin_falls_short() -> None:
    """330 nF on 1 kΩ lag from 480 Hz on: by 80° and more where a loop of 5 to 20 kHz ends."""
    (found,) = board(SHIFT, part("C3", "capacitor", "plus = FB, minus = GND", LAG))
    assert found.verdict == "falls short"
    assert found.value is not None
    assert found.value < 0.0
