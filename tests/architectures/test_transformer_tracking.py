"""Transformer, following step-down and linear: what the step-down takes, and what feeds it."""

from __future__ import annotations

import math

import pytest

from railwright.architectures.architecture import Refusal
from railwright.architectures.transformer_linear import TransformerLinear
from railwright.architectures.transformer_tracking import TransformerTracking
from railwright.circuit.circuit import Part
from tests.architectures.needs import EXAMPLES, held_at_quick, parts_of, task_of, value

YARD = (EXAMPLES / "model-yard-twelve-volts.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(TransformerTracking(), YARD)


def turns(part: Part, end: str) -> float:
    """Turns of the primary over those that charge the reservoir."""
    joined = part.pins["second_start"] == part.pins["secondary_end"]
    return value(part, "turns_ratio", end) * (0.5 if joined else 1.0)


def test_no_linear_one_alone_serves_it() -> None:
    found = TransformerLinear().offer(task_of(YARD))
    assert isinstance(found, Refusal)
    assert "which no sink can give" in found.reason


def test_the_valley_lets_the_step_down_reach_its_highest_output(parts: dict[str, Part]) -> None:
    """Rule of thumb: pulses of five times the current, I t / C of a worn reservoir.

    The step-down takes D of the load, and wants 1.5 V over its switch and half a volt of diode.
    """
    winding, reservoir = parts["T1"], parts["C1"]
    ratio = turns(winding, "high")
    parallel = winding.pins["second_start"] == winding.pins["secondary_start"]
    ohms = value(winding, "secondary_resistance", "high") / (2.0 if parallel else 1.0)
    ohms += value(winding, "primary_resistance", "high") / ratio**2
    highest = 12.0 + 1.28 * 2.7 + 0.1
    crest = math.sqrt(2.0) * 207.0 / ratio - 2.0 * 0.9
    taken = 1.05 * highest / (crest - 4.0) + 0.02
    valley = crest - 5.0 * taken * ohms - taken * 8e-3 / (0.64 * value(reservoir, "capacitance"))
    assert (highest + 0.5) / (valley - 1.5 + 0.5) < 1.0


def test_its_input_stands_the_highest_mains(parts: dict[str, Part]) -> None:
    most = math.sqrt(2.0) * 253.0 / turns(parts["T1"], "low") - 1.0
    assert most <= 0.9 * parts["U1"].ratings["supply_maximum"]
    assert parts["D1"].ratings["reverse_voltage"] >= most
    for ref in ("C1", "C2"):
        assert value(parts[ref], "rated_voltage", "high") >= most


def test_how_it_is_joined(parts: dict[str, Part]) -> None:
    """Bridge and reservoir feed the step-down; nothing of the direct input is left."""
    assert parts["B1"].pins["plus"] == parts["C1"].pins["plus"] == parts["U1"].pins["input"]
    assert parts["F1"].pins == {"one": "IN", "two": "LIVE"}
    assert sum(part.kind == "fuse" for part in parts.values()) == 1
    assert parts["R3"].pins["one"] == "OUT"
    assert "MAINS" in parts["F1"].why


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('reference = "floating"', 'reference = "common with input"', "common with the input"),
        ('"3 V", max = "12 V"', '"12 V", max = "12 V"', "nothing is there to follow"),
        ('"3 V", max = "12 V"', '"3 V", max = "60 V"', "highest valley of a transformer"),
    ],
    ids=["reference", "fixed", "high"],
)
def test_what_binds_is_told(old: str, new: str, reason: str) -> None:
    assert old in YARD
    found = TransformerTracking().offer(task_of(YARD.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_a_candidate_holds_windows_and_ripple_at_depth_quick() -> None:
    """All of it is dear, in cycles of the mains."""
    assert held_at_quick(TransformerTracking(), YARD, only=("stability", "ripple")) == []
