"""A bench supply whose amplifiers stand on its output, by sums of another kind."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from railwright.architectures.architecture import Refusal
from railwright.architectures.floating_linear import FloatingLinear
from railwright.checks.limiting import OVERLOADED
from railwright.circuit.circuit import Part
from railwright.surveys.depth import DEFAULT
from railwright.surveys.fixture import Fixture, load_ref
from railwright.surveys.samples import quasi_random
from railwright.surveys.survey import Survey
from tests.architectures.needs import EXAMPLES, parts_of, read_sketch, task_of, value

REPAIR = (EXAMPLES / "repair-bench-thirty-volts.toml").read_text("utf-8")
REFERENCE = 2.483 * (1.0 - 100e-6 * 15), 2.507 * (1.0 + 100e-6 * 15)
"""V of the 431 type of 0.5 %, 15 K around 25 °C (datasheet)."""


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(FloatingLinear(), REPAIR)


def between(parts: dict[str, Part], kind: str, *nets: str) -> Part:
    """The part of a kind that is on these nets."""
    (found,) = (p for p in parts.values() if p.kind == kind and set(nets) <= {*p.pins.values()})
    return found


def ohms(parts: dict[str, Part], *nets: str) -> float:
    return value(between(parts, "resistor", *nets), "resistance")


def set_current(parts: dict[str, Part], sign: float) -> float:
    """A through the voltage's knob, at the end of every limit."""
    halves = ohms(parts, "REF", "SOFT") + ohms(parts, "SOFT", "TAP")
    return REFERENCE[sign > 0] / (halves * (1.0 - 0.01 * sign))


@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_the_limit_lies_in_its_band_with_every_part_at_its_limit(
    parts: dict[str, Part], sign: float
) -> None:
    """Vref p / (p + R) / Rs less the current of the other knob; p: track and leg side by side."""
    track = value(parts["RV2"], "resistance", "high" if sign > 0 else "low")
    lower = ohms(parts, "KNOB", "OUT") * (1.0 + 0.01 * sign)
    side = track * lower / (track + lower)
    upper = ohms(parts, "REF", "KNOB") * (1.0 - 0.01 * sign)
    shunt = ohms(parts, "RAIL", "OUT") * (1.0 - 0.012 * sign)
    amperes = (REFERENCE[sign > 0] * side / (side + upper) + sign * 0.3e-3) / shunt
    amperes -= set_current(parts, sign)
    amperes -= 30.0 / (0.99 * ohms(parts, "OUT", "OUT_MINUS")) if sign < 0 else 0.0
    assert 2.05 <= amperes <= 2.3


def test_the_voltage_reaches_both_ends(parts: dict[str, Part]) -> None:
    """I R - shift; the divider of shift and integrator leaves Vref 10 kΩ / (10 kΩ + R)."""
    knob = parts["RV1"]
    lift = ohms(parts, "REF", "FB")
    shift = [10e3 * volts / (10e3 + lift) for volts in REFERENCE]
    top = set_current(parts, -1.0) * value(knob, "resistance", "low")
    assert top - shift[1] * 1.02 >= 30.0 + 0.1 * 30.0
    left = value(knob, "end_resistance", "high") + value(knob, "contact_resistance", "high")
    bottom = set_current(parts, 1.0) * left + 0.3e-3
    assert bottom - shift[0] * 0.98 <= 0.0
    assert shift[1] <= 0.02 * 30.0


def test_the_valley_leaves_the_transistor_its_headroom(parts: dict[str, Part]) -> None:
    """30 V; sqrt(2 I / b), the warm on-resistance and the shunt at the limit's highest current."""
    factor = 55.0**2 / (2.0 * 50.0)
    wanted = 30.0 + math.sqrt(2.0 * 2.3 / factor) + 2.3 * (0.024 * 2.1 + ohms(parts, "RAIL", "OUT"))
    winding = parts["T1"]
    ratio = value(winding, "turns_ratio", "high") / 2.0
    halves = 2.0 * value(winding, "secondary_resistance", "high")
    halves += (value(winding, "primary_resistance", "high") + 0.5) / ratio**2
    load = 2.3 * 1.02 + 0.025
    valley = math.sqrt(2.0) * 207.0 / ratio - 2.0 - 5.0 * load * halves / 2.0
    valley -= load * 8e-3 / (0.8 * value(parts["C1"], "capacitance", "low"))
    assert valley >= wanted + 0.1


