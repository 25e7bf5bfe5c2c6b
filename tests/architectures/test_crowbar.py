"""Crowbars: where they fire, what their thyristor survives, what holds the output until then."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from railwright.architectures.adjustable_linear import AdjustableLinear
from railwright.architectures.architecture import Refusal
from railwright.architectures.fixed_linear import FixedLinear
from railwright.architectures.guarded import guarded
from railwright.architectures.guards.reference_crowbar import ReferenceCrowbar
from railwright.architectures.guards.slow_start import Stage, overshot
from railwright.architectures.guards.zener_crowbar import ZenerCrowbar
from railwright.architectures.sizing.charge_shared import Store
from railwright.architectures.sizing.let_through import opening, withstood
from railwright.architectures.sizing.thyristors import HALF_WAVE, SURGES, thyristor
from railwright.architectures.step_down import StepDown
from railwright.architectures.transformer_linear import TransformerLinear
from railwright.catalogue.loader import load
from railwright.circuit.circuit import Part
from railwright.propose.candidates import breaches
from railwright.prove.run import prove
from railwright.standards.derating import POLICIES
from railwright.surveys.depth import DEFAULT
from tests.architectures.needs import PLAIN, parts_of, plain, read_sketch, task_of, value

VOLTS = '"17 V", nominal = "18 V", max = "19 V"'
TWELVE = plain(
    {
        VOLTS: '"20 V", nominal = "22 V", max = "24 V"',
        '"10 %"': '"8 %"\nnever_above = "18 V"',
        '"0.3 A"': '"0.2 A"',
    }
)
FIVE = plain(
    {
        VOLTS: '"11 V", nominal = "12 V", max = "13 V"',
        '"10 %"': '"8 %"\nnever_above = "9.5 V"',
        'min = "12 V", max = "12 V"': 'min = "5 V", max = "5 V"',
        '"0.3 A"': '"0.2 A"',
    }
)


def parts(text: str) -> dict[str, Part]:
    """Of the fixed linear one with what guards it, by ref."""
    offer = guarded(FixedLinear(), task_of(text))
    assert not isinstance(offer, Refusal), offer.reason
    return {part.ref: part for part in read_sketch(text, offer[0]).circuit.parts}


def of_kind(found: dict[str, Part], kind: str) -> list[Part]:
    return [part for part in found.values() if part.kind == kind]


MAINS = TWELVE.replace('kind = "dc"', 'kind = "ac"\nfrequency = { min = "50 Hz", max = "50 Hz" }')
MAINS = MAINS.replace(
    '"20 V", nominal = "22 V", max = "24 V"', '"207 V", nominal = "230 V", max = "253 V"'
)
MAINS = MAINS.replace('"common with input"', '"floating"').replace('"100 mΩ"', '"500 mΩ"')


@pytest.fixture(scope="module")
def mains() -> dict[str, Part]:
    """Behind a transformer, by ref."""
    return parts_of(TransformerLinear(), MAINS)


def refused(text: str) -> str:
    offer = guarded(FixedLinear(), task_of(text))
    assert isinstance(offer, Refusal)
    return offer.reason


def test_a_thyristor_survives_what_its_datasheet_says() -> None:
    """Published for a type of 7.5 A mean: 100 A for 10 ms, 50 A²s (from memory); 12.5 times 8 A."""
    crest = SURGES * 8.0
    assert withstood(crest, HALF_WAVE, 5e-3) == pytest.approx(50.0)
    assert math.sqrt(withstood(crest, HALF_WAVE, 0.16) / 0.16) == pytest.approx(
        100.0 / math.sqrt(2.0) / 2.0
    )


def test_a_fuse_opens_by_its_integral_and_never_below_its_melting_current() -> None:
    """At a hundred times the melting current nothing is lost to the air: integral / i²."""
    assert opening(200.0, 2.0, 14.0) == pytest.approx(14.0 / 200.0**2, rel=1e-4)
    assert opening(2.0, 2.0, 14.0) == math.inf
    # dh/dt tau = (i / Im)² - h, in small steps, until it melts at 1.
    heat, time, step, tau = 0.0, 0.0, 1e-5, 14.0 / 2.0**2
    while heat < 1.0:
        heat += step / tau * ((5.0 / 2.0) ** 2 - heat)
        time += step
    assert opening(5.0, 2.0, 14.0) == pytest.approx(time, rel=1e-3)


def test_the_thyristor_outlasts_the_fuse() -> None:
    """A T 2 A of high breaking capacity lets 56 A²s through: more than the 50 A²s of 12 A."""
    catalogue = load()
    task = task_of(PLAIN)
    free = replace(task.need, parts=replace(task.need.parts, reserve=0.0))
    task = replace(task, need=free, derating=POLICIES["none"])
    found = thyristor(task, catalogue["fuse T 2 A H"], (80.0, 200.0), 24.0)
    assert found.entry.name == "thyristor 25 A"
    small = thyristor(task, catalogue["fuse T 1 A H"], (80.0, 200.0), 24.0)
    assert small.entry.name == "thyristor 8 A"


def test_charge_that_is_shared() -> None:
    """47 µF at 24 V onto 100 µF at 12 V: (47 x 24 + 100 x 12) / 147."""
    catalogue = load()
    full = Store.of([catalogue["electrolytic 47 µF 35 V low-ESR"]], 24.0, "strong")
    empty = Store.of([catalogue["electrolytic 100 µF 35 V low-ESR"]], 12.0, "weak")
    _, then = full.joined(empty)
    assert then == pytest.approx((1.2 * 47.0 * 24.0 + 0.8 * 100.0 * 12.0) / (1.2 * 47.0 + 80.0))


def test_a_reference_fires_between_output_and_what_is_survived() -> None:
    """Vref (1 + upper / lower): 0.5 % and drift of 100 ppm/K, resistors of 1 %, 4 µA at the pin."""
    found = parts(TWELVE)
    (shorts,) = of_kind(found, "thyristor")
    (watches,) = of_kind(found, "shunt-reference")
    tap = watches.pins["reference"]
    upper, lower = (
        next(p for p in of_kind(found, "resistor") if set(p.pins.values()) == {tap, end})
        for end in ("OUT", "GND")
    )
    ratio = value(upper, "resistance") / value(lower, "resistance")
    low = 2.483 * (1.0 - 15e-4) * (1.0 + ratio * 0.99 / 1.01)
    high = 2.507 * (1.0 + 15e-4) * (1.0 + ratio * 1.01 / 0.99)
    high += 4e-6 * value(upper, "resistance")
    assert low > 1.08 * 12.0
    assert high < 18.0
    assert {shorts.pins["anode"], shorts.pins["cathode"]} == {"OUT", "GND"}


def test_the_gate_gets_what_it_may_want() -> None:
    """15 mA of the gate, 1.35 V cold over 150 Ω, from 14.4 V less 0.4 V and 1.35 V."""
    found = parts(TWELVE)
    (drives,) = of_kind(found, "bipolar-transistor")
    (series,) = (
        p for p in of_kind(found, "resistor") if drives.pins["collector"] in p.pins.values()
    )
    given = (14.4 - 0.4 - 1.34) / (1.01 * value(series, "resistance"))
    assert given >= 15e-3 + 1.34 / 148.0


def test_a_zener_diode_fires_where_the_window_is_wide() -> None:
    """6.2 V: 5.8 V to 6.6 V, and 10 Ω x 30 mA, and the gate's 0.4 V to 1.4 V."""
    found = parts(FIVE)
    (zener,) = of_kind(found, "zener")
    assert zener.use.startswith("zener 6V2")
    assert not of_kind(found, "shunt-reference")
    assert 5.8 + 0.4 > 1.1 * 1.08 * 5.0
    assert 6.6 + 0.3 + 1.4 < 0.9 * 9.5


