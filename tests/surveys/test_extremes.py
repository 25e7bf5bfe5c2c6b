"""Extreme values, shares and samples of supplies whose worst case is known in closed form."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply, survey_of

from railwright.checks.check import within
from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.surveys.extremes import Answer, Extreme, explore
from railwright.surveys.fixture import Fixture
from railwright.surveys.situations import AS_SET, View
from railwright.surveys.survey import Survey

DIVIDER = """
title = "Divider"
[need.input]
kind = "dc"
nets = { plus = "IN", minus = "GND" }
voltage = { min = "10 V", nominal = "10 V", max = "10 V" }
resistance = "0 Ω"
[[need.output]]
name = "half"
nets = { plus = "OUT", minus = "GND" }
reference = "common with input"
voltage = { min = "5 V", max = "5 V" }
current = { min = "0 A", max = "0 A" }
accuracy = "3 %"
[need.surroundings]
ambient = { min = "25 °C", max = "25 °C" }
[need.parts]
derating = "none"
[[part]]
ref = "R1"
kind = "resistor"
resistance = { typical = "1k", tolerance = "1 %" }
rated_power = "0.25 W"
rated_voltage = "200 V"
pins = { one = "IN", two = "OUT" }
[[part]]
ref = "R2"
kind = "resistor"
resistance = { typical = "1k", tolerance = "2 %" }
rated_power = "0.25 W"
rated_voltage = "200 V"
pins = { one = "OUT", two = "GND" }
"""


def accuracy(text: str) -> Finding:
    return next(f for f in prove(read_text(text, "divider.toml")).findings
                if f.id == "output.accuracy")  # fmt: skip


def test_the_extreme_is_the_worst_corner_in_closed_form() -> None:
    # All four corners: the farthest from 5 V is R1 high, R2 low.
    corners = [10 * b / (a + b) for a in (990, 1010) for b in (980, 1020)]
    assert accuracy(DIVIDER).value == pytest.approx(max(abs(v - 5) for v in corners), rel=1e-6)


def test_shares_follow_the_squares_of_the_effects() -> None:
    # Equal slopes, tolerances of 1 % and 2 %: shares of 1/5 and 4/5 (to second order).
    shares = {c.part: c.share for c in accuracy(DIVIDER).causes}
    assert shares["R1"] == pytest.approx(0.2, abs=0.01)
    assert shares["R2"] == pytest.approx(0.8, abs=0.01)


def test_samples_lie_inside_the_extreme_and_pass_as_often_as_they_should() -> None:
    found = accuracy(DIVIDER.replace('"3 %"', '"1 %"'))
    assert found.samples is not None
    assert found.margin is not None
    assert found.samples.min() >= found.margin - 1e-12
    rng = np.random.default_rng(3)
    a, b = 1000 * rng.uniform(0.99, 1.01, 400_000), 1000 * rng.uniform(0.98, 1.02, 400_000)
    passing = np.mean(np.abs(10 * b / (a + b) - 5) <= 0.05)
    assert np.mean(found.samples >= 0) == pytest.approx(passing, abs=0.01)
    assert found.passing is not None
    assert found.passing.low <= passing <= found.passing.high


def test_parts_of_one_reel_move_together() -> None:
    tracks = 'tracks = { group = "reel", tolerance = "0.1 %" }\npins'
    text = DIVIDER.replace('"2 %"', '"1 %"').replace("pins = { one", tracks + " = { one")
    # Only the residues of 0.1 % are left in the ratio.
    worst = 10 * 1001 / (1001 + 999) - 5
    assert accuracy(text).value == pytest.approx(worst, rel=1e-3)


def test_drift_counts_from_25_degrees() -> None:
    text = DIVIDER.replace('"2 %"', '"0 %", drift = "1000 ppm/K"').replace('"1 %"', '"0 %"')
    text = text.replace('min = "25 °C", max = "25 °C"', 'min = "25 °C", max = "45 °C"')
    # R2 falls by 2 % at 45 °C at worst.
    assert accuracy(text).value == pytest.approx(5 - 10 * 980 / 1980, rel=1e-6)


def test_an_estimate_never_stands_for_a_solution() -> None:
    found = accuracy(DIVIDER)
    survey = Survey(Fixture.of(read_text(DIVIDER, "divider.toml")))
    assert not survey.rough
    assert found.looked.lanes > found.looked.points + 8


BRIDGE = supply(
    resistor("R1", "IN", "OUT", 1000, "1 %")
    + resistor("R2", "OUT", "GND", 3000, "2 %")
    + resistor("R3", "IN", "LOW", 3000, "3 %")
    + resistor("R4", "LOW", "GND", 1000, "4 %"),
    output='accuracy = "20 %"',
).replace('{ plus = "OUT", minus = "GND" }', '{ plus = "OUT", minus = "LOW" }')


def bridge(r1: float, r2: float, r3: float, r4: float) -> float:
    return 10.0 * (r2 / (r1 + r2) - r4 / (r3 + r4))


def explored(text: str, question: object, samples: int = 64) -> Extreme:
    survey = survey_of(text)
    survey.depth = replace(survey.depth, samples=samples)
    found = explore(survey, AS_SET, {"it": question}, 1)  # type: ignore[dict-item]
    return found["it"]


def off(view: View) -> Answer:
    """How far the output is from 5 V."""
    return within(view.output("main") - 5.0, 1.0)


def test_a_bridge_is_at_the_worst_of_its_sixteen_corners() -> None:
    limits = [(990, 1010), (2940, 3060), (2910, 3090), (960, 1040)]
    corners = [abs(bridge(*corner) - 5.0) for corner in itertools.product(*limits)]
    assert explored(BRIDGE, off).value == pytest.approx(max(corners), rel=1e-6)


def test_a_deviation_is_sought_to_either_side_from_the_start() -> None:
    found = explored(BRIDGE, off)
    assert found.vertex[found.worst] == pytest.approx(found.margin, rel=1e-9)


def test_a_vertex_that_single_effects_miss_is_improved_by_turning() -> None:
    # Each resistor alone lowers this margin whichever way it moves, so that effects move all of
    # them upward; there they mend each other.
    def bent(view: View) -> Answer:
        return replace(off(view), margins=())

    found = explored(BRIDGE, bent)
    assert found.margin < found.vertex[found.worst] - 0.1


AMPLIFIER = supply(
    resistor("R1", "IN", "LOW", 100)
    + resistor("R2", "LOW", "GND", 500)
    + resistor("R3", "LOW", "MINUS", 10e3, "1 %")
    + resistor("R4", "MINUS", "OUT", 20e3, "1 %")
    + resistor("R5", "IN", "PLUS", 10e3, "1 %")
    + resistor("R6", "PLUS", "GND", 20e3, "1 %")
    + part(
        "U1",
        "operational-amplifier",
        "plus = PLUS, minus = MINUS, output = OUT, supply = VCC, ground = GND",
        """use = "358 type"