def test_a_short_is_borne_and_the_sink_may_be_touched(parts: dict[str, Part]) -> None:
    """JESD51-1 at upper limits; 51 °C in air of 25 °C: IEC 62368-1, metal that is held briefly."""
    crest = math.sqrt(2.0) * 253.0 / (value(parts["T1"], "turns_ratio", "low") / 2.0) - 2.0
    mean = 0.93 * crest
    sink = value(parts["H1"], "resistance", "high")
    chain = sink + value(parts["P1"], "resistance", "high")
    chain += value(parts["Q1"], "junction_to_case", "high")
    assert 35.0 + mean * 2.3 * chain <= 140.0
    assert 25.0 + mean * 2.0 * sink <= 51.0
    assert crest <= 0.9 * parts["Q1"].ratings["drain_source_voltage"]


def test_the_amplifiers_stand_their_supply_and_reach_the_gate(parts: dict[str, Part]) -> None:
    """12 V and 5 V, 5 % off; 4.5 V of threshold, sqrt(2 I / b), 0.44 V at the shunt."""
    assert 6.0 <= 0.95 * 17.0
    assert 0.9 * parts["U4"].ratings["supply_maximum"] >= 1.05 * 17.0
    gate = 4.5 + 10e-3 * 15.0 + math.sqrt(2.0 * 2.3 * 2.0 * 50.0 / 55.0**2)
    gate += 2.3 * ohms(parts, "RAIL", "OUT")
    assert gate <= 0.95 * 12.0 - value(parts["U4"], "swing_high", "high")
    assert 1.05 * 17.0 / ohms(parts, "V12", "DRIVE") <= 0.5 * value(
        parts["U4"], "sink_limit", "low"
    )


def test_the_reference_has_its_current(parts: dict[str, Part]) -> None:
    """1 mA for the 431 type (datasheet), with the supply low and both knobs drawing most."""
    given = (0.95 * 12.0 - REFERENCE[1]) / (1.01 * ohms(parts, "V12", "REF"))
    legs = ohms(parts, "REF", "KNOB") + ohms(parts, "KNOB", "OUT") / 1.1
    assert given - set_current(parts, 1.0) - REFERENCE[1] / (0.99 * legs) >= 1e-3


@pytest.mark.parametrize(("volts", "amperes"), [(0.3, 0.0), (30.0, 0.0), (0.3, 2.0), (30.0, 2.0)])
def test_the_voltage_loop_is_damped(parts: dict[str, Part], volts: float, amperes: float) -> None:
    """b (1 + fi / jf) gm Z, with what the divider feeds back, gm = sqrt(2 k I), the load and C."""
    held, shift = between(parts, "capacitor", "OUT", "OUT_MINUS"), 0.15
    farads, bleeds = value(held, "capacitance"), volts / ohms(parts, "OUT", "OUT_MINUS")
    own = set_current(parts, -1.0)
    knob = (volts + shift) / own
    fed = ohms(parts, "SOFT", "TAP") / (ohms(parts, "SOFT", "TAP") + knob)
    slope = math.sqrt(2.0 * 55.0**2 / 100.0 * (own + bleeds + amperes))
    slope /= 1.0 + slope * ohms(parts, "RAIL", "OUT")
    load = amperes / volts + bleeds / volts
    corner = 1.0 / (
        2.0 * math.pi * 10e3 * value(between(parts, "capacitor", "DRIVE", "FB"), "capacitance")
    )

    def loop(hertz: float) -> complex:
        across = 1.0 / (load + 2j * math.pi * hertz * farads)
        return fed * (1.0 + corner / (1j * hertz)) * slope * across

    crossing = min(
        (10.0 ** (n / 200.0) for n in range(0, 1200)), key=lambda f: abs(math.log(abs(loop(f))))
    )
    assert math.degrees(cmath.phase(loop(crossing))) >= -180.0 + 60.0


