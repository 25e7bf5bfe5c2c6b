"""Transformer, rectifier, reservoir and regulator: what is chosen, by sums of another kind."""

from __future__ import annotations

import math

import pytest

from railwright.architectures.architecture import Refusal, Sketch
from railwright.architectures.transformer_linear import TransformerLinear
from railwright.circuit.circuit import Part
from tests.architectures.needs import EXAMPLES, read_sketch, task_of

CLOCK = (EXAMPLES / "master-clock-five-volts.toml").read_text(encoding="utf-8")


def offered(text: str) -> tuple[Sketch, ...]:
    found = TransformerLinear().offer(task_of(text))
    assert not isinstance(found, Refusal), found.reason
    return found


def changed(old: str, new: str) -> str:
    assert old in CLOCK
    return CLOCK.replace(old, new)


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by kind; the reservoir as its own."""
    sketch = offered(CLOCK)[0]
    design = read_sketch(CLOCK, sketch)
    found = {part.kind: part for part in design.circuit.parts}
    found["reservoir"] = design.circuit.part("C1")
    return found


def test_the_valley_is_enough_by_the_rule_of_thumb(parts: dict[str, Part]) -> None:
    """Crest less drops, pulses of five times the load in the resistance, and I t / C of a worn one.

    The rule takes more than the steady state does: what it leaves is enough for the regulator.
    """
    winding = parts["transformer"].values
    assert "second_start" in parts["transformer"].pins
    ratio = winding["turns_ratio"].spread.high
    resistance = winding["secondary_resistance"].spread.high / 2.0
    resistance += winding["primary_resistance"].spread.high / ratio**2
    load = 0.4 * 1.05 + 0.008
    crest = math.sqrt(2.0) * 207.0 / ratio - 2.0 * 0.9 - 5.0 * load * resistance / 2.0
    farads = 0.64 * parts["reservoir"].values["capacitance"].spread.typical
    assert crest - load * 7e-3 / farads >= 5.25 + 2.3


def test_the_reservoir_stands_the_highest_mains_without_a_load(parts: dict[str, Part]) -> None:
    ratio = parts["transformer"].values["turns_ratio"].spread.low
    rated = parts["reservoir"].values["rated_voltage"].spread.high
    assert math.sqrt(2.0) * 253.0 / ratio <= 0.8 * rated + 1.0


def test_secondaries_carry_the_pulses_of_a_rectifier(parts: dict[str, Part]) -> None:
    """1.8 times the direct current, effective (rule of the check of windings), half in each."""
    rated = parts["transformer"].values["rated_current"].spread.typical
    assert 0.9 * rated >= 1.8 * 0.42 / 2.0


def test_the_fuse_carries_the_load_and_opens_behind_a_short(parts: dict[str, Part]) -> None:
    winding, fuse = parts["transformer"].values, parts["fuse"].values
    ratio = winding["turns_ratio"].spread.high
    assert 1.8 * 0.42 / ratio <= parts["fuse"].ratings["rated_current"]
    own = winding["primary_resistance"].spread.high
    own += ratio**2 * winding["secondary_resistance"].spread.high / 2.0
    reactance = 2.0 * math.pi * 50.0 * winding["leakage_inductance"].spread.high
    assert 207.0 / math.hypot(1.3 * own + 0.5, reactance) > fuse["melting_current"].spread.high


def test_the_way_of_the_mains_is_told_with_its_cautions(parts: dict[str, Part]) -> None:
    assert parts["fuse"].pins["one"] == "IN"
    assert "MAINS" in parts["fuse"].why
    assert "in the valley" in parts["transformer"].why
    assert parts["bridge-rectifier"].pins["minus"] == "OUT_MINUS"


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('reference = "floating"', 'reference = "common with input"', "common with the input"),
        ('"5 V", max = "5 V"', '"90 V", max = "90 V"', "highest valley of a transformer"),
        ('max = "0.4 A"', 'max = "30 A"', "no transformer of the catalogue with a reservoir"),
        ('accuracy = "8 %"', 'never_above = "6 V"', "shorted pass element"),
        (
            'kind = "ac"\n',
            'kind = "dc"\n',
            "the input is dc; a transformer wants one that alternates",
        ),
    ],
    ids=["reference", "high", "much", "never above", "direct"],
)
def test_what_binds_is_told(old: str, new: str, reason: str) -> None:
    text = changed(old, new)
    if "dc" in new:
        text = text.replace('frequency = { min = "50 Hz", max = "50 Hz" }\n', "")
    found = TransformerLinear().offer(task_of(text))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_a_knob_behind_a_transformer_is_an_adjustable_type() -> None:
    text = changed('"5 V", max = "5 V"', '"3 V", max = "9 V"').replace('"0.4 A"', '"0.25 A"')
    sketch = offered(text)[0]
    assert [control["role"] for control in sketch.controls] == ["set"]
    assert any(part["kind"] == "adjustable-regulator" for part in sketch.parts)