gain = { min = "25 kV/V", max = "100 kV/V" }
swing_high = { typical = "1.3 V", tolerance = "0 %" }
supply_current = { typical = "0.5 mA", tolerance = "0 %" }
sink_limit = { typical = "15 mA", tolerance = "0 %" }
source_limit = { typical = "30 mA", tolerance = "0 %" }
light_sink = { typical = "80 µA", tolerance = "0 %" }
swing_low_rise = { typical = "0.65 V", tolerance = "0 %" }
output_resistance = { typical = "15 Ω", tolerance = "0 %" }
swing_low = { typical = "5 mV", tolerance = "0 %" }""",
    )
    + resistor("R7", "IN", "VCC", 1),
    input=(14.0, 14.0, 14.0),
)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_difference_amplifier_is_at_the_worst_of_all_its_corners(sign: float) -> None:
    def output(view: View) -> Answer:
        value = view.output("main")
        return Answer(sign * value, value, np.zeros_like(value))

    survey = survey_of(AMPLIFIER)
    low, high = survey.spread.low, survey.spread.high
    assert 8 <= low.size <= 12
    corners = np.array(list(itertools.product(*zip(low, high, strict=True)))).T
    count = corners.shape[1]
    points = survey.range.grid().take(np.zeros(count, np.intp))
    view = AS_SET.view(survey, points, corners, None)
    assert view.solved.all()
    found = explored(AMPLIFIER, output)
    assert found.margin == pytest.approx((sign * view.output("main")).min(), rel=1e-6)
    # About 0.5 V: what 1 % resistors make of 7 V of common mode, and the amplifier's errors.
    assert 0.2 < np.ptp(view.output("main")) < 1.5


def test_exact_parts_have_one_margin() -> None:
    text = supply(resistor("R1", "IN", "OUT", 1000) + resistor("R2", "OUT", "GND", 1500))
    found = explored(text, off)
    # 6 V, so 1 V off, of 1 V allowed.
    assert found.margin == pytest.approx(0.0, abs=1e-6)
    assert found.nominal == pytest.approx([0.0], abs=1e-6)
    assert found.vertex == pytest.approx([0.0], abs=1e-6)
    assert found.shares.size == 0