def test_a_short_circuit_does_not_reach_the_amplifier(parts: dict[str, Part]) -> None:
    """33 V of the capacitor across the knob through 10 kΩ into a junction; inputs stand 10 mA.

    At rest the junction has the shift across it, and what it takes is no matter behind 10 kΩ.
    """
    seen = parts["U4"].pins["plus"]
    both = [p for p in parts.values() if p.kind == "diode" and seen in p.pins.values()]
    assert sorted(p.pins["anode"] for p in both) == sorted([seen, "OUT"])
    assert sorted(p.pins["cathode"] for p in both) == sorted([seen, "OUT"])
    into = ohms(parts, "TAP", seen)
    assert 35.5 / into <= 10e-3
    diode = both[0]
    slope = value(diode, "ideality") * 0.0257
    scale = 10e-3 * math.exp(-value(diode, "forward_voltage") / slope)
    assert scale * math.expm1(0.16 / slope) * into <= 1e-3


def test_the_gate_does_not_make_an_amplifier_ring(parts: dict[str, Part]) -> None:
    """Fed back by its capacitor, fT / jf into output and diode resistance, stopper and gate."""
    inner = value(parts["U4"], "output_resistance", "high") + 0.026 / 4e-3
    stopper, gate = ohms(parts, "DRIVE", "GATE"), value(parts["Q1"], "input_capacitance", "high")
    fastest = value(parts["U4"], "unity_gain_frequency", "high")

    def loop(hertz: float) -> complex:
        load = stopper + 1.0 / (2j * math.pi * hertz * gate)
        return fastest / (1j * hertz) * load / (load + inner)

    crossing = min(
        (10.0 ** (n / 200.0) for n in range(600, 1300)), key=lambda f: abs(math.log(abs(loop(f))))
    )
    assert math.degrees(cmath.phase(loop(crossing))) >= -180.0 + 60.0


def test_the_current_takes_over_from_the_voltage_wherever_it_is_overloaded() -> None:
    """From full load on into heavier ones; no state beside it with parts that are red hot."""
    offer = FloatingLinear().offer(task_of(REPAIR))
    assert not isinstance(offer, Refusal)
    survey = Survey(Fixture.of(read_sketch(REPAIR, offer[0])), depth=DEFAULT).within("in cycles")
    points, spread = OVERLOADED.points(survey), survey.spread
    drawn = spread.draw(quasi_random(spread.typical.size, 40, 1))
    which = np.repeat(np.arange(points.count), 40)
    view = OVERLOADED.view(survey, points.take(which), np.tile(drawn, points.count), None)
    assert view.solved.all()
    for at in view.beside.values():
        amperes = at.of(load_ref("bench"), "current")
        assert np.all((amperes > 2.05) & (amperes < 2.3))
        assert at.of("B1", "junction").max() < 273.15 + 140.0


def test_both_knobs_are_controls() -> None:
    offer = FloatingLinear().offer(task_of(REPAIR))
    assert not isinstance(offer, Refusal)
    assert [c["sets"] for c in offer[0].controls] == ["bench.voltage", "bench.current"]
    assert all(part.why for part in read_sketch(REPAIR, offer[0]).circuit.parts)


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('style = "constant-current"', 'style = "foldback"', "no constant current is asked"),
        ('"0 V", max = "30 V"', '"30 V", max = "30 V"', "wants no knob"),
        ('act_by = "2.3 A"', 'act_by = "2.1 A"', "the reserve within"),
        ('reference = "floating"', 'reference = "common with input"', "apart from the mains"),
        ('max = "30 V"', 'max = "120 V"', "no variable resistor bears"),
        ('"metal, held briefly"', '"metal, held or worn"', "so that it may be touched"),
    ],
    ids=["style", "fixed", "band", "common", "high", "touch"],
)
def test_what_binds_is_told_with_numbers(old: str, new: str, reason: str) -> None:
    assert old in REPAIR
    found = FloatingLinear().offer(task_of(REPAIR.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason
