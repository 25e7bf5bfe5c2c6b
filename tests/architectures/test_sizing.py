"""Sizing against published worked examples, or against a second form of the same sum."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from railwright.architectures.architecture import Refusal, Unserved
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.mains_input import Winding
from railwright.architectures.sizing.capacitors import bears, capacitor, least_for_step
from railwright.architectures.sizing.cooling import coolings
from railwright.architectures.sizing.diodes import diode
from railwright.architectures.sizing.divider import (
    Pin,
    adjustable_leg,
    divider,
    other_leg,
    output_of,
)
from railwright.architectures.sizing.fuses import charging, charging_integral, fuse
from railwright.architectures.sizing.resistors import resistor, tolerance_of
from railwright.architectures.sizing.step_down_loop import Compensation, Filter, phase_margin
from railwright.architectures.step_down import StepDown
from railwright.catalogue.loader import load
from railwright.prove.run import prove
from railwright.quantity import Spread, parse
from railwright.standards.derating import POLICIES
from railwright.standards.iec60063 import is_member
from railwright.standards.iec60127 import opening_time
from railwright.standards.rectifier import reservoir
from railwright.surveys.depth import QUICK
from tests.architectures.needs import PLAIN, parts_of, plain, read_sketch, task_of
from tests.published import Row, published

CATALOGUE = load()
POLICY = POLICIES["NASA MIL-STD-975M"]
TASK = task_of(PLAIN)
FREE = replace(TASK, derating=POLICIES["none"])
PIN = Pin(Spread.limits(1.2, 1.25, 1.3), Spread.limits(0.0, 50e-6, 100e-6))


@pytest.mark.parametrize("row", published("resistor of an adjustable regulator"), ids=str)
def test_leg_as_in_a_textbook(row: Row) -> None:
    given = row.inputs
    found = other_leg(given["reference"], given["adjust_current"], given["upper"], given["output"])
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("resistor of a step-down regulator"), ids=str)
def test_leg_at_a_feedback_pin_as_in_a_datasheet(row: Row) -> None:
    given = row.inputs
    found = other_leg(given["reference"], 0.0, given["lower"], given["output"])
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("output of an adjustable regulator"), ids=str)
def test_output_of_legs_as_reported(row: Row) -> None:
    given = row.inputs
    found = output_of(given["reference"], given["adjust_current"], given["upper"], given["lower"])
    assert found == row.expected_within_its_tolerance


def test_a_divider_is_bought_and_its_limits_hold_for_every_corner() -> None:
    found = divider(PIN, 5.0, 110.0, "E24", 0.01, allowed=0.08)
    assert is_member(found.across, "E24")
    assert is_member(found.other, "E24")
    assert found.across <= 110.0
    corners = [
        reference * (1.0 + found.other * b / (found.across * a)) + current * found.other * b
        for reference in (1.2, 1.3)
        for current in (0.0, 100e-6)
        for a in (0.99, 1.01)
        for b in (0.99, 1.01)
    ]
    assert (found.low, found.high) == pytest.approx((min(corners), max(corners)))


def test_a_divider_that_cannot_be_accurate_enough_says_by_how_much() -> None:
    # 4 % of the reference alone are more than 3 %
    with pytest.raises(Unserved, match=r"1\.2 V to 1\.3 V.* 3 % is left"):
        divider(PIN, 5.0, 110.0, "E24", 0.01, allowed=0.03)


@pytest.mark.parametrize("besides", [False, True])
def test_a_knob_reaches_both_ends_with_any_sample(besides: bool) -> None:
    tracks = [CATALOGUE[f"potentiometer ten-turn {size}"] for size in ("1 kΩ", "2 kΩ")]
    found = adjustable_leg(
        PIN, 3.0, 12.0, tracks, 110.0, "E24", 0.01, lambda _, __: True, besides=besides
    )
    assert bool(found.beside) == besides
    draw = np.random.default_rng(1)
    count = 2000
    track = found.variable.values["resistance"].spread
    reference, current = draw.uniform(1.2, 1.3, count), draw.uniform(0.0, 100e-6, count)
    across = found.across * draw.uniform(0.99, 1.01, count)
    fixed = found.fixed * draw.uniform(0.99, 1.01, count)
    whole = draw.uniform(track.low, track.high, count)
    if besides:
        assert found.beside >= track.typical  # so that a degree moves no more than twice as much
        whole = 1.0 / (1.0 / whole + 1.0 / (found.beside * draw.uniform(0.99, 1.01, count)))
    at_top = fixed + whole
    top = reference * (1.0 + at_top / across) + current * at_top
    bottom = reference * (1.0 + fixed / across) + current * fixed
    assert top.min() >= 12.0
    assert bottom.max() <= 3.0
    assert top.max() <= found.top


def test_a_knob_out_of_reach_says_what_is_missing() -> None:
    tracks = [CATALOGUE["potentiometer ten-turn 1 kΩ"]]
    with pytest.raises(Unserved, match="the greatest variable resistor has 950 Ω"):
        adjustable_leg(PIN, 3.0, 500.0, tracks, 110.0, "E24", 0.01, lambda _, __: True)


@pytest.mark.parametrize("row", published("heat sink of a regulator"), ids=str)
def test_the_sink_is_at_least_as_good_as_the_published_chain_asks(row: Row) -> None:
    given = row.inputs
    loss = (given["input"] - given["output"]) * given["load"] + given["input"] * given["own"]
    part = CATALOGUE["7805 type 1 A"]
    exact = {
        "junction_to_case": replace(
            part.values["junction_to_case"], spread=Spread.exact(given["to_case"])
        )
    }
    part = replace(part, values={**part.values, **exact})
    pad = CATALOGUE["TO-220 pad, silicone"]
    known = replace(pad.values["resistance"], spread=Spread.exact(given["to_sink"]))
    catalogue = {**CATALOGUE, pad.name: replace(pad, values={"resistance": known})}
    ambient, limit = given["ambient"] + 273.15, given["junction"] + 273.15
    found = coolings(catalogue, part, loss, ambient, limit)
    for cooling in found:
        assert cooling.sink is not None
        assert cooling.sink.values["resistance"].spread.high <= row.expected
    # the sink of 5 K/W may have 6.5 K/W: not good enough for the published 5.1 K/W
    fitting = [c.sink.name for c in found if c.sink]
    assert fitting == ["heat sink 2.5 K/W", "heat sink 1.3 K/W"]


def test_where_a_hand_counts_ways_with_a_sink_follow_that_without() -> None:
    part, air = CATALOGUE["7805 type 1 A"], 298.15
    bare = coolings(CATALOGUE, part, 0.5, air, 398.15)
    assert [c.sink for c in bare] == [None]
    alone, first, *_ = coolings(CATALOGUE, part, 0.5, air, 398.15, touched=True)
    assert alone.sink is None
    assert first.sink is not None
    # 5 W at 65 K/W of a TO-220 without a sink are 325 K
    assert all(c.sink for c in coolings(CATALOGUE, part, 5.0, air, 398.15, touched=True))


def test_a_loss_beyond_every_sink_says_what_it_would_take() -> None:
    with pytest.raises(Unserved, match=r"20 W .* 1\.69 K/W; 90 °C is allowed"):
        coolings(CATALOGUE, CATALOGUE["317 type 1.5 A"], 20.0, 313.15, 363.15)


def test_the_junction_is_sized_for_the_lower_limit() -> None:
    """A regulator stands 125 °C, of which the policy allows 100 °C; 10 K are the reserve."""
    part = CATALOGUE["317 type 1.5 A"]
    assert part.values["junction_limit"].spread.high == pytest.approx(398.15)
    assert TASK.hottest(part) == pytest.approx(373.15 - 10.0)
    assert FREE.hottest(part) == pytest.approx(398.15 - 10.0)


@pytest.mark.parametrize(
    ("resistance", "sheet", "opens"), [(0.1, 5, "1800 s"), (1.0, 3, "120 s")], ids=["stiff", "soft"]
)
def test_the_fuse_carries_breaks_and_opens(resistance: float, sheet: int, opens: str) -> None:
    """A source of 190 A into a short wants high breaking capacity, one of 19 A does not."""
    found = fuse(CATALOGUE, 0.32, 308.15, POLICY, 0.9, charging(47e-6, 19.0, resistance, 0.9))
    rated = found.entry.values["rated_current"].spread.high
    assert rated == 1.0
    assert 0.9 * float(POLICY.fuse_current(rated, 308.15) or 0.0) * rated >= 0.32
    assert found.entry.values["breaking_capacity"].spread.low >= 19.0 / resistance
    assert f"opens within {opens} at 2.1 A" in found.why
    assert parse(opens, "s") == opening_time(sheet, rated, 2.1 * rated).greatest


def test_the_charge_of_a_capacitor_against_its_course() -> None:
    times = np.linspace(0.0, 20 * 100e-6 * 0.2, 200_001)
    current = 20.0 / 0.2 * np.exp(-times / (100e-6 * 0.2))
    assert charging_integral(100e-6, 20.0, 0.2) == pytest.approx(
        float(np.trapezoid(current**2, times)), rel=1e-4
    )


def test_a_greater_reservoir_asks_for_a_greater_fuse() -> None:
    small = fuse(CATALOGUE, 0.05, 298.15, POLICY, 0.9, charging(1e-6, 19.0, 0.1, 0.9)).entry
    great = fuse(CATALOGUE, 0.05, 298.15, POLICY, 0.9, charging(4700e-6, 35.0, 0.1, 0.9)).entry
    taken = 4700e-6 * 35.0**2 / 2 / (0.1 + great.values["resistance"].spread.low)
    assert great.values["melting_integral"].spread.low >= taken
    assert great.values["rated_current"].spread.high > small.values["rated_current"].spread.high


def test_a_capacitor_keeps_its_window() -> None:
    found = capacitor(TASK, "electrolytic", 22e-6, 20.0, "why", esr=(0.1, 1.0)).entry
    esr, marked = found.values["esr"].spread, found.values["capacitance"].spread.typical
    assert marked >= 22e-6
    assert esr.low >= 0.1
    assert esr.high <= 1.0
    assert found.values["rated_voltage"].spread.high >= 25.0
    with pytest.raises(Unserved, match="no electrolytic capacitor"):
        capacitor(TASK, "electrolytic", 22e-6, 20.0, "why", esr=(50.0, 60.0))


SHARES = [
    ("ceramic 100 nF 50 V class 2", 0.6),
    ("film 100 nF 63 V", 0.6),
    ("tantalum 10 µF 25 V", 0.5),
]
"""MIL-STD-975M (NASA), A 3.1: shares of the rated voltage, up to 70 °C."""


@pytest.mark.parametrize(("name", "share"), SHARES)
def test_a_capacitor_may_see_what_the_policy_allows(name: str, share: float) -> None:
    """The least of it over the ambient, and a tenth of that is the reserve."""
    entry = CATALOGUE[name]
    rated = entry.values["rated_voltage"].spread.high
    assert bears(TASK, entry) == pytest.approx(0.9 * share * rated)
    assert bears(FREE, entry) == pytest.approx(0.9 * rated)


def test_a_capacitor_in_warm_air_may_see_less() -> None:
    """Solid tantalum: half up to 70 °C, 0.3 at 110 °C, straight between."""
    warm = task_of(plain({'max = "40 °C"': 'max = "90 °C"'}))
    assert bears(warm, CATALOGUE["tantalum 10 µF 25 V"]) == pytest.approx(0.9 * 0.4 * 25.0)


def test_without_a_row_in_the_policy_a_fifth_of_a_capacitor_is_spare() -> None:
    entry = CATALOGUE["electrolytic 100 µF 25 V low-ESR"]
    assert bears(TASK, entry) == pytest.approx(0.8 * 25.0)
    parts = replace(TASK.need.parts, reserve=0.3)
    more = replace(TASK, need=replace(TASK.need, parts=parts))
    assert bears(more, entry) == pytest.approx(0.7 * 25.0)


def test_the_rating_of_a_ceramic_capacitor_follows_the_policy() -> None:
    """20 V want 20 / 0.54 = 37 V of rating, and 1.25 x 20 = 25 V would have fallen short."""
    chosen = capacitor(TASK, "class-2", 10e-6, 13.5, "why").entry
    assert chosen.values["rated_voltage"].spread.high == 25.0
    chosen = capacitor(TASK, "class-2", 1e-6, 20.0, "why").entry
    assert chosen.values["rated_voltage"].spread.high >= 50.0
    with pytest.raises(Unserved, match=r"10 µF .* may see 20 V \(NASA MIL-STD-975M\)"):
        capacitor(TASK, "class-2", 10e-6, 20.0, "why")
    assert capacitor(FREE, "class-2", 10e-6, 20.0, "why").entry.values["rated_voltage"].spread.high


def test_capacitors_as_sized_keep_the_wanted_reserve() -> None:
    """29 V: a ceramic one of 50 V would be left with 1 V of the 30 V that it may see."""
    wide = '"17 V", nominal = "18 V", max = "19 V"'
    text = plain({wide: '"26 V", nominal = "28 V", max = "29 V"'})
    text = text.replace('max = "0.3 A"', 'max = "0.05 A"')
    offered = FixedLinear().offer(task_of(text))
    assert not isinstance(offered, Refusal), offered.reason
    proof = prove(read_sketch(text, offered[0]), depth=QUICK)
    found = [each for each in proof.findings if each.subject.endswith(" rated_voltage")]
    judged = [each for each in found if each.subject.startswith("C")]
    assert len(judged) >= 2
    assert all(each.verdict == "holds" for each in judged)
    assert min(each.reserve or 0.0 for each in judged) >= 0.1


def test_the_capacitance_for_a_step_of_the_load() -> None:
    """A coil that gives its energy to a capacitor: L dI² / 2 = C dV² / 2."""
    capacitance = least_for_step(0.4e-6, 0.7, 0.1)
    assert 0.5 * capacitance * 0.1**2 == pytest.approx(0.5 * 0.4e-6 * 0.7**2)


def test_diodes_are_chosen_by_both_ratings() -> None:
    """1 A and 50 V of the 1N4001: 0.5 and 0.7 of the policy, of which a tenth is the reserve."""
    assert diode(TASK, 0.4, 31.5, "why").entry.name == "1N4001"
    assert diode(TASK, 0.4, 31.6, "why").entry.name == "1N4002"
    assert diode(TASK, 0.46, 18.0, "why", lasting=False).entry.name == "1N4001"
    assert diode(TASK, 0.46, 18.0, "why").entry.name == "1N5401"
    with pytest.raises(Unserved, match=r"no diode for 1\.36 A"):
        diode(TASK, 1.36, 18.0, "why")
    schottky = diode(TASK, 1.3, 18.0, "why", schottky=True).entry
    assert schottky.values["forward_current"].spread.high * 0.45 >= 1.3
    assert math.isclose(schottky.values["gap"].spread.typical, 0.69, abs_tol=0.1)
    with pytest.raises(Unserved, match="no diode for 400 A"):
        diode(TASK, 400.0, 18.0, "why")


def test_a_rectifier_survives_as_much_heat_in_a_half_wave_of_fifty_hertz() -> None:
    """Datasheets state 30 A, one half wave of 8.3 ms: I²t is half the crest's square times it."""
    known = 0.5 * 30.0**2 * 8.3e-3
    survives = math.sqrt(known / (0.5 * 10e-3))
    assert diode(TASK, 0.4, 18.0, "why", surge=survives).entry.name == "1N4001"
    greater = diode(TASK, 0.4, 18.0, "why", surge=1.01 * survives).entry
    assert greater.values["surge_current"].spread.low > 30.0
    with pytest.raises(Unserved, match="that survives 1 kA at switch-on"):
        diode(TASK, 0.4, 18.0, "why", surge=1e3)


