"""Needs for tests, from the files of the examples or with values of their own."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from pathlib import Path

from railwright.architectures.architecture import Architecture, Refusal, Sketch, Task
from railwright.architectures.guarded import guarded
from railwright.catalogue.loader import load
from railwright.circuit.circuit import Part
from railwright.circuit.design import Design, read_text
from railwright.circuit.need import Need
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


DROPS = 2.5
"""V that fuse and pass element of a common type lose at most (datasheets of the 317 type)."""
MOST_BURNT = 30.0
"""W that one pass element may burn; on a large sink, that is about what a TO-220 bears."""


def need_of(seed: int) -> str:
    """A need for one rail: kind of input, ratio, span, current, accuracy, step and air drawn."""
    draw = random.Random(seed)
    volts, spread = draw.choice([3.3, 5.0, 9.0, 12.0, 18.0, 24.0, 36.0]), draw.uniform(0.0, 0.2)
    highest = draw.choice([0.8, 1.5, 2.5, 3.3, 5.0, 9.0, 12.0, 15.0])
    lowest = highest if draw.random() < 0.6 else highest * draw.uniform(0.0, 0.9)
    load = draw.choice([0.01, 0.1, 0.3, 0.8, 2.0])
    kind = draw.choice(["dc", "dc", "dc", "battery", "ac"])
    hertz = 'frequency = { min = "50 Hz", max = "50 Hz" }' if kind == "ac" else ""
    demands = [
        f'accuracy = "{draw.choice([1, 3, 10])} %"' if draw.random() < 0.7 else "",
        f'noise = "{draw.choice([100, 500])} µV"' if draw.random() < 0.3 else "",
        f'load_step = {{ from = "0 A", to = "{load} A", rise = "1 µs", deviation = '
        f'"{highest / 10:.3g} V", settle = "1 ms" }}'
        if draw.random() < 0.3
        else "",
    ]
    return f"""
title = "need {seed}"

[need.input]
kind = "{kind}"
voltage = {{ min = "{volts * (1 - spread):.4g} V", nominal = "{volts} V", max = "{volts * (1 + spread):.4g} V" }}
resistance = "{draw.choice([0, 50, 500])} mΩ"
{hertz}

[[need.output]]
name = "main"
reference = "common with input"
voltage = {{ min = "{lowest:.4g} V", max = "{highest} V" }}
current = {{ min = "0 A", max = "{load} A" }}
{chr(10).join(demands)}

[need.surroundings]
ambient = {{ min = "{draw.choice([-20, 0])} °C", max = "{draw.choice([30, 60])} °C" }}

[need.parts]
series = "{draw.choice(["E12", "E24", "E96"])}"
derating = "{draw.choice(["none", "NASA MIL-STD-975M"])}"
"""  # noqa: E501


def servable(need: Need) -> bool:
    """Whether a need is one that a supply from a direct source ought to serve.

    Its lowest input, less what the source and common drops take, lies above its highest output;
    it gives no more than the source can, and what a series element would burn can be burnt. Knows
    nothing of architectures and parts.
    """
    source, rail = need.input, need.output[0]
    if source.kind == "ac" or len(need.output) > 1:
        return False
    most = rail.current.max
    left = source.voltage.min - most * source.resistance - DROPS
    burnt = (source.voltage.max - rail.voltage.min) * most
    gives = source.limit is None or most < source.limit.current
    return left > rail.voltage.max and burnt < MOST_BURNT and gives


def rail(
    name: str,
    plus: str,
    minus: str,
    *,
    reference: str,
    volts: str,
    amperes: tuple[str, str],
) -> str:
    """A rail of one voltage for a need with several."""
    return f"""
[[need.output]]
name = "{name}"
nets = {{ plus = "{plus}", minus = "{minus}" }}
reference = "{reference}"
voltage = {{ min = "{volts}", max = "{volts}" }}
current = {{ min = "{amperes[0]}", max = "{amperes[1]}" }}
accuracy = "8 %"

[[need.output.load]]
kind = "resistive"
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
    """The parts by ref of the first sketch for a need, guards and all; it has to be served."""
    found = guarded(architecture, task_of(text))
    assert not isinstance(found, Refusal), found.reason
    return {part.ref: part for part in read_sketch(text, found[0]).circuit.parts}


def value(part: Part, name: str, end: str = "typical") -> float:
    """A value of a part, typical or at an end of its spread."""
    return float(getattr(part.values[name].spread, end))


def held_at_quick(
    architecture: Architecture, text: str, only: Sequence[str] = ASKED
) -> list[tuple[str, str]]:
    """What falls short or stays open of the first sketch where it counts: (id, subject)."""
    found = guarded(architecture, task_of(text))
    assert not isinstance(found, Refusal), found.reason
    proof = prove(read_sketch(text, found[0]), depth=QUICK, only=only, suspecting=False)
    return [(f.id, f.subject) for f in breaches(proof)]
