"""A rail on either side of a middle, from one transformer: what is chosen, by rules of thumb."""

from __future__ import annotations

import math

import pytest

from railwright.architectures.architecture import Refusal
from railwright.architectures.split_linear import SplitLinear
from railwright.circuit.circuit import Part
from tests.architectures.needs import held_at_quick, parts_of, rail, task_of, value

FIFTEEN = {"reference": "floating", "volts": "15 V", "amperes": ("10 mA", "0.3 A")}
AUDIO = f"""
title = "audio"

[need.input]
kind = "ac"
voltage = {{ min = "207 V", nominal = "230 V", max = "253 V" }}
frequency = {{ min = "50 Hz", max = "50 Hz" }}
resistance = "0.5 Ω"
{rail("minus", "COM", "MINUS", **FIFTEEN)}
{rail("plus", "PLUS", "COM", **FIFTEEN)}
[need.surroundings]
ambient = {{ min = "5 °C", max = "40 °C" }}

[need.parts]
derating = "none"
"""
LOAD = 0.3 * 1.08 + 0.025


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(SplitLinear(), AUDIO)


def test_the_valley_is_enough_by_the_rule_of_thumb(parts: dict[str, Part]) -> None:
    """Crest less one diode, pulses of five times the load in half of the windings, I t / C.

    The pulses of both sides flow at once: the primary's resistance counts twice.
    """
    winding = parts["T1"]
    ratio = value(winding, "turns_ratio", "high")
    ohms = value(winding, "secondary_resistance", "high")
    ohms += 2.0 * (value(winding, "primary_resistance", "high") + 0.5) / ratio**2
    crest = math.sqrt(2.0) * 207.0 / ratio - 1.0 - 5.0 * LOAD * ohms / 2.0
    farads = 0.8 * value(parts["C1"], "capacitance", "low")
    assert crest - LOAD * 8e-3 / farads >= 15.0 * 1.02 + 2.4


def test_both_reservoirs_stand_the_highest_mains(parts: dict[str, Part]) -> None:
    crest = math.sqrt(2.0) * 253.0 / value(parts["T1"], "turns_ratio", "low") - 0.5
    for ref in ("C1", "C2"):
        assert value(parts[ref], "rated_voltage", "high") >= 1.25 * crest
    assert parts["B1"].ratings["reverse_voltage"] >= 2.0 * crest
    assert value(parts["T1"], "rated_current") * 0.9 >= 1.8 * LOAD


def test_what_lies_below_the_middle_is_turned_round(parts: dict[str, Part]) -> None:
    """As the datasheet of the 337 type draws it; the bridge spans both reservoirs."""
    assert parts["T1"].pins["secondary_end"] == parts["T1"].pins["second_start"] == "COM"
    bridge = parts["B1"].pins
    assert parts["C1"].pins == {"plus": bridge["plus"], "minus": "COM"}
    assert parts["C2"].pins == {"plus": "COM", "minus": bridge["minus"]}
    (below,) = [part for part in parts.values() if part.kind.startswith("negative-")]
    assert below.pins["input"] == bridge["minus"]
    assert below.pins["output"] == "MINUS"
    adjust = below.pins["adjust"]
    (quiet,) = [p for p in parts.values() if p.pins.get("minus") == adjust]
    assert quiet.pins["plus"] == "COM"
    back = {(p.pins["anode"], p.pins["cathode"]) for p in parts.values() if p.kind == "diode"}
    assert {(bridge["minus"], "MINUS"), ("MINUS", adjust), ("PLUS", bridge["plus"])} <= back
    assert below.pins["case"] != next(p for p in parts.values() if p.ref == "U1").pins["case"]


def test_the_primary_carries_both_sides(parts: dict[str, Part]) -> None:
    """1.8 times the direct current of each, effective, over the ratio; and opens behind a short."""
    ratio = value(parts["T1"], "turns_ratio", "low")
    assert 2.0 * 1.8 * LOAD / ratio <= parts["F1"].ratings["rated_current"] * 1.05


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('plus = "COM"', 'plus = "GROUND"', "have no terminal in common"),
        ('reference = "floating"', 'reference = "common with input"', "apart from the mains"),
        ('max = "15 V"', 'max = "60 V"', "60 V"),
        ('kind = "ac"', 'kind = "dc"', "a transformer wants one that alternates"),
    ],
    ids=["apart", "reference", "high", "direct"],
)
def test_what_binds_is_told_with_numbers(old: str, new: str, reason: str) -> None:
    text = AUDIO.replace(old, new).replace(
        'min = "15 V", max = "60 V"', 'min = "60 V", max = "60 V"'
    )
    if new == 'kind = "dc"':
        text = text.replace('frequency = { min = "50 Hz", max = "50 Hz" }\n', "")
    found = SplitLinear().offer(task_of(text))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_a_candidate_holds_at_depth_quick() -> None:
    assert held_at_quick(SplitLinear(), AUDIO, ("headroom.series", "output.accuracy")) == []


