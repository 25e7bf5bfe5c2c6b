"""How long a source is in its limit while a capacitor charges: C V = I t."""

from __future__ import annotations

import pytest
from checks.test_transients import VOLTS, capacitor
from surveys.supplies import resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

LIMIT, LOAD, FARADS = 2.0, 0.5, 2.2e-3


def found(gives_up_after: float) -> Finding:
    """What a proof says of 2.2 mF and 0.5 A behind a brick of 2 A."""
    source = (
        f'resistance = "0.1 Ω"\nlimit = {{ current = "{LIMIT} A", style = "hiccup", '
        f'gives_up_after = "{gives_up_after} s" }}'
    )
    text = supply(
        resistor("R1", "IN", "OUT", 0.01) + capacitor(FARADS, 1e-3),
        input=(VOLTS, VOLTS, VOLTS),
        volts=(VOLTS, VOLTS),
        amperes=(LOAD, LOAD),
    ).replace('resistance = "0 Ω"', source, 1)
    findings = prove(read_text(text, "source.toml")).findings
    (one,) = (f for f in findings if f.id == "overload.source-time")
    return one


def test_a_source_in_its_limit_charges_what_its_load_leaves() -> None:
    """t = C V / (I - load): an electronic load takes its current from 0.3 V on.

    The limit ends 0.2 V early, where the source's resistance takes over.
    """
    wanted = FARADS * (VOLTS - 0.11 * LIMIT) / (LIMIT - LOAD)
    short = found(0.9 * wanted)
    assert short.value == pytest.approx(wanted, rel=0.08)  # instants lie that far apart
    assert short.verdict == "falls short"
    assert found(1.5 * wanted).verdict == "holds"