def test_it_fires_beyond_the_end_of_a_knob() -> None:
    """The end stop, by the sketch's own legs, lies below the least voltage that fires it."""
    text = TWELVE.replace('min = "12 V", max = "12 V"', 'min = "3.3 V", max = "12 V"')
    text = text.replace('"18 V"\n', '"20 V"\n')
    offer = guarded(AdjustableLinear(), task_of(text))
    assert not isinstance(offer, Refusal), offer.reason
    found = {part.ref: part for part in read_sketch(text, offer[0]).circuit.parts}
    track, across = found["RV1"], found["R1"]
    most = value(track, "resistance", "high") + 1.01 * value(found["R2"], "resistance")
    end = 1.3 * (1.0 + most / (0.99 * value(across, "resistance")))
    assert offer[0].turned_up["main"] == pytest.approx(end, rel=0.02)


def test_no_fault_puts_more_on_the_load_than_it_survives() -> None:
    offer = guarded(FixedLinear(), task_of(TWELVE))
    assert not isinstance(offer, Refusal), offer.reason
    proof = prove(read_sketch(TWELVE, offer[0]), depth=DEFAULT, only=("faults",), suspecting=False)
    assert breaches(proof) == []
    (found,) = (f for f in proof.findings if f.id == "faults.never-above")
    assert found.value is not None
    assert 14.4 < found.value < 18.0


