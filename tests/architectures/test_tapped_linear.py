"""Half or whole of a winding: where it switches, what each half feeds, what the contact makes."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest

from railwright.architectures.architecture import Refusal
from railwright.architectures.tapped_linear import TappedLinear, decides
from railwright.checks.start import StartState
from railwright.circuit.circuit import Part
from railwright.surveys.depth import QUICK
from railwright.surveys.fixture import Fixture
from railwright.surveys.positions import positions
from railwright.surveys.survey import Survey
from tests.architectures.needs import EXAMPLES, parts_of, read_sketch, task_of, value

CLASS = (EXAMPLES / "evening-class-twelve-volts.toml").read_text(encoding="utf-8")
LOAD = 0.3 * 1.05 + 0.014
"""A: a resistive load at the upper end of its accuracy, and the legs of the regulator."""
CONTROL = 0.04
"""A: 12.6 V across a coil of 360 Ω, and what decides."""


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(TappedLinear(), CLASS)


def ends(parts: dict[str, Part], *, on: bool) -> list[float]:
    """Outputs at which the comparator turns over, at the limits of supply and resistors [V]."""
    limits = [
        [value(parts[f"R{n}"], "resistance", e) for e in ("low", "high")] for n in range(2, 7)
    ]
    found = []
    for steady, (r1, r2, r3, r4, r5) in product((11.4, 12.6), product(*limits)):
        back = r3 + (value(parts["R7"], "resistance") if on else 0.0)
        mark = steady * r5 / (r4 + r5)
        # Kirchhoff's current law at the input, solved for the output.
        found.append(r1 * (mark / r2 + (mark - (steady if on else 0.1)) / back) + mark)
    return found


def valley(parts: dict[str, Part], *, halves: int, behind: float) -> float:
    """Rule of thumb: pulses of five times the current, I t / C of a worn reservoir [V]."""
    winding = parts["T1"]
    ratio = value(winding, "turns_ratio", "high") / halves
    ohms = halves * value(winding, "secondary_resistance", "high") + behind
    ohms += value(winding, "primary_resistance", "high") / ratio**2
    current = LOAD + CONTROL
    crest = math.sqrt(2.0) * 207.0 / ratio - 2.0 * 0.9 - 5.0 * current * ohms
    return crest - current * 7e-3 / (0.64 * value(parts["C1"], "capacitance"))


def test_the_formula_is_that_of_the_node() -> None:
    """Currents into the input: solved as a linear system with the output unknown."""
    for mark, fed, ohms in ((3.0, 12.0, (15e3, 10e3, 330e3)), (2.5, 0.2, (1e3, 2e3, 5e3))):
        upper, lower, back = ohms
        sums = np.array([[1.0 / upper]])
        known = mark / upper + mark / lower + (mark - fed) / back
        assert decides(mark, fed, ohms) == pytest.approx(np.linalg.solve(sums, [known])[0])


def test_the_half_feeds_up_to_where_the_whole_comes(parts: dict[str, Part]) -> None:
    """317 type: 2.3 V with the wanted reserve of a tenth."""
    assert max(ends(parts, on=False)) + 2.3 * 1.1 <= valley(parts, halves=1, behind=0.0) + 0.3


def test_the_whole_feeds_the_highest_output(parts: dict[str, Part]) -> None:
    behind = value(parts["R1"], "resistance", "high") + 0.1
    assert valley(parts, halves=2, behind=behind) >= 12.0 + 2.3 * 1.1


def test_the_sink_sheds_the_heat_just_above_the_switching(parts: dict[str, Part]) -> None:
    """The mean of the whole at the highest mains, by the drop of the mean current in its ohms."""
    winding = parts["T1"]
    ratio = value(winding, "turns_ratio", "low") / 2.0
    crest = math.sqrt(2.0) * 253.0 / ratio - 1.7
    mean = crest - 3.0 * LOAD * (value(parts["R1"], "resistance", "low") + 1.0)
    loss = (mean - min(ends(parts, on=True))) * LOAD
    pad, sink = (value(parts[ref], "resistance", "high") for ref in ("P1", "H1"))
    assert 35.0 + loss * (value(parts["U3"], "junction_to_case", "high") + pad + sink) <= 122.0


def test_the_contact_makes_no_more_than_it_carries(parts: dict[str, Part]) -> None:
    """The whole at the highest mains, unloaded, against what the half has held at full load."""
    winding = parts["T1"]
    ratio = value(winding, "turns_ratio", "low")
    ohms = 2.0 * value(winding, "secondary_resistance", "low")
    ohms += 4.0 * value(winding, "primary_resistance", "low") / ratio**2
    ohms += value(parts["R1"], "resistance", "low")
    whole = 2.0 * math.sqrt(2.0) * 253.0 / ratio - 1.0
    held = 0.5 * whole - 4.0
    assert (whole - held) / ohms <= parts["K1"].ratings["rated_current"]


def test_the_diode_of_the_half_survives_switching_on(parts: dict[str, Part]) -> None:
    """Ohm's law at the crest of the highest mains: an empty reservoir behind half the winding."""
    winding = parts["T1"]
    ratio = value(winding, "turns_ratio", "low")
    ohms = value(winding, "secondary_resistance", "low")
    ohms += value(winding, "primary_resistance", "low") / ratio**2
    most = math.sqrt(2.0) * 253.0 / ratio / ohms
    for ref in ("D1", "B1"):
        survives = value(parts[ref], "surge_current") * math.sqrt(8.3 / 10.0)
        assert 0.9 * survives >= 0.9 * most


