"""A sketch as the text of a design file: the person's need, then controls and parts."""

from __future__ import annotations

from railwright.architectures.architecture import Sketch
from railwright.circuit.design import Design, read_text
from railwright.circuit.writer import add_control, add_part, set_terminals

CURRENT = "voltage and current"
"""What a meter shows whose shunt lies in the return of an output."""
INPUT, COMMON, OUTPUT = "IN", "GND", "OUT"
"""Nets where the need names none; of several rails each has its own, after its name."""


def with_nets(text: str, design: Design) -> str:
    """The need with a name for every net that it does not name; `design` is what it says.

    Rails that are common with the input return where that does, unless a meter's shunt is to lie
    between.
    """
    need = design.need
    minus = COMMON
    if need.input.nets is None:
        text = set_terminals(text, ("need", "input"), INPUT, minus)
    else:
        minus = need.input.nets.minus
    several = len(need.output) > 1
    for index, output in enumerate(need.output):
        if output.nets is not None:
            continue
        name = f"{OUTPUT}_{'_'.join(output.name.split())}" if several else OUTPUT
        joined = output.reference == "common with input" and output.panel.meter != CURRENT
        own = minus if joined else f"{name}_MINUS"
        text = set_terminals(text, ("need", "output", index), name, own)
    return text


def drafted(need: str, sketch: Sketch) -> str:
    """The text of a need with the controls and parts of a sketch, a heading above each block."""
    text = need
    for control in sketch.controls:
        text = add_control(text, control)
    block = ""
    for part in sketch.parts:
        own = str(part["block"])
        heading = "" if own == block else own.capitalize()
        text = add_part(text, part, heading)
        block = own
    return text


def read_draft(text: str, name: str, like: Design) -> Design:
    """The design in a drafted text; files that it names are looked for beside the need's."""
    return read_text(text, name, path=like.path)
