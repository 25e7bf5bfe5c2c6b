"""A difference that an amplifier sets: by the network's own equations, its loop, its supply."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from railwright.architectures.amplified_tracking import AmplifiedTracking, above
from railwright.architectures.architecture import Refusal
from railwright.circuit.circuit import Part
from tests.architectures.needs import held_at_quick, parts_of, task_of, value
from tests.architectures.test_tracking_linear import KNOB

HELD = 2.3 * 1.1
"""V that a 317 type wants at 1 A, cold, with the wanted reserve of a tenth."""


@pytest.fixture(scope="module")
def parts() -> dict[str, Part]:
    """Of the first sketch, by ref."""
    return parts_of(AmplifiedTracking(), KNOB)


def solved(pin: float, ohms: tuple[float, float, float, float], output: float) -> float:
    """The net between, by Kirchhoff's current law at both inputs of an ideal amplifier [V].

    ohms: between and plus, plus and return, output and minus, minus and the amplifier's output,
    which is held at `pin`. Unknowns: the net between, and both inputs at one potential.
    """
    above_plus, below_plus, above_minus, below_minus = (1.0 / each for each in ohms)
    sums = np.array(
        [[above_plus, -above_plus - below_plus], [0.0, above_minus + below_minus]],
    )
    return float(np.linalg.solve(sums, [0.0, output * above_minus + pin * below_minus])[0])


def differences(parts: dict[str, Part]) -> list[float]:
    """At all limits of reference and resistors, at both ends of the output."""
    ends = [
        [value(parts[ref], "resistance", end) for end in ("low", "high")]
        for ref in ("R1", "R2", "R3", "R4")
    ]
    return [
        solved(pin, ohms, output) - output
        for pin in (1.18, 1.28)
        for ohms in itertools.product(*ends)
        for output in (3.3, 12.0)
    ]


def test_the_formula_is_that_of_the_network() -> None:
    for one, other in ((2.7, 2.7), (2.6, 2.8), (1.1, 0.9)):
        ohms = one * 1e4, 1e4, other * 1e4, 1e4
        assert above(1.23, one, other, 9.0) == pytest.approx(solved(1.23, ohms, 9.0), rel=1e-9)


def test_the_difference_feeds_the_regulator_and_no_more_than_it_sheds(
    parts: dict[str, Part],
) -> None:
    """The amplifier's own errors, some 20 mV of its inputs, count (1 + R1/R2) times."""
    found = differences(parts)
    gain = 1.0 + value(parts["R1"], "resistance") / value(parts["R2"], "resistance")
    least, most = min(found) - 0.02 * gain, max(found) + 0.02 * gain
    assert least - 0.5 * 0.03 * (3.3 + least) >= HELD - 0.05
    pad, sink = (value(parts[ref], "resistance", "high") for ref in ("P1", "H2"))
    loss = max(found) * (1.0 + 1.3 / 99.0)
    assert 40.0 + loss * (value(parts["U3"], "junction_to_case", "high") + pad + sink) <= 90.0
    assert most - least < 0.6


def test_warmth_hardly_moves_it() -> None:
    """A junction moves by 2.2 mV/K; the amplifier's offset by some µV/K, times its gain."""
    stages = {}
    for ambient in ('min = "10 °C", max = "40 °C"', 'min = "-20 °C", max = "60 °C"'):
        text = KNOB.replace('min = "10 °C", max = "40 °C"', ambient)
        task = task_of(text)
        entry = next(e for e in task.catalogue.values() if e.kind == "step-down-regulator")
        front = AmplifiedTracking().ahead(task, task.need.output[0])[0]
        stage = AmplifiedTracking.way(
            task, task.need.output[0], entry, front.feed, upper=27e3, resistive=False
        )
        stages[ambient] = stage.difference
    narrow, wide = stages.values()
    assert narrow.low - wide.low < 0.01 > wide.high - narrow.high
    assert narrow.typical == wide.typical == pytest.approx(1.23 * 2.7)


def test_how_it_is_joined(parts: dict[str, Part]) -> None:
    """As a differential amplifier of every textbook, its output at the feedback pin."""
    assert parts["R1"].pins == {"one": "PRE", "two": "DIFF_PLUS"}
    assert parts["R2"].pins == {"one": "DIFF_PLUS", "two": "GND"}
    assert parts["R3"].pins == {"one": "OUT", "two": "DIFF_MINUS"}
    assert parts["R4"].pins == {"one": "DIFF_MINUS", "two": "SWITCHER_FB"}
    assert parts["U2"].pins == {
        "plus": "DIFF_PLUS",
        "minus": "DIFF_MINUS",
        "output": "SWITCHER_FB",
        "supply": "PRE",
        "ground": "GND",
    }
    assert parts["U1"].pins["feedback"] == "SWITCHER_FB"
    for one, other in (("R1", "R3"), ("R2", "R4")):
        assert value(parts[one], "resistance") == value(parts[other], "resistance")


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ('"3.3 V", max = "12 V"', '"12 V", max = "12 V"', "nothing is there to follow"),
        ('"23 V"', '"13 V"', "of the time"),
        ('ripple = "10 mV"', 'never_above = "20 V"', "shorted pass element"),
        ('kind = "dc"', 'kind = "ac"\nfrequency = { min = "50 Hz", max = "50 Hz" }', "alternates"),
    ],
    ids=["fixed", "low", "never above", "mains"],
)
def test_what_binds_is_told(old: str, new: str, reason: str) -> None:
    assert old in KNOB
    found = AmplifiedTracking().offer(task_of(KNOB.replace(old, new)))
    assert isinstance(found, Refusal)
    assert reason in found.reason


def test_a_candidate_holds_at_depth_quick() -> None:
    assert held_at_quick(AmplifiedTracking(), KNOB) == []
