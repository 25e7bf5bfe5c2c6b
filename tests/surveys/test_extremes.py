"""Extreme values, shares and samples of supplies whose worst case is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from railwright.circuit.design import read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.surveys.fixture import Fixture
from railwright.surveys.operating_range import OperatingRange
from railwright.surveys.samples import SETS, quasi_random
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


def test_the_range_has_all_end_points_and_enough_others() -> None:
    text = DIVIDER.replace('max = "0 A"', 'max = "1 A"')
    text = text.replace('min = "10 V", nominal = "10 V"', 'min = "8 V", nominal = "9 V"')
    found = OperatingRange.of(read_text(text, "divider.toml").need)
    grid = found.grid()
    assert {0.0, 1.0} <= set(grid.loads["half"])
    assert {8.0, 9.0, 10.0} <= set(np.round(grid.input, 9))
    assert set(grid.settings["half"]) == {5.0}


def test_sample_sets_fill_the_unit_cube_evenly_and_differ_from_each_other() -> None:
    sets = quasi_random(7, 2000, 1).reshape(7, SETS, -1)
    assert np.abs(sets.mean(axis=2) - 0.5).max() < 0.01
    assert np.abs(sets[:, 0] - sets[:, 1]).max() > 0.1
    assert quasi_random(7, 2000, 1) == pytest.approx(quasi_random(7, 2000, 1))
