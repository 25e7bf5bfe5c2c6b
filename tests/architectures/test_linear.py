"""Linear supplies from a direct source: what they serve, and what they refuse and why."""

from __future__ import annotations

import numpy as np
import pytest

from railwright.architectures import every
from railwright.architectures.adjustable_linear import AdjustableLinear
from railwright.architectures.architecture import Architecture, Refusal, Sketch
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.low_dropout_linear import LowDropoutLinear
from railwright.circuit.design import Design, read_text
from railwright.propose.draft import drafted, with_nets
from railwright.quantity import parse
from railwright.standards.iec60063 import is_member
from tests.architectures.needs import EXAMPLES, PLAIN, plain, task_of

LINEAR = (AdjustableLinear(), FixedLinear(), LowDropoutLinear())


def sketches(architecture: Architecture, text: str) -> tuple[Sketch, ...]:
    """What it offers; it must not refuse."""
    found = architecture.offer(task_of(text))
    assert not isinstance(found, Refusal), found.reason
    return found


def refusal(architecture: Architecture, text: str) -> str:
    """The reason of a refusal; it must not offer anything."""
    found = architecture.offer(task_of(text))
    assert isinstance(found, Refusal)
    return found.reason


def design_of(text: str, sketch: Sketch) -> Design:
    """The design of a sketch; it must be one that the strict reader takes."""
    named = with_nets(text, read_text(text, "need"))
    return read_text(drafted(named, sketch), "draft")


def test_every_architecture_is_found_and_says_what_it_gives_up() -> None:
    names = [architecture.name for architecture in every()]
    assert {"adjustable linear", "fixed linear", "low-dropout linear"} <= set(names)
    assert len(set(names)) == len(names)
    assert all(architecture.gives_up for architecture in every())


@pytest.mark.parametrize("architecture", LINEAR, ids=lambda each: each.name)
def test_every_sketch_can_be_bought_and_says_why(architecture: Architecture) -> None:
    for sketch in sketches(architecture, PLAIN):
        design = design_of(PLAIN, sketch)
        catalogue = task_of(PLAIN).catalogue
        for part in design.circuit.parts:
            assert part.why, part.ref
            assert catalogue[part.use].kind == part.kind
            if part.kind == "resistor":
                assert is_member(part.values["resistance"].spread.typical, "E24")


def test_the_whole_way_down_of_a_fixed_supply_is_enough() -> None:
    """Lowest input less every drop at its upper limit, by hand."""
    design = design_of(PLAIN, sketches(FixedLinear(), PLAIN)[0])
    current = 0.3 * 12.6 / 12.0 + 0.008
    lost = 0.1 * current
    for part in design.circuit.parts:
        if part.kind == "fuse":
            lost += part.values["resistance"].spread.high * current
        if part.kind == "diode" and "FUSED" in part.pins.values():
            lost += part.values["forward_voltage"].spread.high
    dropout = 2.6 + 0.28 * (current - 1.0) + 3.25e-3 * 15.0
    assert 17.0 - lost - 12.6 >= 1.1 * dropout


def test_the_largest_loss_finds_a_cool_enough_junction() -> None:
    """Chain of JESD51-1 by hand: (19 V - 11.4 V) of 0.315 A and 8 mA of 19 V."""
    design = design_of(PLAIN, sketches(FixedLinear(), PLAIN)[0])
    (sink,) = [p for p in design.circuit.parts if p.kind == "heat-sink"]
    (pad,) = [p for p in design.circuit.parts if p.kind == "insulator"]
    loss = (19.0 - 11.4) * 0.315 + 19.0 * 0.008
    chain = 6.5 + pad.values["resistance"].spread.high + sink.values["resistance"].spread.high
    assert 40.0 + loss * chain <= 90.0


def test_nets_of_the_need_are_not_taken_for_others() -> None:
    text = plain({'"100 mΩ"': '"100 mΩ"\nnets = { plus = "RAW", minus = "TAB" }'})
    for architecture in LINEAR:
        design = design_of(text, sketches(architecture, text)[0])
        (regulator,) = [p for p in design.circuit.parts if p.ref == "U1"]
        assert regulator.pins["input"] == "RAW_INSIDE"
        assert regulator.pins["case"] == "TAB_INSIDE"


def test_the_next_sketch_has_the_larger_sink() -> None:
    sinks = [
        next(str(p["use"]) for p in sketch.parts if p["kind"] == "heat-sink")
        for sketch in sketches(FixedLinear(), PLAIN)
    ]
    sizes = [parse(sink.removeprefix("heat sink "), "K/W") for sink in sinks]
    assert sizes == sorted(sizes, reverse=True)
    assert len(set(sizes)) == len(sizes)


