"""A charged load at the terminals, by hand."""

from __future__ import annotations

import numpy as np
import pytest
from checks.test_transients import capacitor, exactly
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

BROUGHT = 12.0


def rail(load: str) -> str:
    return f"[[need.output.load]]\n{load}\n"


def found(check: str, subject: str, parts: str, load: str) -> Finding | None:
    """What a proof says of a rail of some 4 V behind 5 V."""
    text = supply(
        parts, input=(5.0, 5.0, 5.0), volts=(4.0, 4.0), amperes=(0.0, 0.01), output=rail(load)
    )
    findings = prove(read_text(text, "charged.toml"), only=(check,)).findings
    return next((f for f in findings if (f.id, f.subject) == (check, subject)), None)


def follower(emitter_base: float) -> str:
    pins = "collector = IN, base = BASE, emitter = OUT"
    return (
        part("Q1", "bipolar-transistor", pins,
             f'use = "BD139"\nemitter_base_voltage = "{emitter_base} V"')
        + resistor("R1", "IN", "BASE", 100.0)
        + resistor("R2", "BASE", "GND", 2e3)
        + resistor("R3", "OUT", "GND", 1e5)
        + capacitor(10e-6, 0.1)
    )  # fmt: skip


CHARGED = f'kind = "resistive"\ncharged = "{BROUGHT} V"'


@pytest.mark.parametrize(("rated", "verdict"), [(5.0, "falls short"), (14.0, "holds")])
def test_a_charged_load_reverses_the_base_of_a_follower(rated: float, verdict: str) -> None:
    """12 V against a base at 0 V, since nothing feeds it: Kirchhoff's voltage law."""
    one = found("stress.charged-load", "Q1 emitter_base_voltage", follower(rated), CHARGED)
    assert one is not None
    assert one.value == pytest.approx(BROUGHT, abs=0.2)  # what is fed back fades below 12 V
    assert one.verdict == verdict


def test_a_load_that_brings_nothing_asks_nothing() -> None:
    plain = 'kind = "resistive"'
    assert found("stress.charged-load", "Q1 emitter_base_voltage", follower(5.0), plain) is None


def filled(farads: float, surge: float) -> str:
    """A diode back to a capacitor at the input, behind half an ohm."""
    values = exactly("capacitance", farads, "F") + exactly("esr", 0.5, "Ω")
    more = f'{values}leakage = "1 nA"\nrated_voltage = "100 V"\noptions = {{ dielectric = "film" }}'
    diode = f'use = "1N4002"\nsurge_current = "{surge} A"'
    return (
        resistor("R1", "IN", "OUT", 100.0)
        + part("D1", "diode", "anode = OUT, cathode = IN", diode)
        + part("C1", "capacitor", "plus = IN, minus = GND", more)
    )


@pytest.mark.parametrize(("surge", "verdict"), [(30.0, "holds"), (4.0, "falls short")])
def test_what_fills_the_input_goes_through_the_diode(surge: float, verdict: str) -> None:
    """∫ i² dt of V/R e^(-t/RC) is V² C / 2 R, with the volt that a diode drops taken off."""
    farads, ohms = 1e-3, 0.5
    one = found("stress.fed-back", "D1", filled(farads, surge), CHARGED)
    assert one is not None
    assert one.value is not None
    like = np.sqrt((BROUGHT - 1.0) ** 2 * farads / ohms / 8.3e-3)
    assert one.value == pytest.approx(like, rel=0.15)
    assert one.verdict == verdict


def test_a_battery_brings_what_the_output_is_to_stay_below() -> None:
    """A rail for 4 V stays below 4 V where nothing else is said."""
    text = 'kind = "battery"'
    one = found("stress.charged-load", "Q1 emitter_base_voltage", follower(5.0), text)
    assert one is not None
    assert (one.verdict, one.value) == ("holds", pytest.approx(4.0, abs=0.2))
    file = supply(
        follower(5.0),
        input=(5.0, 5.0, 5.0),
        volts=(4.0, 4.0),
        amperes=(0.0, 0.01),
        output=f'never_above = "{BROUGHT} V"\n{rail(text)}',
    )
    findings = prove(read_text(file, "battery.toml"), only=("stress.charged-load",)).findings
    (two,) = [f for f in findings if f.subject == "Q1 emitter_base_voltage"]
    assert two.verdict == "falls short"
