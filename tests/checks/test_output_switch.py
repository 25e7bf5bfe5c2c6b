"""An output that is switched on behind its regulator, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from checks.test_transients import coil
from surveys.supplies import part, resistor, supply, survey_of

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.surveys.output_switch import switching_contacts

VOLTS, FARADS = 10.0, 100e-6
CONTACT = 'contact_resistance = "1 mΩ"\noptions = { rest = "closed" }\nrated_current = "50 A"'


def contact(one: str, two: str) -> str:
    return part("S1", "switch", f"one = {one}, two = {two}", CONTACT)


def text_of(parts: str, output: str, limit: str = "") -> str:
    text = supply(
        parts,
        input=(VOLTS, VOLTS, VOLTS),
        volts=(VOLTS, VOLTS),
        amperes=(0.0, 0.4),
        output=output,
    )
    return text.replace('resistance = "0 Ω"', f'resistance = "1 mΩ"\n{limit}')


def found(check: str, parts: str, output: str, limit: str = "") -> list[Finding]:
    proof = prove(read_text(text_of(parts, output, limit), "switch.toml"), only=(check,))
    return [f for f in proof.findings if f.id == check]


BLEEDER = resistor("R2", "OUT", "GND", 1e3)
LAMP = resistor("R3", "OUT2", "GND", 1e3)


def rings(never_above: float) -> list[Finding]:
    """A coil ahead of a contact, and the load's capacitance behind it."""
    ahead = coil(100e-6, 0.2).replace('two = "OUT"', 'two = "RAIL"')
    output = (
        f'never_above = "{never_above} V"\naccuracy = "10 %"\n[[need.output.load]]\n'
        f'kind = "resistive"\ncapacitance = {{ min = "{FARADS} F", max = "{FARADS} F" }}'
    )
    return found("transient.output-switch", ahead + contact("RAIL", "OUT") + BLEEDER, output)


def test_a_coil_ahead_of_the_contact_rings_with_the_load() -> None:
    """V (1 + exp(-pi a / w)) of a series R, L and C that begins empty, loaded with next to nothing.

    a = R / 2L, w = sqrt(1/LC - a^2).
    """
    damping = 0.202 / 2e-4
    turns = np.sqrt(1.0 / (100e-6 * FARADS) - damping**2)
    peak = VOLTS * (1.0 + np.exp(-np.pi * damping / turns))
    (held,) = rings(peak + 0.5)
    assert held.value == pytest.approx(peak, rel=0.01)
    assert held.verdict in ("holds", "marginal")
    (short,) = rings(peak - 0.5)
    assert short.verdict == "falls short"


def comes_up(amperes: float) -> list[Finding]:
    """A source with a limit, and a load of constant current whose capacitance is empty."""
    limit = f'limit = {{ current = "{amperes} A", style = "constant-current" }}'
    output = (
        'accuracy = "10 %"\n[[need.output.load]]\nkind = "constant-current"\n'
        f'capacitance = {{ min = "{FARADS} F", max = "{FARADS} F" }}'
    )
    parts = resistor("R1", "IN", "RAIL", 0.01) + contact("RAIL", "OUT") + BLEEDER
    return found("transient.switched-on", parts, output, limit)


def test_a_limit_must_leave_something_to_charge_the_load_with() -> None:
    """0.4 A of the load and 10 mA of a bleeder: 0.405 A hang where the bleeder takes 5 mA."""
    (up,) = comes_up(0.5)
    assert up.verdict == "holds"
    (stuck,) = comes_up(0.405)
    assert stuck.verdict == "falls short"
    assert stuck.value is not None
    assert stuck.value < 0.7 * VOLTS


def test_only_contacts_that_take_an_output_off_are_asked_about() -> None:
    series = resistor("R1", "IN", "OUT", 0.01)
    survey = survey_of(text_of(series + BLEEDER + contact("OUT", "OUT2") + LAMP, ""))
    assert survey.once(switching_contacts) == {}
    behind = survey_of(
        text_of(series.replace("OUT", "RAIL") + contact("RAIL", "OUT") + BLEEDER, "")
    )
    assert behind.once(switching_contacts) == {"S1": ["main"]}