TRIPS = """
[need.output.overload]
style = "trip"
carry = "0.22 A"
act_by = "0.4 A"
at_power_up = "on"
"""
TRIPPED = AUDIO.replace('"15 V"', '"12 V"').replace('"0.3 A"', '"0.2 A"')
TRIPPED = TRIPPED.replace(
    '\n[[need.output.load]]\nkind = "resistive"\n',
    f'\n[[need.output.load]]\nkind = "resistive"\n{TRIPS}',
)


@pytest.fixture(scope="module")
def tripped() -> dict[str, Part]:
    """With a trip on either side, of the first sketch, by ref."""
    return parts_of(SplitLinear(), TRIPPED)


def of_kind(found: dict[str, Part], kind: str) -> list[Part]:
    return [part for part in found.values() if part.kind == kind]


def test_each_side_has_a_trip_on_its_own_reservoir(tripped: dict[str, Part]) -> None:
    upper, lower = tripped["C1"].pins, tripped["C2"].pins
    assert upper["minus"] == lower["plus"] == "COM"
    sides = {part.pins["ground"] for part in of_kind(tripped, "logic-gate")}
    assert sides == {upper["minus"], lower["minus"]}
    switches = {p.options["channel"]: p.pins for p in of_kind(tripped, "field-effect-transistor")}
    assert switches["p"]["source"] == upper["plus"]
    assert switches["n"]["source"] == lower["minus"]
    for channel, name in (("p", "adjustable-regulator"), ("n", "negative-adjustable-regulator")):
        (regulator,) = of_kind(tripped, name)
        assert regulator.pins["input"] == switches[channel]["drain"]
    # a small transistor draws the upper gate down to work, the lower one after a trip
    driven = {part.pins["collector"] for part in of_kind(tripped, "bipolar-transistor")}
    assert switches["n"]["gate"] in driven
    assert switches["p"]["gate"] not in driven


def test_both_see_their_own_current_in_its_direction(tripped: dict[str, Part]) -> None:
    """Into the load above, out of it below; between 0.22 A and 0.4 A with all at their limits."""
    seen = {
        (p.pins["sense_plus"], p.pins["sense_minus"]): p
        for p in of_kind(tripped, "current-sense-amplifier")
    }
    assert set(seen) == {("SENSED_plus", "PLUS"), ("MINUS", "SENSED_minus")}
    for (one, other), amplifier in seen.items():
        (shunt,) = (p for p in of_kind(tripped, "resistor") if {*p.pins.values()} == {one, other})
        (acts,) = (
            p for p in of_kind(tripped, "comparator") if p.pins["minus"] == amplifier.pins["output"]
        )
        limit = acts.pins["plus"]
        (lower,) = (
            p
            for p in of_kind(tripped, "resistor")
            if {*p.pins.values()} == {limit, amplifier.pins["ground"]}
        )
        (upper,) = (
            p for p in of_kind(tripped, "resistor") if limit in p.pins.values() and p is not lower
        )
        below, above = value(lower, "resistance"), value(upper, "resistance")
        slope = value(shunt, "resistance") * value(amplifier, "gain")
        typical = 2.495 * below / (below + above) / slope
        assert 1.05 * 0.22 < typical < 0.95 * 0.4


def test_the_lower_amplifier_has_what_its_inputs_want(tripped: dict[str, Part]) -> None:
    """They see what is left of the reservoir in use, and all of it in a short."""
    (lower,) = (p for p in of_kind(tripped, "current-sense-amplifier") if p.pins["ground"] != "COM")
    ratio = value(tripped["T1"], "turns_ratio", "low")
    most = math.sqrt(2.0) * 253.0 / ratio - 0.5
    assert 0.9 * value(lower, "input_range_high") >= most
    ratio = value(tripped["T1"], "turns_ratio", "high")
    ohms = value(tripped["T1"], "secondary_resistance", "high")
    ohms += 2.0 * (value(tripped["T1"], "primary_resistance", "high") + 0.5) / ratio**2
    load, farads = 0.22 * 1.08 + 0.045, 0.64 * value(tripped["C2"], "capacitance")
    volts, course, step = 18.0, [], 10e-6
    for count in range(20000):  # Euler's steps: a sine behind a resistance, a diode of 1 V
        inner = abs(math.sqrt(2.0) * 207.0 / ratio * math.sin(100.0 * math.pi * count * step)) - 1.0
        volts += step * (max(0.0, (inner - volts) / ohms) - load) / farads
        course.append(volts)
    assert min(course[-2000:]) - 12.0 >= value(lower, "input_range_low")
