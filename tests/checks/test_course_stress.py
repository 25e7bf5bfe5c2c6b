"""What parts see while the input goes away and in a short circuit, by hand."""

from __future__ import annotations

import pytest
from checks.test_transients import VOLTS, capacitor
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

LIMIT = (
    '[need.output.overload]\nstyle = "constant-current"\ncarry = "50 mA"\nact_by = "0.2 A"\n'
)  # fmt: skip


def found(check: str, subject: str, parts: str, output: str = "") -> Finding | None:
    """What a proof says of a rail behind 10 V; None where nothing more is seen than in use."""
    text = supply(
        parts,
        input=(VOLTS, VOLTS, VOLTS),
        volts=(VOLTS - 1.0, VOLTS - 1.0),
        amperes=(0.0, 0.01),
        output=output,
    )
    findings = prove(read_text(text, "stress.toml"), only=(check,)).findings
    return next((f for f in findings if (f.id, f.subject) == (check, subject)), None)


def follower(emitter_base: float) -> str:
    """An emitter follower on a zener rail whose output keeps 470 µF."""
    pins = "collector = IN, base = BASE, emitter = OUT"
    return (
        part("Q1", "bipolar-transistor", pins,
             f'use = "BD139"\nemitter_base_voltage = "{emitter_base} V"')
        + resistor("R1", "IN", "BASE", 100.0)
        + resistor("R2", "BASE", "GND", 2e3)
        + resistor("R3", "OUT", "GND", 1e5)
        + capacitor(470e-6, 0.1)
    )  # fmt: skip


@pytest.mark.parametrize(("rated", "verdict"), [(5.0, "falls short"), (12.0, "holds")])
def test_a_charged_output_reverses_the_base_of_a_follower(rated: float, verdict: str) -> None:
    """Some 9 V stay at the emitter when base and input are gone: 0.3 % less per 100 ms."""
    one = found("stress.power-down", "Q1 emitter_base_voltage", follower(rated))
    assert one is not None
    assert one.value == pytest.approx(VOLTS * 2.0 / 2.1 - 0.5, abs=0.15)
    assert one.verdict == verdict


@pytest.mark.parametrize(("rated", "verdict"), [(5.0, "falls short"), (15.0, "holds")])
def test_what_stands_ahead_of_a_short_circuit_sees_the_whole_input(
    rated: float, verdict: str
) -> None:
    """10 V across 100 Ω instead of the volt that 10 mA drop: Kirchhoff's voltage law."""
    series = resistor("R1", "IN", "OUT", 100.0).replace('"200 V"', f'"{rated} V"')
    bleeder = resistor("R2", "OUT", "GND", 1e5)
    one = found("stress.short-circuit", "R1 rated_voltage", series + bleeder, LIMIT)
    assert one is not None
    # An electronic load gives way at some tenths of a volt.
    assert one.value == pytest.approx(VOLTS, abs=0.3)
    assert one.verdict == verdict
