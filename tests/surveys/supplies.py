"""Design files of small supplies for tests, and surveys of them."""

from __future__ import annotations

from railwright.circuit.design import read_text
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey

EXACT = 'tolerance = "0 %"'


def supply(
    parts: str,
    *,
    input: tuple[float, float, float] = (10.0, 10.0, 10.0),
    output: str = "",
    volts: tuple[float, float] = (5.0, 5.0),
    amperes: tuple[float, float] = (0.0, 0.0),
    ambient: tuple[float, float] = (25.0, 25.0),
    policy: str = "",
) -> str:
    """A supply with one rail, `main`, between OUT and GND; input is least, usual, greatest [V].

    output: further keys of the rail. policy: further keys of need.parts.
    """
    least, usual, most = input
    return f"""
title = "Small supply"
[need.input]
kind = "dc"
nets = {{ plus = "IN", minus = "GND" }}
voltage = {{ min = "{least} V", nominal = "{usual} V", max = "{most} V" }}
resistance = "0 Ω"
[[need.output]]
name = "main"
nets = {{ plus = "OUT", minus = "GND" }}
reference = "common with input"
voltage = {{ min = "{volts[0]} V", max = "{volts[1]} V" }}
current = {{ min = "{amperes[0]} A", max = "{amperes[1]} A" }}
{output}
[need.surroundings]
ambient = {{ min = "{ambient[0]} °C", max = "{ambient[1]} °C" }}
[need.parts]
derating = "none"
{policy}
{parts}
"""


def alternating(text: str, ohms: float, hertz: float = 50.0) -> str:
    """The same supply on alternating mains between L and N, behind a resistance."""
    changes = {
        'kind = "dc"': f'kind = "ac"\nfrequency = {{ min = "{hertz} Hz", max = "{hertz} Hz" }}',
        'nets = { plus = "IN", minus = "GND" }': 'nets = { plus = "L", minus = "N" }',
        'resistance = "0 Ω"': f'resistance = "{ohms} Ω"',
    }
    for old, new in changes.items():
        text = text.replace(old, new, 1)
    return text


def part(ref: str, kind: str, pins: str, more: str = "") -> str:
    """A part's table; pins as `one = IN, two = OUT`."""
    joined = ", ".join(
        f'{pin.strip()} = "{net.strip()}"'
        for pin, net in (each.split("=") for each in pins.split(","))
    )
    return f'[[part]]\nref = "{ref}"\nkind = "{kind}"\npins = {{ {joined} }}\n{more}\n'


def resistor(
    ref: str, one: str, two: str, ohms: float, tolerance: str = "0 %", more: str = ""
) -> str:
    """A resistor with a tolerance; more: `drift = ...` of its value."""
    value = f'resistance = {{ typical = "{ohms} Ω", tolerance = "{tolerance}"{more} }}'
    rated = 'rated_power = "0.25 W"\nrated_voltage = "200 V"'
    return part(ref, "resistor", f"one = {one}, two = {two}", f"{value}\n{rated}")


def gate(ref: str, a: str, b: str, output: str) -> str:
    """A NAND gate of the 4011 type on the input's rail."""
    pins = f"a = {a}, b = {b}, output = {output}, supply = IN, ground = GND"
    return part(ref, "logic-gate", pins, 'use = "4011 type"')


def survey_of(text: str) -> Survey:
    """A survey of a design file's text."""
    return Survey(Fixture.of(read_text(text, "small.toml")))
