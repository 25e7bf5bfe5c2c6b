"""A trip that stays: where it acts by its parts' limits, how it is joined, what it asks inside."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import pytest

from railwright.architectures.adjustable_linear import AdjustableLinear
from railwright.architectures.architecture import Architecture, Refusal, Unserved
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guarded import guarded
from railwright.architectures.guards.guard import Guard
from railwright.architectures.guards.switched_trip import SwitchedTrip
from railwright.architectures.guards.trip import Trip
from railwright.architectures.step_down import StepDown
from railwright.architectures.tracking_linear import TrackingLinear
from railwright.architectures.transformer_linear import TransformerLinear
from railwright.circuit.circuit import Part
from tests.architectures.needs import EXAMPLES, held_at_quick, parts_of, plain, task_of, value

OVERLOAD = """
[need.output.overload]
style = "trip"
carry = "1.1 A"
act_by = "1.6 A"
at_power_up = "on"

[need.surroundings]"""
BENCH = (EXAMPLES / "radio-bench-rail.toml").read_text(encoding="utf-8")
BENCH = BENCH.replace('never_above = "18 V"\n', "")
FIVE = plain(
    {
        '"17 V", nominal = "18 V", max = "19 V"': '"11 V", nominal = "12 V", max = "13 V"',
        '"12 V", max = "12 V"': '"5 V", max = "5 V"',
        '"0.3 A"': '"1 A"',
        '"10 %"': '"8 %"\nnets = { plus = "OUT", minus = "RETURN" }',
        "\n[need.surroundings]": OVERLOAD,
    }
)
"""Its output has a return of its own, so that a shunt may stand there."""


TWELVE = plain({"\n[need.surroundings]": OVERLOAD}).replace('"1.1 A"', '"0.33 A"')
TWELVE = TWELVE.replace('"1.6 A"', '"0.5 A"').replace('"on"', '"off"')
"""For a linear regulator from a direct source."""


@pytest.fixture(scope="module")
def bench() -> dict[str, Part]:
    """Of the first sketch for the bench, by ref."""
    return parts_of(TrackingLinear(), BENCH)


@pytest.fixture(scope="module")
def five() -> dict[str, Part]:
    """Of the first sketch for five volts, by ref."""
    return parts_of(StepDown(), FIVE)


def kind(parts: dict[str, Part], name: str) -> list[Part]:
    """Parts of a kind, in the order of the sheet."""
    return [part for part in parts.values() if part.kind == name]


def legs(parts: dict[str, Part], one: str, two: str) -> float:
    """Resistance between two nets [Ω]."""
    (found,) = [p for p in kind(parts, "resistor") if {*p.pins.values()} == {one, two}]
    return value(found, "resistance")


def test_every_sample_acts_within_the_band_of_the_need(bench: dict[str, Part]) -> None:
    """Corners of shunt 1 %, gain 1.5 %, reference, divider 1 %, offsets (catalogue) and 15 K."""
    (shunt,) = [p for p in kind(bench, "resistor") if p.use.startswith("current shunt")]
    (sense,), (reference,) = kind(bench, "current-sense-amplifier"), kind(bench, "shunt-reference")
    upper, lower = legs(bench, "REFERENCE", "LIMIT"), legs(bench, "LIMIT", "GND")
    own = reference.values["reference_voltage"].spread
    currents = []
    for volts, a, b, ohms, gain, offset in product(
        (own.low * (1 - 15 * own.drift), own.high * (1 + 15 * own.drift)),
        (0.99, 1.01),
        (0.99, 1.01),
        (0.99 * (1 - 15 * 75e-6), 1.01 * (1 + 15 * 75e-6)),
        (0.985, 1.015),
        (-1.0, 1.0),
    ):
        limit = volts * lower * b / (lower * b + upper * a) + offset * 5e-3
        at_input = 150e-6 + 0.5e-6 * 15.0 + 10e-6 * 12.0
        seen = limit / (value(sense, "gain") * gain) + offset * at_input
        currents.append(seen / (value(shunt, "resistance") * ohms))
    assert min(currents) >= 1.1 + 0.1 * 0.35
    assert max(currents) <= 1.45 - 0.1 * 0.35
    # a knob at its end has 1.25 times 12 V, and a load of 12 Ω takes that much more
    assert min(currents) >= 1.25


def test_why_the_others_were_not_taken_stands_beside_the_shunt(bench: dict[str, Part]) -> None:
    (shunt,) = [p for p in kind(bench, "resistor") if p.use.startswith("current shunt")]
    assert "Not a shunt in the return: the return of the rail is that of the input" in shunt.why
    assert "a difference amplifier: at best" in shunt.why


def test_how_it_is_joined(bench: dict[str, Part]) -> None:
    (sense,) = kind(bench, "current-sense-amplifier")
    assert (sense.pins["sense_plus"], sense.pins["sense_minus"]) == ("SENSED", "OUT")
    acts, awake = kind(bench, "comparator")
    assert (acts.pins["plus"], acts.pins["minus"]) == ("LIMIT", "ISENSE")
    # at power-up it is to be off: too little input sets the latch, as too much current does
    assert acts.pins["output"] == awake.pins["output"] == "SET"
    assert bench["U1"].pins["disable"] == "TRIPPED"
    tripped, ready = kind(bench, "logic-gate")
    assert (tripped.pins["a"], tripped.pins["b"], tripped.pins["output"]) == (
        "SET",
        "READY",
        "TRIPPED",
    )
    assert (ready.pins["a"], ready.pins["b"], ready.pins["output"]) == ("START", "TRIPPED", "READY")
    (button,) = kind(bench, "switch")
    assert set(button.pins.values()) == {"START", "GND"}
    # what remembers lives on what feeds the converter that it switches off
    (aside,) = kind(bench, "low-dropout-regulator")
    assert aside.pins["input"] == bench["U1"].pins["input"]
    assert tripped.pins["supply"] == ready.pins["supply"] == aside.pins["output"]


def test_a_return_of_its_own_is_sensed_without_an_amplifier(five: dict[str, Part]) -> None:
    assert not kind(five, "current-sense-amplifier")
    (shunt,) = [p for p in kind(five, "resistor") if p.use.startswith("current shunt")]
    assert set(shunt.pins.values()) == {"RETURN", "GND"}
    acts, awake = kind(five, "comparator")
    assert acts.pins["minus"] == "RETURN"
    # at power-up it is to be on: too little input does to the latch what the button does
    assert (acts.pins["output"], awake.pins["output"]) == ("SET", "START")


def test_it_is_let_go_between_its_own_rail_and_the_least_input(five: dict[str, Part]) -> None:
    """Of 2.495 V behind its divider: from 5.12 V and the dropout of 0.45 V, to 11 V."""
    (awake,) = [p for p in kind(five, "comparator") if p.pins["output"] == "START"]
    raw = five["U1"].pins["input"]
    level = awake.pins["plus"]
    at = 2.495 * (1.0 + legs(five, raw, level) / legs(five, level, "GND"))
    assert 1.1 * (5.12 + 0.45) <= at <= 0.9 * 11.0


def test_what_the_supply_inside_is_asked() -> None:
    task = task_of(BENCH)
    trip: Guard = Trip("main")
    inside = trip.inside(task).need.output[0]
    assert inside.nets is not None
    assert (inside.nets.plus, inside.nets.minus) == ("SENSED", "GND")
    # what the shunt takes at 1 A is given on top, and counts as regulation
    lost = inside.voltage.max - 12.0
    assert lost == pytest.approx(1.01 * 30e-3, rel=0.01)
    assert inside.load_regulation == pytest.approx(0.3 - lost)
    assert inside.load_step is not None
    assert inside.load_step.deviation == pytest.approx(0.3 - 0.7 * lost)
    assert inside.current.max == 1.1
    assert inside.overload is not None
    assert inside.overload.style == "none"


def test_a_regulator_whose_own_limit_hides_a_short_is_not_taken(bench: dict[str, Part]) -> None:
    """1085 type: 3.2 A less 0.15 A/V beyond 5 V; 1086 type: 1.5 A less 0.0725 A/V."""
    assert bench["U2"].use == "1085 type 3 A adjustable"
    found = guarded(AdjustableLinear(), task_of(BENCH))
    assert isinstance(found, Refusal)
    assert "in a short, with 20 V across, its own limit may be down at 944 mA" in found.reason


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('"1.45 A"', '"1.12 A"', "a current-sense amplifier: at best"),
        ('"1.45 A"', '"1.12 A"', "a difference amplifier: at best"),
        ('"1.45 A"', '"1.12 A"', "the return of the rail is that of the input"),
        ('load_regulation = "300 mV"', 'load_regulation = "20 mV"', "its shunt would take"),
        ('min = "18 V", nominal = "19 V"', 'min = "7 V", nominal = "7 V"', "its latch wants"),
        ('"19 V", max = "20 V"', '"30 V", max = "88 V"', "no npn transistor .* stands 88 V"),
    ],
    ids=["narrow", "difference", "return", "drop", "low", "high"],
)
def test_what_binds_is_told(old: str, new: str, reason: str) -> None:
    assert old in BENCH
    with pytest.raises(Unserved, match=reason):
        Trip("main").inside(task_of(BENCH.replace(old, new)))


def test_of_several_rails_none_is_tripped() -> None:
    task = task_of(BENCH)
    two = (*task.need.output, replace(task.need.output[0], name="other"))
    with pytest.raises(Unserved, match="a supply of one rail; the need has 2"):
        Trip("main").inside(replace(task, need=replace(task.need, output=two)))


def test_it_lives_on_a_follower_where_the_input_is_too_high_for_it() -> None:
    """Of 30 V a small regulator stands 27 V with a tenth left; a 15 V zener has up to 15.75 V."""
    high = FIVE.replace(
        '"11 V", nominal = "12 V", max = "13 V"', '"33 V", nominal = "36 V", max = "38 V"'
    )
    assert high != FIVE
    parts = parts_of(StepDown(), high)
    raw = parts["U1"].pins["input"]
    (follower,) = kind(parts, "bipolar-transistor")
    assert follower.pins["collector"] == raw
    aside = follower.pins["emitter"]
    (small,) = kind(parts, "low-dropout-regulator")
    fed = {small.pins["input"], *(part.pins["supply"] for part in kind(parts, "comparator"))}
    assert fed == {aside}
    assert (33.0 - 1.0 - 0.1 - 15.75) / legs(parts, raw, follower.pins["base"]) >= 1.5e-3
    # while the input is too low is judged by what feeds the supply
    assert legs(parts, raw, "LEVEL") > 0.0


TRACK = TWELVE.replace('kind = "dc"', 'kind = "ac"\nfrequency = { min = "50 Hz", max = "50 Hz" }')
TRACK = TRACK.replace(
    '"17 V", nominal = "18 V", max = "19 V"', '"207 V", nominal = "230 V", max = "253 V"'
)
TRACK = TRACK.replace('"common with input"', '"floating"').replace('"100 mΩ"', '"500 mΩ"')
"""The same behind a transformer."""


@pytest.fixture(scope="module")
def track() -> dict[str, Part]:
    """Of the first sketch for it, by ref."""
    return parts_of(TransformerLinear(), TRACK)


def test_behind_a_transformer_it_lives_on_the_reservoir(track: dict[str, Part]) -> None:
    store = track["C1"]
    raw, ground = store.pins["plus"], store.pins["minus"]
    (switch,) = kind(track, "field-effect-transistor")
    assert switch.pins["source"] == raw == track["B1"].pins["plus"]
    assert switch.pins["drain"] == track["U1"].pins["input"]
    (aside,) = kind(track, "low-dropout-regulator")
    assert aside.pins["input"] == raw
    assert {part.pins["supply"] for part in kind(track, "comparator")} == {raw}
    # the shunt is the only way from the return of the load to that of the reservoir
    (shunt,) = [p for p in kind(track, "resistor") if p.use.startswith("current shunt")]
    assert set(shunt.pins.values()) == {"OUT_MINUS", ground}
    assert [p.ref for p in track.values() if "OUT_MINUS" in p.pins.values()] in (
        [shunt.ref, acts.ref] for acts in kind(track, "comparator")
    )


def test_behind_a_transformer_it_is_let_go_below_the_valley(track: dict[str, Part]) -> None:
    """A sine behind a resistance, two diodes of 0.9 V, a worn reservoir: Euler's steps of 20 µs."""
    winding, store, current = track["T1"], track["C1"], 0.33 * 1.1 + 0.02
    sides = 2 if "second_start" in winding.pins else 1
    ratio = value(winding, "turns_ratio", "high")
    ohms = value(winding, "secondary_resistance", "high") / sides
    ohms += value(winding, "primary_resistance", "high") / ratio**2
    volts, course, step, farads = 15.0, [], 20e-6, 0.64 * value(store, "capacitance")
    for count in range(10000):
        inner = abs(2**0.5 * 207.0 / ratio * math.sin(2 * math.pi * 50 * count * step)) - 1.8
        volts += step * (max(0.0, (inner - volts) / ohms) - current) / farads
        course.append(volts)
    valley = min(course[-1000:])
    upper, lower = legs(track, "RAW", "LEVEL"), legs(track, "LEVEL", store.pins["minus"])
    assert 1.1 * (5.12 + 0.45) <= 2.495 * (1.0 + upper / lower) <= 0.9 * valley
    # the transistor takes half a volt at most, which the regulator has to do without
    (switch,) = kind(track, "field-effect-transistor")
    on = value(switch, "on_resistance", "high") * value(switch, "warm_factor", "high")
    drops = 0.5 * on
    assert drops <= 0.5
    assert valley - drops >= 12.0 + value(track["U1"], "dropout", "high")


