"""Needs for tests, from the files of the examples or with values of their own."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from railwright.architectures.architecture import Architecture, Refusal, Sketch, Task
from railwright.catalogue.loader import load
from railwright.circuit.circuit import Part
from railwright.circuit.design import Design, read_text
from railwright.propose.candidates import KEY_FAMILIES, breaches
from railwright.propose.draft import drafted, with_nets
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK

EXAMPLES = Path(__file__).parents[2] / "examples" / "needs"
ASKED = (*KEY_FAMILIES, "ripple")
PLAIN = """
title = "a need"

[need.input]
kind = "dc"
voltage = { min = "17 V", nominal = "18 V", max = "19 V" }
resistance = "100 mΩ"

[[need.output]]
name = "main"
reference = "common with input"
voltage = { min = "12 V", max = "12 V" }
current = { min = "0 A", max = "0.3 A" }
accuracy = "10 %"

[[need.output.load]]
kind = "resistive"

[need.surroundings]
ambient = { min = "10 °C", max = "40 °C" }
"""


def task_of(text: str) -> Task:
    """What architectures are asked for a need."""
    named = with_nets(text, read_text(text, "need"))
    design = read_text(named, "need")
    return Task(design.need, load(), design.derating)


def plain(changes: Mapping[str, str]) -> str:
    """The plain need with texts changed, each of which has to be there."""
    text = PLAIN
    for old, new in changes.items():
        assert old in text
        text = text.replace(old, new)
    return text


def read_sketch(text: str, sketch: Sketch) -> Design:
    """The design that a sketch for a need makes."""
    return read_text(drafted(with_nets(text, read_text(text, "need")), sketch), "draft")


def parts_of(architecture: Architecture, text: str) -> dict[str, Part]:
    """The parts by ref of the first sketch for a need; it has to be served."""
    found = architecture.offer(task_of(text))
    assert not isinstance(found, Refusal), found.reason
    return {part.ref: part for part in read_sketch(text, found[0]).circuit.parts}


def held_at_quick(architecture: Architecture, text: str) -> list[tuple[str, str]]:
    """What falls short or stays open of the first sketch where it counts: (id, subject)."""
    found = architecture.offer(task_of(text))
    assert not isinstance(found, Refusal), found.reason
    proof = prove(read_sketch(text, found[0]), depth=QUICK, only=ASKED, suspecting=False)
    return [(f.id, f.subject) for f in breaches(proof)]
