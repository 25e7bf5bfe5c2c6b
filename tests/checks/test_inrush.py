"""What hangs on the source against what one of its attempts can charge: C V = I t."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply

from railwright.checks.inrush import Inrush
from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

VOLTS, AMPERES, SECONDS = 24.0, 9.0, 2e-3


def capacitor(ref: str, plus: str, farads: str) -> str:
    value = f'capacitance = {{ typical = "{farads}", tolerance = "0 %" }}\nesr = "50 mΩ"\n'
    rest = 'leakage = "1 µA"\nrated_voltage = "50 V"\noptions = { dielectric = "electrolytic" }'
    return part(ref, "capacitor", f"plus = {plus}, minus = GND", value + rest)


def finding(parts: str, load: str = "", limit: str = ', gives_up_after = "2 ms"') -> Finding | None:
    wire = part("W1", "wire", "one = IN, two = OUT", 'resistance = "20 mΩ"\nrated_current = "10 A"')
    text = supply(wire + parts, input=(VOLTS,) * 3, volts=(VOLTS,) * 2, output=load)
    source = f'limit = {{ current = "{AMPERES} A", style = "hiccup"{limit} }}\n[[need.output]]'
    findings = prove(
        read_text(text.replace("[[need.output]]", source, 1), "bus.toml"), only=("overload.inrush",)
    ).findings
    return next((f for f in findings if f.id == Inrush.id), None)


def test_limit_is_charge_over_voltage() -> None:
    found = finding(capacitor("C1", "IN", "300 µF") + capacitor("C2", "OUT", "400 µF"))
    assert found is not None
    assert found.value == pytest.approx(700e-6)
    assert found.limit == pytest.approx(AMPERES * SECONDS / VOLTS)
    assert found.verdict == "marginal"


def test_one_board_too_many_falls_short() -> None:
    found = finding(capacitor("C1", "IN", "300 µF") + capacitor("C2", "OUT", "500 µF"))
    assert found is not None
    assert (found.verdict, found.subject) == ("falls short", "need.input")


def test_a_resistance_that_holds_the_current_back_shields_what_lies_behind() -> None:
    behind = resistor("R1", "OUT", "SLOW", 3.0) + capacitor("C2", "SLOW", "5000 µF")
    found = finding(capacitor("C1", "IN", "300 µF") + behind)
    assert found is not None
    assert found.value == pytest.approx(300e-6)
    passed = behind.replace("3.0 Ω", "0.1 Ω")
    short = finding(capacitor("C1", "IN", "300 µF") + passed)
    assert short is not None
    assert short.verdict == "falls short"


def test_capacitance_of_the_load_counts() -> None:
    load = (
        '[[need.output.load]]\nkind = "constant-current"\n'
        'capacitance = { min = "0 F", max = "600 µF" }'
    )
    found = finding(capacitor("C1", "IN", "300 µF"), load)
    assert found is not None
    assert found.value == pytest.approx(900e-6)


def test_is_not_asked_where_the_time_is_not_known() -> None:
    text = capacitor("C1", "IN", "300 µF")
    assert finding(text, limit="") is None


def test_a_resistance_in_the_way_ends_the_attempt_sooner() -> None:
    """At V - I R the source leaves its limit: C (V - I R) = I t, here 24 V - 9 A x 1 Ω = 15 V."""
    behind = resistor("R1", "OUT", "SLOW", 1.0) + capacitor("C2", "SLOW", "400 µF")
    found = finding(capacitor("C1", "IN", "300 µF") + behind)
    assert found is not None
    left = 15.0 / VOLTS
    assert found.value == pytest.approx(300e-6 + left * 400e-6)


def test_a_transistor_that_is_always_on_hides_nothing() -> None:
    switch = part(
        "Q1",
        "field-effect-transistor",
        "source = FED, drain = OUT, gate = G",
        'use = "p-channel 40 V 40 A logic level"',
    )
    gate = resistor("R2", "G", "GND", 1e5)
    clamp = part("D1", "zener", "anode = G, cathode = FED", 'use = "zener 10 V 0.5 W"')
    load = capacitor("C2", "FED", "400 µF") + resistor("R3", "FED", "GND", 1e3)
    found = finding(switch + gate + clamp + load)
    assert found is not None
    assert found.value == pytest.approx(400e-6)
