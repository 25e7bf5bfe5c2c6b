"""Coils at the current where a trip or a limit acts, by Ohm's law."""

from __future__ import annotations

import pytest
from checks.test_transients import VOLTS, coil
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK

OHMS, UPPER, LOWER = 1.0, 10e3, 3.3e3
BAND = 'carry = "4 A"\nact_by = "6 A"'
TRIP = (
    part("U1", "comparator", "plus = LIMIT, minus = SEEN, output = LOW, supply = IN, ground = GND",
         'use = "391 type"')
    + resistor("R2", "OUT", "SEEN", UPPER)
    + resistor("R3", "SEEN", "GND", UPPER)
    + resistor("R4", "IN", "LIMIT", UPPER)
    + resistor("R5", "LIMIT", "GND", LOWER)
    + resistor("R6", "IN", "LOW", UPPER)
)  # fmt: skip
"""Turns over where half of the output is at 10 V x 3.3 k / 13.3 k."""

BLEEDER = resistor("R2", "OUT", "GND", UPPER)


def found(check: str, parts: str, style: str, saturates: float, ohms: float = OHMS) -> Finding:
    """What a proof says of a coil between a resistance and a rail of 9 V."""
    text = supply(
        resistor("R1", "IN", "MID", ohms)
        + coil(1e-3, 1e-3, "MID").replace('"1000 A"', f'"{saturates} A"')
        + parts,
        input=(VOLTS, VOLTS, VOLTS),
        volts=(VOLTS - 1.0, VOLTS - 1.0),
        amperes=(0.1, 1.0),
        output=f"""
[[need.output.load]]
kind = "resistive"
[need.output.overload]
style = "{style}"
{BAND}
""",
    )
    findings = prove(read_text(text, "coil.toml"), depth=QUICK, only=(check,)).findings
    (one,) = (f for f in findings if f.id == check)
    return one


@pytest.mark.parametrize(("saturates", "verdict"), [(4.5, "falls short"), (7.0, "holds")])
def test_a_coil_sees_all_that_flows_until_the_trip_acts(saturates: float, verdict: str) -> None:
    one = found("stress.saturation-at-trip", TRIP, "trip", saturates)
    seen = VOLTS * LOWER / (UPPER + LOWER)
    # Offset and bias of the comparator take a percent.
    assert one.value == pytest.approx((VOLTS - 2.0 * seen) / (OHMS + 1e-3), rel=0.01)
    assert (one.verdict, one.limit) == (verdict, saturates)


@pytest.mark.parametrize(("saturates", "verdict"), [(4.5, "falls short"), (12.0, "holds")])
def test_a_coil_sees_all_that_a_limit_lets_through(saturates: float, verdict: str) -> None:
    """The heaviest load, next to a short, takes a hundred times 6 A at 9 V: 9 V / 600 A on 1 Ω."""
    one = found("stress.saturation-in-limit", BLEEDER, "constant-current", saturates)
    assert one.value == pytest.approx(VOLTS / (OHMS + 1e-3 + (VOLTS - 1.0) / 600.0), rel=0.01)
    assert (one.verdict, one.limit) == (verdict, saturates)