def test_charge_that_is_shared_over_a_resistance() -> None:
    """Two capacitors with their series resistances and 0.3 Ω between: Euler's steps of 1 ns."""
    high, low, ohms = Store(20.0, 1000e-6, 20.0), Store(10.0, 100e-6, 10.0), 0.3
    one, other, step, most = high.voltage, low.voltage, 1e-9, 0.0
    for _ in range(5000):
        current = (one - other) / (1 / high.conductance + ohms + 1 / low.conductance)
        most = max(most, other + current / low.conductance)
        one -= step * current / high.capacitance
        other += step * current / low.capacitance
    assert high.over(low, ohms, 5e-6) == pytest.approx(most, rel=1e-4)
    assert high.over(Store(0.0, 0.0, 0.0), ohms, 5e-6) == 20.0


def test_behind_a_transformer_a_fuse_of_its_own_opens(mains: dict[str, Part]) -> None:
    """IEC 60127-2: carries 315 mA and melts at 2.1 times its rating at most; the shorted winding
    gives its crest less four volts over 1.3 times its resistance, a tenth of an ohm, the fuse."""
    (fuse,) = (p for p in of_kind(mains, "fuse") if p.block == "over-voltage guard")
    store, regulator = mains["C1"], mains["U1"]
    assert fuse.pins == {"one": store.pins["plus"], "two": regulator.pins["input"]}
    before = {p.block for p in mains.values() if store.pins["plus"] in p.pins.values()}
    assert before == {"input", fuse.block}
    winding, rated = mains["T1"], fuse.ratings["rated_current"]
    assert rated >= 0.2 * 1.08
    sides = 1 if "second_start" not in winding.pins else 2
    ratio = value(winding, "turns_ratio", "high")
    ohms = 1.3 * (
        value(winding, "secondary_resistance", "high") / sides
        + value(winding, "primary_resistance", "high") / ratio**2
    )
    ohms += value(fuse, "resistance", "high") + 0.1
    reactance = 2 * math.pi * 50 * value(winding, "leakage_inductance", "high") / ratio**2
    flows = (math.sqrt(2) * 207.0 / ratio - 4.0) / math.sqrt(2) / math.hypot(ohms, reactance)
    assert flows >= 2.1 * rated


def test_behind_a_transformer_no_fault_harms_the_load_or_another_part() -> None:
    offer = guarded(TransformerLinear(), task_of(MAINS))
    assert not isinstance(offer, Refusal), offer.reason
    proof = prove(read_sketch(MAINS, offer[0]), depth=DEFAULT, only=("faults",), suspecting=False)
    above, contained = (
        next(f for f in proof.findings if f.id == f"faults.{name}")
        for name in ("never-above", "contained")
    )
    assert (above.verdict, contained.verdict) == ("holds", "holds")
    assert above.value is not None
    assert 14.0 < above.value < 18.0
    assert any("T1" in each for each in proof.not_asked)


FIFTEEN = plain(
    {
        VOLTS: '"20 V", nominal = "22 V", max = "24 V"',
        '"10 %"': '"8 %"\nnever_above = "17.5 V"',
        'min = "12 V", max = "12 V"': 'min = "15 V", max = "15 V"',
        '"0.3 A"': '"0.5 A"',
    }
)
"""For a step-down stage that a start from nothing takes to 16.8 V."""