def test_a_span_gets_a_knob_and_a_tight_accuracy_a_trimmer() -> None:
    knob = (EXAMPLES / "classroom-knob.toml").read_text(encoding="utf-8")
    (control,) = sketches(AdjustableLinear(), knob)[0].controls
    assert (control["sets"], control["role"]) == ("bench.voltage", "set")
    tight = plain({'accuracy = "10 %"': 'accuracy = "3 %"'})
    (control,) = sketches(AdjustableLinear(), tight)[0].controls
    assert control["role"] == "trim"
    assert control["calibration"] == {"voltage": "12 V"}
    assert sketches(AdjustableLinear(), PLAIN)[0].controls == ()


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        (
            {'kind = "dc"': 'kind = "ac"\nfrequency = { min = "50 Hz", max = "50 Hz" }'},
            "alternates",
        ),
        ({'"12 V", max = "12 V"': '"24 V", max = "24 V"'}, "only takes voltage away"),
        ({'reference = "common with input"': 'reference = "floating"'}, "has to be floating"),
        (
            {
                '"10 %"': '"10 %"\nnets = { plus = "GND", minus = "NEG" }',
                '"100 mΩ"': '"100 mΩ"\nnets = { plus = "IN", minus = "GND" }',
            },
            "below the return",
        ),
        ({'"10 %"': '"10 %"\nnever_above = "15 V"'}, "shorted pass element puts the input of 19 V"),
        (
            {'"10 %"': '"10 %"\noverload = { style = "trip", carry = "0.4 A", act_by = "0.5 A" }'},
            "wants trip by 500 mA",
        ),
    ],
    ids=["mains", "up", "floating", "negative", "never above", "trip"],
)
def test_what_no_linear_supply_alone_gives_is_refused(changes: dict[str, str], reason: str) -> None:
    for architecture in LINEAR:
        assert reason in refusal(architecture, plain(changes))


@pytest.mark.parametrize(
    ("architecture", "changes", "reason"),
    [
        # 14.2 V - 12.6 V and less is no 2 V for a 78xx type
        (
            FixedLinear(),
            {'"17 V", nominal = "18 V"': '"14.2 V", nominal = "18 V"'},
            "left across it at 12.6 V out; it needs",
        ),
        # (25 V - 11.4 V) x 0.6 A are more than any sink of the catalogue sheds
        (
            FixedLinear(),
            {'max = "0.3 A"': 'max = "0.6 A"', 'max = "19 V"': 'max = "25 V"'},
            "even on the largest sink",
        ),
        (FixedLinear(), {'"12 V", max = "12 V"': '"10 V", max = "10 V"'}, "8.55 V to 9.45 V"),
        (FixedLinear(), {'"12 V", max = "12 V"': '"6 V", max = "12 V"'}, "one voltage"),
        (
            AdjustableLinear(),
            {'"12 V", max = "12 V"': '"0 V", max = "12 V"'},
            "below its reference",
        ),
        (
            AdjustableLinear(),
            {'max = "0.3 A"': 'max = "3 A"'},
            "may be used",
        ),
    ],
    ids=["dropout", "heat", "type", "span", "reference", "current"],
)
def test_what_binds_is_told_with_numbers(
    architecture: Architecture, changes: dict[str, str], reason: str
) -> None:
    told = refusal(architecture, plain(changes))
    assert reason in told
    assert any(sign.isdigit() for sign in told)


def test_low_dropout_serves_where_a_plain_one_cannot() -> None:
    text = plain({'"17 V", nominal = "18 V"': '"14.4 V", nominal = "16 V"', '"10 %"': '"8 %"'})
    assert "it needs" in refusal(FixedLinear(), text)
    assert sketches(LowDropoutLinear(), text)


def test_a_capacitor_keeps_the_legs_from_enlarging_noise() -> None:
    """n |1 + (G - 1)/(1 + j w R C)| summed over the band, against what is allowed."""
    small = {'max = "0.3 A"': 'max = "0.05 A"', "12 V": "5 V"}
    text = plain({'accuracy = "10 %"': 'accuracy = "10 %"\nnoise = "300 µV"', **small})
    design = design_of(text, sketches(LowDropoutLinear(), text)[0])
    parts = {part.ref: part for part in design.circuit.parts}
    (quiets,) = [p for p in parts.values() if p.pins.get("minus") == "FB"]
    upper = next(p for p in parts.values() if p.pins.get("one") == "FB" and p.ref != "R1")
    density = parts["U1"].values["noise_voltage"].spread.high
    corner = 1.0 / (
        2.0
        * np.pi
        * upper.values["resistance"].spread.typical
        * quiets.values["capacitance"].spread.low
    )
    band = np.geomspace(10.0, 100e3, 2001)
    gain = np.abs(
        1.0 + (5.0 / parts["U1"].values["reference"].spread.low - 1.0) / (1.0 + 1j * band / corner)
    )
    assert np.sqrt(np.trapezoid((density * gain) ** 2, band)) <= 0.9 * 300e-6
    without = plain(small)
    bare = design_of(without, sketches(LowDropoutLinear(), without)[0])
    assert not [p for p in bare.circuit.parts if p.pins.get("minus") == "FB"]


def test_a_pass_element_that_would_not_wake_is_refused() -> None:
    """1.2 V in: types of low dropout want 1.15 V and more, with the wanted reserve 1.26 V."""
    text = plain(
        {
            '"17 V", nominal = "18 V", max = "19 V"': '"1.2 V", nominal = "1.25 V", max = "1.3 V"',
            '"12 V", max = "12 V"': '"0.5 V", max = "0.5 V"',
        }
    )
    assert "at its input; it wants" in refusal(LowDropoutLinear(), text)
