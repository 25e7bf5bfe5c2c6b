"""Step-down supplies: what is chosen, by sums of another kind; and the loop, by closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from railwright.architectures.architecture import Refusal
from railwright.architectures.sizing.step_down_loop import Compensation, Filter, phase_margin
from railwright.architectures.step_down import StepDown
from railwright.circuit.circuit import Part
from railwright.standards.derating import POLICIES
from railwright.standards.iec60063 import is_member
from railwright.standards.policy import Policy
from tests.architectures.needs import EXAMPLES, parts_of, plain, read_sketch, task_of

POLICY = POLICIES["NASA MIL-STD-975M"]
TRACKER = (EXAMPLES / "tracker-five-volts.toml").read_text(encoding="utf-8")
MAST = (EXAMPLES / "mast-amplifier-twelve-volts.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(StepDown(), TRACKER)


def test_the_coil_holds_the_ripple_by_its_volt_seconds(parts: dict[str, Part]) -> None:
    """(Vin - V) V / (Vin f L) at the highest input, the slowest clock and the least coil."""
    coil, clock = parts["L1"].values["inductance"].spread, parts["U1"].values["frequency"].spread
    ripple = (25.0 - 5.0) * 5.0 / (25.0 * clock.low * coil.low)
    assert ripple <= 0.4 * 1.5
    assert 1.6 + ripple / 2.0 <= parts["L1"].values["saturation_current"].spread.low
    assert ripple * parts["C3"].values["esr"].spread.high <= 0.9 * 60e-3


def test_the_divider_is_bought_and_near_enough(parts: dict[str, Part]) -> None:
    upper, lower = (parts[ref].values["resistance"].spread.typical for ref in ("R1", "R2"))
    assert is_member(upper, "E24")
    assert is_member(lower, "E24")
    assert 1.28 * (1.0 + upper / lower * 1.02) <= 5.0 * 1.08
    assert 1.18 * (1.0 + upper / lower * 0.98) >= 5.0 * 0.92


def test_input_capacitor_and_diode_bear_their_pulses(parts: dict[str, Part]) -> None:
    duty = 5.0 / 21.0
    assert parts["C1"].values["rated_ripple"].spread.low >= 1.5 * math.sqrt(duty * (1.0 - duty))
    assert 0.7 * parts["D1"].ratings["reverse_voltage"] >= 25.0
    assert 0.5 * parts["D1"].ratings["forward_current"] >= 1.5 * (1.0 - 5.0 / 25.0)


def test_the_fuse_bears_the_pulses_that_pass_the_input_capacitor(parts: dict[str, Part]) -> None:
    """Erickson and Maksimovic, chapter 2: the switch takes I while it is on, in the mean D I.

    What alternates of it shares out by resistances; the source has 100 mΩ. Of its rating a fuse
    may carry half, less half a hundredth per kelvin beyond 25 °C (NASA MIL-STD-975M).
    """
    duty, esr = 5.0 / 21.0, parts["C1"].values["esr"].spread.high
    past = 1.5 * math.sqrt(duty * (1.0 - duty)) * esr / (esr + 0.1)
    assert 0.425 * parts["F1"].ratings["rated_current"] >= math.hypot(1.5 * duty, past)


def test_every_value_stays_in_the_window_of_the_type(parts: dict[str, Part]) -> None:
    windows = parts["U1"].windows
    for ref, name, value in (("L1", "inductance", "inductance"), ("C3", "output_capacitance", "")):
        low, high = windows[name].bounds
        assert low <= parts[ref].values[value or "capacitance"].spread.typical <= high
    assert all(part.why for part in parts.values())
    assert parts["U1"].pins["disable"] == "GND"


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({'"12 V", max = "12 V"': '"6 V", max = "12 V"'}, "sized for one voltage"),
        ({'"12 V", max = "12 V"': '"16.5 V", max = "16.5 V"'}, "would have to be on for"),
        ({'"12 V", max = "12 V"': '"24 V", max = "24 V"'}, "only takes voltage away"),
        ({'"12 V", max = "12 V"': '"1 V", max = "1 V"'}, "below its reference"),
        ({'max = "0.3 A"': 'max = "5 A"'}, "may be used"),
        ({'"10 %"': '"10 %"\nnever_above = "15 V"'}, "shorted pass element"),
        ({'max = "19 V"': 'max = "65 V"'}, "it would see 65 V"),
        # 900 nV/√Hz x 12 V / 1.23 V over the root of 2 kHz are 390 µV
        ({'"10 %"': '"10 %"\nnoise = "100 µV"'}, "of noise reach the output"),
    ],
    ids=["knob", "duty", "up", "reference", "current", "never above", "input", "noise"],
)
def test_what_binds_is_told_with_numbers(changes: dict[str, str], reason: str) -> None:
    found = StepDown().offer(task_of(plain(changes)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_a_trimmer_serves_where_fixed_legs_are_not_accurate_enough() -> None:
    found = StepDown().offer(task_of(TRACKER.replace('"8 %"', '"3 %"')))
    assert not isinstance(found, Refusal), found.reason
    (control,) = found[0].controls
    assert (control["role"], control["sets"]) == ("trim", "tracker.voltage")
    assert control["calibration"] == {"voltage": "5 V"}
    text = TRACKER.replace('"8 %"', '"3 %"')
    design = read_sketch(text, found[0])
    ohms = {p.ref: p.values["resistance"].spread for p in design.circuit.parts if p.ref[0] == "R"}
    upper_most = ohms["RV1"].low + (ohms["R1"].typical * 0.99 if "R2" in ohms else 0.0)
    lower = ohms[max(ref for ref in ohms if ref != "RV1")]
    assert 1.18 * (1.0 + upper_most / (lower.typical * 1.01)) >= 5.0


def test_the_margin_of_one_pole() -> None:
    """T = K / (1 + s/wp): |T| = 1 at wp sqrt(K² - 1), 180° - atan of that ratio are left."""
    flat = Filter(1e-15, 0.0, 1e-15, 0.0, 1.0)
    found = phase_margin(Compensation(100.0, 50.0, 1e15), 1.0, 1.0, flat)
    assert found == pytest.approx(180.0 - math.degrees(math.atan(math.sqrt(1e4 - 1))), abs=0.2)


def test_the_margin_of_a_coil_and_a_capacitor() -> None:
    """T = K / (1 + 2 z x + x²) with z = sqrt(L/C) / (2 R); crossing from its quadratic equation."""
    inductance, farads, load, gain = 68e-6, 470e-6, 3.3, 20.0
    damping = math.sqrt(inductance / farads) / (2.0 * load)
    half = 1.0 - 2.0 * damping**2
    square = half + math.sqrt(half**2 - 1.0 + gain**2)
    lag = math.degrees(math.atan2(2.0 * damping * math.sqrt(square), 1.0 - square))
    stage = Filter(inductance, 0.0, farads, 0.0, load)
    found = phase_margin(Compensation(gain, 1e3, 1e3), 1.0, 1.0, stage)
    assert found == pytest.approx(180.0 - lag, abs=0.1)


def test_a_lead_turns_the_phase_at_the_crossing_and_moves_it() -> None:
    """T = K (1 + s t) / ((1 + s/wp)(1 + s t h)): |T| = 1 by bisection, the angles one by one."""
    gain, pole, share, lead = 400.0, 50.0, 0.1, 20e-6

    def size(angular: float) -> float:
        lag = math.hypot(1.0, angular / (2.0 * math.pi * pole))
        rise = math.hypot(1.0, angular * lead) / math.hypot(1.0, angular * lead * share)
        return gain * share * rise / lag

    low, high = 1.0, 1e7
    while high / low > 1.0 + 1e-9:
        middle = math.sqrt(low * high)
        low, high = (middle, high) if size(middle) > 1.0 else (low, middle)
    turned = math.atan(low * lead) - math.atan(low * lead * share)
    left = 180.0 + math.degrees(turned - math.atan(low / (2.0 * math.pi * pole)))
    flat = Filter(1e-15, 0.0, 1e-15, 0.0, 1.0)
    found = phase_margin(Compensation(gain, pole, 1e15), 1.0, share, flat, lead)
    assert found == pytest.approx(left, abs=0.5)


def test_where_the_loop_is_short_of_phase_a_capacitor_leads() -> None:
    """Across the upper leg, its corner below ten times that of coil and capacitor."""
    parts = parts_of(StepDown(), MAST)
    (lead,) = [p for p in parts.values() if p.pins.get("minus") == "SWITCHER_FB"]
    upper = parts["R1"]
    assert lead.pins["plus"] == upper.pins["one"]
    assert upper.pins["two"] == "SWITCHER_FB"
    corner = 1.0 / (
        2.0
        * math.pi
        * upper.values["resistance"].spread.typical
        * lead.values["capacitance"].spread.typical
    )
    coil, held = (parts[ref].values for ref in ("L1", "C3"))
    product = coil["inductance"].spread.typical * held["capacitance"].spread.typical
    assert corner < 10.0 * 10.0 / (2.0 * math.pi * math.sqrt(product))


def test_a_small_load_gets_a_coil_that_rests() -> None:
    """10 mA: no coil holds a ripple of twice that; its peak by the charge of a triangle."""
    parts = parts_of(StepDown(), plain({'max = "0.3 A"': 'max = "0.01 A"', "12 V": "5 V"}))
    coil, clock = parts["L1"].values, parts["U1"].values["frequency"].spread
    ripple = (19.0 - 5.0) * 5.0 / (19.0 * clock.high * coil["inductance"].spread.high)
    assert ripple > 2.0 * 0.011
    assert "rests" in parts["L1"].why


def test_the_fuse_carries_what_the_input_capacitor_leaves_of_the_pulses() -> None:
    """Behind a stiff source, by the course of the current over one period that repeats."""
    stiff = {
        '"100 mΩ"': '"0 Ω"',
        '"17 V", nominal = "18 V", max': '"23.8 V", nominal = "24 V", max',
    }
    need = {'"19 V"': '"24.2 V"', '"12 V", max = "12 V"': '"1.5 V", max = "1.5 V"'}
    hot = {'"40 °C"': '"60 °C"', '"0.3 A"': '"0.8 A"'}
    parts = parts_of(StepDown(), plain({**stiff, **need, **hot}))
    fuse, held = parts["F1"].values["resistance"].spread.low, parts["C1"].values
    esr, farads = held["esr"].spread.high, held["capacitance"].spread.low
    period, duty = 1.0 / parts["U1"].values["frequency"].spread.low, 2.0 / 23.3
    times = np.linspace(0.0, period, 20_001)
    pulses = np.where(times < duty * period, 0.8, 0.0)
    mean = float(pulses.mean())
    # I x fuse = (pulses - I) x esr + what the capacitor lost, for a time constant above the period
    lost = np.cumsum(pulses - mean) * (times[1] - times[0]) / farads
    current = (pulses * esr + lost) / (fuse + esr)
    current += mean - current.mean()
    effective = math.sqrt(float(np.mean(current**2)))
    assert effective > 1.1 * mean
    rated = parts["F1"].ratings["rated_current"]
    assert effective <= (POLICY.fuse_current(rated, 333.15) or 0.0) * rated


def test_a_coil_is_chosen_by_what_the_policy_allows_of_it() -> None:
    """Of 3 A half may be used, less a tenth: 1.35 A, too little for 1.9 A."""
    task = task_of(plain({'max = "0.3 A"': 'max = "1.9 A"'}))
    half = Policy("half", "a builder's own", {("inductor", "current"): 0.5})
    for policy, rated in ((task.derating, 3.0), (half, 5.0)):
        sketch = StepDown().sketches(replace(task, derating=policy))[0]
        (use,) = (str(part["use"]) for part in sketch.parts if part["kind"] == "inductor")
        assert task.catalogue[use].values["rated_current"].spread.high == rated
