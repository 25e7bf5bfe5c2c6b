"""Short circuits in time, against closed forms of linear circuits."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from checks.test_transients import VOLTS, capacitor, coil, powered
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove


@cache
def shorted(limit: float) -> dict[str, Finding]:
    """What a proof says of 0.4 A of constant current from a source that gives no more than this."""
    source = (
        f'resistance = "0.1 Ω"\nlimit = {{ current = "{limit} A", style = "constant-current" }}'
    )
    overload = (
        'never_above = "12 V"\n[need.output.overload]\nstyle = "constant-current"\n'
        'carry = "0.45 A"\n'
        'act_by = "0.6 A"\nwithin = { current = "5 ms" }'
    )
    parts = resistor("R1", "IN", "OUT", 0.01) + capacitor(1e-3, 0.1)
    return powered(parts, 0.4, source, overload)


def test_after_a_short_circuit_a_limit_must_leave_something_to_charge_with() -> None:
    """I t = C V: 0.1 A brings 1 mF to 10 V in 0.1 s, 1 mA does not get anywhere."""
    assert shorted(0.5)["transient.recovers"].verdict == "holds"
    stuck = shorted(0.401)["transient.recovers"]
    assert stuck.verdict == "falls short"
    assert stuck.value is not None
    assert stuck.value < 1.0


def test_a_limit_that_does_not_take_the_current_away_is_told() -> None:
    found = shorted(0.5)["overload.current-time"]
    assert (found.verdict, found.limit) == ("falls short", 5e-3)
    assert "still more than a tenth" in found.because
    volts, amperes = (each.lines[0].up for each in found.curves)
    assert amperes[-1] == pytest.approx(0.5, rel=0.05)  # a limit is not quite flat
    assert volts[-1] < 0.05 * VOLTS
    assert shorted(0.5)["transient.release"].verdict == "holds"


UPPER, LOWER, FILTER = 10e3, 3.3e3, 100e-9


@cache
def commanded(command: float) -> Finding:
    """What a proof says of a comparator that sees half of the output through a filter.

    10 V behind 1 Ω, loaded with 1 A; half of it against 10 V x 3.3 k / 13.3 k.
    """
    pins = "plus = LIMIT, minus = SEEN, output = LOW, supply = IN, ground = GND"
    parts = (
        resistor("R1", "IN", "OUT", 1.0).replace("0.25 W", "200 W")
        + part("U1", "comparator", pins, 'use = "391 type"')
        + resistor("R2", "OUT", "SEEN", UPPER)
        + resistor("R3", "SEEN", "GND", UPPER)
        + resistor("R4", "IN", "LIMIT", UPPER)
        + resistor("R5", "LIMIT", "GND", LOWER)
        + resistor("R6", "IN", "LOW", UPPER)
        + capacitor(FILTER, 1e-3).replace('plus = "OUT"', 'plus = "SEEN"')
    )
    rail = f"""
[[need.output.load]]
kind = "resistive"
[need.output.overload]
style = "trip"
carry = "4 A"
act_by = "6 A"
within = {{ command = "{command} s" }}
"""
    text = supply(
        parts,
        input=(VOLTS, VOLTS, VOLTS),
        volts=(VOLTS - 1.0, VOLTS - 1.0),
        amperes=(0.1, 1.0),
        output=f'accuracy = "10 %"\n{rail}',
    )
    findings = prove(read_text(text, "command.toml")).findings
    (found,) = (f for f in findings if f.id == "overload.command-time")
    return found


def test_the_command_comes_when_the_filter_has_let_it_through() -> None:
    """t = R C ln((before - after) / (threshold - after)): a first-order step response."""
    after = VOLTS * 0.01 / 1.01 / 2.0
    threshold = VOLTS * LOWER / (UPPER + LOWER)
    wanted = UPPER / 2.0 * FILTER * np.log(((VOLTS - 1.0) / 2.0 - after) / (threshold - after))
    found = commanded(1e-3)
    assert found.verdict == "holds"
    assert found.value is not None
    # Bias and offset move it by some per cent, instants lie 8 % apart, the comparator takes 1 µs.
    assert found.value == pytest.approx(wanted * 1.04, rel=0.08)
    assert commanded(0.8 * wanted).verdict == "falls short"


def test_what_a_coil_has_stored_in_a_short_circuit_goes_into_the_output() -> None:
    """Series R, L and C from v = 0 and i = V/R: the peak of the free response, by hand.

    e = exp(-a t) (e0 cos wt + (e0' + a e0)/w sin wt) about V, a = R/2L, w = sqrt(1/LC - a^2).
    """
    henries, farads, ohms = 1e-3, 1e-3, 1.0
    current = VOLTS / (ohms + 0.01)
    start, slope = 0.01 * current - VOLTS, current / farads
    damping = ohms / (2.0 * henries)
    turns = np.sqrt(1.0 / (henries * farads) - damping**2)
    time = np.linspace(0.0, 10e-3, 10_001)
    swing = start * np.cos(turns * time)
    swing += (slope + damping * start) / turns * np.sin(turns * time)
    peak = VOLTS + np.max(np.exp(-damping * time) * swing)
    overload = (
        f'never_above = "{VOLTS + 0.5} V"\n[[need.output.load]]\nkind = "resistive"\n'
        "[need.output.overload]\n"
        'style = "constant-current"\ncarry = "2 A"\nact_by = "3 A"'
    )
    parts = coil(henries, ohms) + capacitor(farads, 1e-4)
    found = powered(parts, 1e-3, output=overload)["transient.release"]
    assert found.verdict == "falls short"
    assert found.value == pytest.approx(peak, rel=0.01)