def test_resistors_are_tight_and_strong_enough() -> None:
    found = resistor(TASK, 0.2, 0.01)
    assert tolerance_of(found) == pytest.approx(0.01)
    assert found.values["rated_power"].spread.high * 0.54 >= 0.2
    with pytest.raises(Unserved, match="no film resistor"):
        resistor(TASK, 50.0, 0.01)


def test_a_knob_that_does_not_come_down_says_where_it_stops() -> None:
    tracks = [CATALOGUE["potentiometer ten-turn 1 kΩ"]]
    # 2.5 Ω at the end stop and 3 Ω of contact: 1.3 V x (1 + 5.5/110) and 0.1 mA x 5.5 Ω
    with pytest.raises(Unserved, match=r"still be 1\.37 V"):
        adjustable_leg(PIN, 1.3, 5.0, tracks, 110.0, "E24", 0.01, lambda _, __: True)


MARGINS = [r for r in published("buck converter's loop") if r.inputs["of"] == "phase margin"]


@pytest.mark.parametrize("row", MARGINS, ids=str)
def test_what_a_compensation_leaves_of_the_phase(row: Row) -> None:
    """28 V to 15 V, ideal coil and capacitor; 4 V of ramp, a third of the output is fed back."""
    gain, zero, pole = (row.inputs[name] for name in ("gain", "zero", "pole"))
    amplifier = Compensation(gain / 4.0, pole or math.inf, zero or math.inf)
    found = phase_margin(amplifier, 28.0, 1.0 / 3.0, Filter(50e-6, 0.0, 500e-6, 0.0, 3.0))
    assert found == row.expected_within_its_tolerance