def test_how_it_is_joined(parts: dict[str, Part]) -> None:
    """At rest the relay leaves the half on, fed over its diode from the middle."""
    winding, bridge, relay = parts["T1"].pins, parts["B1"].pins, parts["K1"].pins
    assert winding["secondary_end"] == winding["second_start"] == parts["D1"].pins["anode"]
    assert {winding["secondary_start"], winding["second_end"]} == {
        bridge["first"],
        bridge["second"],
    }
    assert parts["D1"].pins["cathode"] == relay["closes"] == parts["C1"].pins["plus"] == "RAW"
    assert parts["R1"].pins == {"one": bridge["plus"], "two": relay["common"]}
    assert "opens" not in relay
    assert parts["Q1"].pins["drain"] == relay["coil_end"]
    assert parts["U2"].pins["output"] == parts["Q1"].pins["gate"]


def test_the_survey_finds_both_positions_where_it_is_sized_for_them(parts: dict[str, Part]) -> None:
    found = TappedLinear().offer(task_of(CLASS))
    assert not isinstance(found, Refusal)
    survey = Survey(Fixture.of(read_sketch(CLASS, found[0])), depth=QUICK)
    (seen,) = survey.once(positions)
    assert not seen.why
    assert seen.moving == ("K1", "U2")
    up, down = ends(parts, on=False), ends(parts, on=True)
    assert seen.rising == pytest.approx((min(up), max(up)), abs=0.12)
    assert seen.falling == pytest.approx((min(down), max(down)), abs=0.12)
    assert seen.width > 0.3
    # On a slow rise of the mains it comes up with the half, and goes over to the whole.
    assert not StartState().look(survey).faults


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('reference = "floating"', 'reference = "common with input"', "common with the input"),
        ('"2 V", max = "12 V"', '"12 V", max = "12 V"', "there is nothing to switch"),
        ('max = "0.3 A"', 'max = "3 A"', "no transformer of the catalogue"),
        ('max = "0.3 A"', 'max = "0.4 A"', "even on the largest sink"),
        ('max = "0.3 A"', 'max = "0.6 A"', "relay 12 V 10 A on 7812 type 1 A: it is given"),
    ],
    ids=["reference", "fixed", "much", "hot", "control"],
)
def test_what_binds_is_told(old: str, new: str, reason: str) -> None:
    assert old in CLASS
    found = TappedLinear().offer(task_of(CLASS.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason
