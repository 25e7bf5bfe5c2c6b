"""A bench supply of two knobs: its limit, its drops, its loops, by sums of another kind."""

from __future__ import annotations

import math

import numpy as np
import pytest

from railwright.architectures.amplified_linear import AmplifiedLinear
from railwright.architectures.architecture import Refusal, Sketch
from railwright.checks.limiting import OVERLOADED
from railwright.circuit.circuit import Part
from railwright.circuit.design import Design, read_text
from railwright.propose.candidates import breaches
from railwright.propose.draft import drafted
from railwright.prove.run import prove
from railwright.surveys.depth import QUICK
from railwright.surveys.fixture import Fixture, load_ref
from railwright.surveys.operating_range import Points
from railwright.surveys.survey import Survey
from tests.architectures.needs import ASKED, parts_of, read_sketch, task_of, value

BENCH = """
title = "bench"

[need.input]
kind = "ac"
voltage = { min = "207 V", nominal = "230 V", max = "253 V" }
frequency = { min = "50 Hz", max = "50 Hz" }
resistance = "0.5 Ω"

[[need.output]]
name = "bench"
reference = "floating"
voltage = { min = "3 V", max = "9 V" }
current = { min = "0 A", max = "0.3 A" }
accuracy = "5 %"

[[need.output.load]]
kind = "resistive"

[need.output.overload]
style = "constant-current"
carry = "0.3 A"
act_by = "0.42 A"

[need.surroundings]
ambient = { min = "10 °C", max = "35 °C" }

[need.parts]
derating = "none"
"""


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(AmplifiedLinear(), BENCH)


def ohms(part: Part) -> float:
    return value(part, "resistance")


def test_the_limit_lies_in_its_band_with_every_part_at_its_limit(parts: dict[str, Part]) -> None:
    """Vref P / (P + R) / (gain Rs); 1.5 % of reference and drift, 1 % of both, offsets of 10 mV."""
    share = ohms(parts["RV2"]) / (ohms(parts["RV2"]) + ohms(parts["R8"]))
    gain = value(parts["U4"], "gain")
    typical = 2.495 * share / (gain * ohms(parts["R2"]))
    off = 0.01 + 0.015 + 0.012 + 0.015 * (1.0 - share) * 10.0 + 0.01 / (2.495 * share)
    assert typical * (1.0 - off) >= 0.3
    assert typical * (1.0 + off) <= 0.42
    assert 2.55 * share <= 4.5


def test_the_voltage_reaches_both_ends(parts: dict[str, Part]) -> None:
    """Vref (1 + R / across) at the ends of the track, reference and resistors at their limits."""
    across, fixed = ohms(parts["R6"]), ohms(parts["R5"])
    track = value(parts["RV1"], "resistance", "low")
    assert 2.47 * (1.0 + (0.99 * fixed + track) / (1.01 * across)) >= 9.0
    assert 2.52 * (1.0 + (1.01 * fixed + 20.0) / (0.99 * across)) <= 3.0


def test_the_valley_feeds_gate_and_amplifier(parts: dict[str, Part]) -> None:
    """9 V, 4 V of threshold and 0.14 V cold, sqrt(2 I / b), 1.3 V to the amplifier's supply."""
    factor = 8.7**2 / (2.0 * 17.0)
    wanted = 9.0 + 4.0 + 9e-3 * 15.0 + math.sqrt(2.0 * 0.42 / factor) + 1.3
    winding = parts["T1"]
    ratio = value(winding, "turns_ratio", "high")
    halves = value(winding, "secondary_resistance", "high") / 2.0
    halves += value(winding, "primary_resistance", "high") / ratio**2
    load = 0.42 * 1.05 + 0.03
    valley = math.sqrt(2.0) * 207.0 / ratio - 2.0 - 5.0 * load * halves / 2.0
    valley -= load * 8e-3 / (0.8 * value(parts["C1"], "capacitance", "low"))
    assert valley >= wanted + 0.3
    crest = math.sqrt(2.0) * 253.0 / value(winding, "turns_ratio", "low") - 1.0
    assert crest <= 0.9 * 32.0


def test_a_short_is_survived_and_held_off(parts: dict[str, Part]) -> None:
    """JESD51-1 at upper limits; an amplifier of 10 mA sinks twice what pulls the gate up."""
    crest = math.sqrt(2.0) * 253.0 / value(parts["T1"], "turns_ratio", "low") - 1.0
    chain = sum(value(parts[ref], "resistance", "high") for ref in ("P1", "H1"))
    chain += value(parts["Q1"], "junction_to_case", "high")
    assert 35.0 + 0.9 * crest * 0.42 * chain <= 100.0
    assert crest / ohms(parts["R1"]) <= 5.1e-3


def test_the_voltage_loop_is_slower_than_its_follower(parts: dict[str, Part]) -> None:
    """1 / (2 pi R C) times the divider's share, against gm / (2 pi C) at the bleeder's current."""
    integrates = 1.0 / (2.0 * math.pi * ohms(parts["R7"]) * value(parts["C3"], "capacitance"))
    bleeds = 3.0 / ohms(parts["R10"])
    follower = math.sqrt(2.0 * bleeds * 8.7**2 / 34.0)
    pole = follower / (2.0 * math.pi * value(parts["C7"], "capacitance"))
    assert math.degrees(math.atan(integrates * 2.5 / 3.0 / pole)) <= 45.0


def test_both_knobs_are_controls() -> None:
    offer = AmplifiedLinear().offer(task_of(BENCH))
    assert not isinstance(offer, Refusal)
    assert [c["sets"] for c in offer[0].controls] == ["bench.voltage", "bench.current"]
    design = read_sketch(BENCH, offer[0])
    knob = design.circuit.part("RV2")
    assert knob.pins["wiper"] == "LIMIT"
    assert all(part.why for part in design.circuit.parts)


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('style = "constant-current"', 'style = "foldback"', "no constant current is asked"),
        ('"3 V", max = "9 V"', '"9 V", max = "9 V"', "wants no knob"),
        ('"3 V", max = "9 V"', '"0 V", max = "9 V"', "auxiliary negative rail"),
        ('max = "9 V"', 'max = "20 V"', "the amplifiers would see"),
        ('act_by = "0.42 A"', 'act_by = "0.31 A"', "the reserve within"),
        ('reference = "floating"', 'reference = "common with input"', "apart from the mains"),
    ],
    ids=["style", "fixed", "reference", "high", "band", "common"],
)
def test_what_binds_is_told_with_numbers(old: str, new: str, reason: str) -> None:
    assert old in BENCH
    found = AmplifiedLinear().offer(task_of(BENCH.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def fed() -> Design:
    """Fed with what the reservoir has from valley to crest: the mains' cycles are dear to solve."""
    offer = AmplifiedLinear().offer(task_of(BENCH))
    assert not isinstance(offer, Refusal)
    ahead = ("transformer", "bridge-rectifier", "fuse")
    parts = tuple(part for part in offer[0].parts if part["kind"] not in ahead)
    text = BENCH
    for old, new in {
        'kind = "ac"': 'kind = "dc"\nnets = { plus = "RAW", minus = "OUT_MINUS" }',
        '"207 V", nominal = "230 V", max = "253 V"': '"16.5 V", nominal = "19 V", max = "25 V"',
        'frequency = { min = "50 Hz", max = "50 Hz" }\n': "",
        'reference = "floating"': 'reference = "common with input"\n'
        'nets = { plus = "OUT", minus = "OUT_MINUS" }',
    }.items():
        assert old in text
        text = text.replace(old, new)
    return read_text(drafted(text, Sketch(parts, offer[0].controls)), "draft")


def test_a_candidate_holds_at_depth_quick() -> None:
    proof = prove(fed(), depth=QUICK, only=ASKED, suspecting=False)
    assert [(f.id, f.subject) for f in breaches(proof)] == []


def test_a_transistor_that_came_to_its_load_cold_is_limited() -> None:
    """Hot beyond 200 °C it could not be turned off by the amplifier: a state that nothing reaches.

    1.45 V stay at its gate; from 2 V at 25 °C its threshold falls to that 55 K to 220 K higher,
    and a short makes 49 K (JESD51-1: 0.42 A, 25 V, 4.7 K/W).
    """
    survey = Survey(Fixture.of(fed()))
    count = 64
    same, ends = np.ones(count), np.random.default_rng(1).random((survey.spread.size, count)) < 0.5
    points = Points({"bench": 6.75 * same}, {"bench": 0.3 * same}, 25.0 * same, 283.15 * same)
    actual = np.where(ends, survey.spread.low[:, None], survey.spread.high[:, None])
    view = OVERLOADED.view(survey, points, actual, None)
    assert view.solved.all()
    for at in view.beside.values():
        assert at.of(load_ref("bench"), "current").max() < 0.42


def test_what_the_other_diode_leaks_is_next_to_nothing(parts: dict[str, Part]) -> None:
    """Shockley: Is = I / exp(V / n VT), twice as much every 10 K; both have to be sunk."""
    for ref in ("D1", "D2"):
        across = value(parts[ref], "forward_voltage", "low")
        across -= value(parts[ref], "test_current") * value(parts[ref], "series_resistance", "high")
        slope = 0.0257 * value(parts[ref], "ideality", "high")
        leaks = value(parts[ref], "test_current") / math.exp(across / slope) * 2.0**4
        assert 25.7 / ohms(parts["R1"]) + leaks <= 0.52 * 10e-3