def test_a_capacitor_across_the_upper_leg_leads_as_the_textbooks_network() -> None:
    """Its zero and pole where the network's are: the divider's share is zero over pole."""
    (row,) = [row for row in MARGINS if row.inputs["zero"]]
    gain, zero, pole = (row.inputs[name] for name in ("gain", "zero", "pole"))
    share, lead = zero / pole, 1.0 / (2.0 * math.pi * zero)
    flat = Compensation(gain / 4.0 / 3.0 / share, math.inf, math.inf)
    found = phase_margin(flat, 28.0, share, Filter(50e-6, 0.0, 500e-6, 0.0, 3.0), lead)
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("rating of a transformer"), ids=str)
def test_a_transformer_is_rated_as_its_makers_do(row: Row) -> None:
    """Both secondaries of 15 V in series near their rated power, 2200 µF, two diodes of 0.85 V."""
    transformer = Winding(CATALOGUE["mains transformer 230 V, 2 x 15 V, 30 VA"], "in series")
    load = row.inputs["load"]
    half = reservoir(
        math.sqrt(2.0) * 230.0 / transformer.ratio("typical") - 1.7,
        transformer.resistance(0.5, "typical"),
        transformer.leakage("typical"),
        2200e-6,
        load,
        50.0,
    )
    rated, direct = 30.0, float(half.mean) + 2.0
    current = float(half.effective) / load
    found = {"current": current, "voltage": rated / direct, "power": rated * current / direct}
    assert found[row.inputs["of"]] == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("part of a design procedure"), ids=str)
def test_parts_of_a_stage_are_at_least_what_a_design_procedure_asks(row: Row) -> None:
    """Up to 15 V to 5 V at 3 A, as the procedure's example."""
    output = {'"12 V"': '"5 V"', '"0.3 A"': '"3 A"'}
    input = {'"17 V"': '"10 V"', '"18 V"': '"12 V"', '"19 V"': '"15 V"'}
    parts = parts_of(StepDown(), plain({**output, **input}))
    ref, rating = row.inputs["of"]
    assert parts[ref].ratings[rating] >= row.expected


@pytest.mark.parametrize(
    "row", [r for r in published("inrush into a capacitor") if r.inputs["of"] == "energy"], ids=str
)
def test_what_a_fuse_sees_of_an_inrush_takes_the_energy_of_the_capacitor(row: Row) -> None:
    """The resistance in series turns as much into heat as the capacitor keeps."""
    given = row.inputs
    crest = math.sqrt(2.0) * given["effective"]
    squared = charging_integral(given["capacitance"], crest, crest / given["greatest"])
    assert squared * crest / given["greatest"] == row.expected_within_its_tolerance
