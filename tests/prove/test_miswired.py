"""Connections that look wrong: the pin that was put elsewhere, and none where nothing is wrong."""

from __future__ import annotations

import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.prove.run import prove

NETS = {
    ("R1", "one"): "IN",
    ("R1", "two"): "DRIVE",
    ("U1", "plus"): "REF",
    ("U1", "minus"): "FB",
    ("U1", "output"): "DRIVE",
    ("D1", "cathode"): "REF",
    ("D1", "anode"): "GND",
    ("R3", "one"): "OUT",
    ("R3", "two"): "FB",
    ("R4", "one"): "FB",
    ("R4", "two"): "GND",
}


def told(**moves: str) -> dict[str, str]:
    """Ref -> what is told of it, of a follower round an amplifier with pins moved.

    5 V from a reference of 2.5 V and a divider by two; moves: `U1_plus="FB"`.
    """
    nets = {**NETS, **{tuple(k.split("_")): v for k, v in moves.items()}}  # type: ignore[misc]

    def pins(ref: str, **fixed: str) -> str:
        own = {pin: net for (r, pin), net in nets.items() if r == ref} | fixed
        return ", ".join(f"{pin} = {net}" for pin, net in own.items())

    text = supply(
        part("D1", "shunt-reference", pins("D1", reference="REF"), 'use = "431 type 1 %"')
        + resistor("R2", "IN", "REF", 2200)
        + part(
            "U1", "operational-amplifier", pins("U1", supply="IN", ground="GND"), 'use = "358 type"'
        )
        + part(
            "Q1",
            "darlington-transistor",
            "collector = IN, base = DRIVE, emitter = OUT",
            'use = "122 type"',
        )
        + "".join(resistor(ref, nets[ref, "one"], nets[ref, "two"], 10000) for ref in ("R3", "R4")),
        output='accuracy = "5 %"',
        amperes=(0.01, 0.05),
    )
    proof = prove(read_text(text, "follower.toml"), only=["output.accuracy"])
    found = [f for f in proof.findings if f.id == "design.wiring"]
    assert all(f.verdict == "falls short" and f.causes[0].part == f.subject for f in found)
    return {f.subject: f.causes[0].instead for f in found}


def test_right_connections_are_under_no_suspicion() -> None:
    assert told() == {}


@pytest.mark.parametrize(
    ("moves", "ref", "words"),
    [
        ({"U1_plus": "FB", "U1_minus": "REF"}, "U1", "plus and minus of U1 exchanged"),
        ({"R4_two": "IN"}, "R4", "two of R4 on GND instead of IN"),
        ({"D1_cathode": "GND", "D1_anode": "REF"}, "D1", "cathode and anode of D1 exchanged"),
    ],
)
def test_the_slip_is_named(moves: dict[str, str], ref: str, words: str) -> None:
    assert told(**moves)[ref] == words


def test_a_wrong_value_is_no_wrong_connection() -> None:
    text = supply(
        resistor("R1", "IN", "OUT", 1000, "1 %") + resistor("R2", "OUT", "GND", 10000, "1 %"),
        output='accuracy = "5 %"',
    )
    found = prove(read_text(text, "divider.toml")).findings
    assert [f.id for f in found if f.id.startswith("design.")] == ["design.value"] * 2


def test_two_parts_in_each_others_place_are_told_together() -> None:
    # 1 kΩ and 9.1 kΩ make 9 V of 10 V, the other way round 1 V. A decade off alone neither does:
    # 10 kΩ make 4.8 V, 910 Ω make 4.8 V.
    text = supply(
        resistor("R1", "IN", "OUT", 1000, "1 %") + resistor("R2", "OUT", "GND", 9100, "1 %"),
        volts=(1.0, 1.0),
        output='accuracy = "8 %"',
    )
    findings = prove(read_text(text, "x.toml"), only=["output.accuracy"]).findings
    found = [f for f in findings if f.id == "design.exchange"]
    assert [f.subject for f in found] == ["R1, R2"]
    assert [cause.part for cause in found[0].causes] == ["R1", "R2"]