def test_what_the_supply_behind_a_transformer_is_asked() -> None:
    task = task_of(TRACK)
    inside = SwitchedTrip("main").inside(task)
    assert inside.between == pytest.approx(0.5)
    assert inside.need.input == task.need.input
    assert inside.need.output[0].current.max == pytest.approx(0.33 + 0.02)


@pytest.fixture(scope="module")
def switched() -> dict[str, Part]:
    """Of a supply that has no pin to switch it off, by ref."""
    return parts_of(FixedLinear(), TWELVE)


def test_what_has_no_pin_for_it_is_switched_by_a_transistor(switched: dict[str, Part]) -> None:
    (switch,) = kind(switched, "field-effect-transistor")
    regulator = switched["U1"]
    assert switch.pins["drain"] == regulator.pins["input"]
    raw = switch.pins["source"]
    # the reservoir and all that remembers stay where the input is
    (aside,) = kind(switched, "low-dropout-regulator")
    assert raw == aside.pins["input"] == kind(switched, "capacitor")[0].pins["plus"]
    assert {part.pins["supply"] for part in kind(switched, "comparator")} == {raw}
    drawn = [p for p in kind(switched, "bipolar-transistor") if p.pins["emitter"] == "GND"]
    assert len(drawn) == 1


def test_its_gate_has_enough_and_not_too_much(switched: dict[str, Part]) -> None:
    """Of 10 V, at which its resistance is stated, 8 V at least; 60 % of 20 V and a tenth less at
    most (MIL-STD-975M)."""
    (switch,) = kind(switched, "field-effect-transistor")
    upper = legs(switched, switch.pins["source"], switch.pins["gate"])
    (driver,) = kind(switched, "bipolar-transistor")
    share = upper / (upper + legs(switched, switch.pins["gate"], driver.pins["collector"]))
    assert 17.0 * share >= 8.0
    assert 19.0 * share <= 0.9 * 0.6 * 20.0


def test_a_supply_that_is_switched_has_its_resistance_ahead() -> None:
    """20 mΩ at most of a p-channel type for logic levels, 1.7 times that when it is hot."""
    inside = SwitchedTrip("main").inside(task_of(TWELVE)).need
    assert inside.input.resistance == pytest.approx(0.1 + 0.02 * 1.7)


@pytest.mark.parametrize(
    ("kind_of_supply", "text"),
    [(FixedLinear(), TWELVE), (StepDown(), FIVE), (TransformerLinear(), TRACK)],
)
def test_where_it_acts_is_proved_at_depth_quick(kind_of_supply: Architecture, text: str) -> None:
    """The static questions about overloads; all of them are asked of the need of the examples."""
    assert held_at_quick(kind_of_supply, text, ("overload",)) == []
