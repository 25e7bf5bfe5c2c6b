"""Random needs: each architecture offers what the strict reader takes, or says what binds."""

from __future__ import annotations

import random

import pytest

from railwright.architectures import every
from railwright.architectures.architecture import Refusal
from railwright.circuit.design import read_text
from railwright.propose.draft import drafted, with_nets
from tests.architectures.needs import task_of

COUNT = 16


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


@pytest.mark.parametrize("seed", range(COUNT))
def test_is_offered_what_can_be_read_or_told_what_binds(seed: int) -> None:
    text = need_of(seed)
    task, need = task_of(text), read_text(text, "need")
    for architecture in every():
        offer = architecture.offer(task)
        if isinstance(offer, Refusal):
            assert len(offer.reason.split()) > 5
            continue
        assert offer
        design = read_text(drafted(with_nets(text, need), offer[0]), "draft")
        assert len(design.circuit.parts) >= 6
        assert all(part.why for part in design.circuit.parts)