def test_what_a_coil_still_holds_goes_to_the_output() -> None:
    """A freewheel diode without drop leads its current on: Euler's steps of 10 ns."""
    for henries, amperes, farads in ((150e-6, 4.0, 220e-6), (47e-6, 2.0, 100e-6)):
        volts, current, step = 5.0, amperes, 10e-9
        while current > 0.0:
            current -= step * volts / henries
            volts += step * current / farads
        assert overshot(5.0, 1e3, henries, amperes, farads) == pytest.approx(volts, rel=1e-3)
    # Of nothing stored all of the feed swings: cos of the angle at which it passes is 1 - V / Vin.
    angle = math.acos(1.0 - 5.0 / 12.0)
    swings = 12.0 * math.sin(angle) / math.sqrt(100e-6 / 220e-6)
    most = math.sqrt(25.0 + 100e-6 * swings**2 / 220e-6)
    assert overshot(5.0, 12.0, 100e-6, 1e3, 220e-6) == pytest.approx(most)


def test_a_stage_is_slowed_where_its_start_would_fire_it() -> None:
    """While it rises the feedback pin is at 1.23 V: Kirchhoff's current law there, step by step."""
    found = parts_of(StepDown(), FIFTEEN)
    slow = [part for part in found.values() if part.block == "slow start"]
    (store,), (leg,) = ([p for p in slow if p.kind == kind] for kind in ("capacitor", "resistor"))
    rising, feedback = leg.pins["one"], found["U1"].pins["feedback"]
    assert store.pins == {"plus": "OUT", "minus": rising}
    assert [p.pins for p in slow if p.kind == "diode"] == [
        {"anode": rising, "cathode": feedback},
        {"anode": "GND", "cathode": rising},
    ]
    (upper,), (lower,) = (
        [p for p in of_kind(found, "resistor") if {*p.pins.values()} == {feedback, net}]
        for net in ("OUT", "GND")
    )
    volts, time, step, slope = 0.0, 0.0, 1e-6, 0.0
    while volts < 14.9:
        into = 1.23 / value(lower, "resistance") - (volts - 1.23) / value(upper, "resistance")
        slope = (into + 1.83 / value(leg, "resistance")) / value(store, "capacitance")
        volts, time = volts + step * slope, time + step
    assert 2e-3 < time < 0.1
    held = sum(
        value(p, "capacitance")
        for p in of_kind(found, "capacitor")
        if set(p.pins.values()) == {"OUT", "GND"}
    )
    assert held * slope < 0.1 * 3.0


def test_what_has_a_slow_start_of_its_own_is_told_apart() -> None:
    catalogue = load()
    coil = catalogue["inductor 100 µH 3 A"]
    for name, own in (
        ("step-down 500 kHz 3 A current mode", True),
        ("step-down 150 kHz 3 A", False),
    ):
        stage = Stage({}, catalogue[name], coil, "OUT", 100e-6, 200e-6)
        assert stage.slow == own


def test_a_step_down_stage_comes_up_and_no_fault_harms_its_load() -> None:
    offer = guarded(StepDown(), task_of(FIFTEEN))
    assert not isinstance(offer, Refusal), offer.reason
    asked = ("transient", "faults")
    proof = prove(read_sketch(FIFTEEN, offer[0]), depth=DEFAULT, only=asked, suspecting=False)
    assert breaches(proof) == []
    found = {f.id: f for f in proof.findings}
    assert found["transient.comes-up"].verdict == "holds"
    assert (found["transient.start-up"].value or 0.0) < 15.5
    assert found["faults.never-above"].verdict in ("holds", "marginal")


def test_what_cannot_be_guarded_is_told() -> None:
    fed = TWELVE.replace('kind = "resistive"', 'kind = "battery"')
    assert "a current of its own" in refused(fed)
    assert "survives 13 V" in refused(TWELVE.replace('"18 V"\n', '"13 V"\n'))
    limited = 'resistance = "100 mΩ"\nlimit = { current = "1 A", style = "constant-current" }'
    assert "the thyristor would burn" in refused(TWELVE.replace('resistance = "100 mΩ"', limited))


def test_guards_without_a_limit_are_not_asked() -> None:
    task = task_of(plain({}))
    assert not any(kind("main").wanted(task) for kind in (ZenerCrowbar, ReferenceCrowbar))
