"""A source that gets into its limit: what happens in time is judged only where it is followed."""

from __future__ import annotations

from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove

VOLTS = 10.0
CHECKS = (
    "overload.peak-current",
    "overload.let-through",
    "stress.resistor-pulse",
    "stress.short-circuit-pulse",
    "stress.power-up-pulse",
    "transient.switched-on",
)


def switched_follower() -> str:
    """A follower with its base at the input, a resistor, and a contact that takes the rail off."""
    contact = 'contact_resistance = "1 mΩ"\noptions = { rest = "closed" }\nrated_current = "50 A"'
    pins = "collector = IN, base = BASE, emitter = FOLLOWS"
    return (
        part("Q1", "bipolar-transistor", pins, 'use = "BD241C"')
        + resistor("R1", "FOLLOWS", "RAIL", 1.0).replace("0.25 W", "1 W")
        + resistor("R2", "IN", "BASE", 100.0)
        + part("S1", "switch", "one = RAIL, two = OUT", contact)
        + resistor("R3", "OUT", "GND", 1e3)
    )


def findings(amperes: float) -> dict[str, Finding]:
    """What a proof says of it behind a source that folds back from a limit, by check."""
    output = (
        'accuracy = "20 %"\n[[need.output.load]]\nkind = "resistive"\n'
        'capacitance = { min = "4.7 mF", max = "4.7 mF" }\n'
        '[need.output.overload]\nstyle = "constant-current"\ncarry = "0.2 A"\nact_by = "2.5 A"\n'
        'let_through.peak = "1000 A"\nlet_through.heat = "100 A²s"\n'
    )
    text = supply(
        switched_follower(),
        input=(VOLTS, VOLTS, VOLTS),
        volts=(9.0, 9.0),
        amperes=(0.0, 0.02),
        output=output,
    )
    limit = f'limit = {{ current = "{amperes} A", style = "foldback" }}'
    text = text.replace('resistance = "0 Ω"', f'resistance = "0.1 Ω"\n{limit}', 1)
    return {f.id: f for f in prove(read_text(text, "in-time.toml"), only=CHECKS).findings}


def test_what_leans_on_a_source_that_folds_back_is_not_proven() -> None:
    """9.3 V / (100 Ω / 50 + 1 Ω) = 3.1 A flow into a short by a gain of 50, of 0.5 A that it has.

    So they are not while 4.7 mF are charged by the same.
    """
    told = findings(0.5)
    for check in CHECKS:
        assert told[check].verdict == "not proven", check
        assert "what one of style foldback gives there is not followed" in told[check].because


def test_what_stays_clear_of_its_limit_is_judged() -> None:
    told = findings(5.0)
    for check in CHECKS:
        assert told[check].verdict in ("holds", "marginal"), told[check].because
