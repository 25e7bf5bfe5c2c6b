"""What supplies take and give over their range, and the picture of it."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from railwright.circuit.design import read
from railwright.pages.drawing import PAGE
from railwright.propose.candidates import Candidate, Proposal
from railwright.propose.picture import side_by_side
from railwright.propose.power import LEAST_LOAD, PLACES, Array, PowerMap, power_map
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey
from tests.propose.test_side_by_side import ROOT, candidate


def map_of(name: str) -> PowerMap:
    return power_map(Survey(Fixture.of(read(ROOT / "examples" / f"{name}.toml"))))


def test_a_linear_supply_gives_at_most_its_share_of_the_input() -> None:
    # A series element carries what the load takes: efficiency is Vout / Vin less what its legs and
    # the regulator take, Horowitz and Hill, The Art of Electronics, 3rd ed., section 9.1 (memory).
    found = map_of("model-shop-knob")
    load, output = found.axes.values()
    assert load.size == output.size == PLACES
    assert load[0] == pytest.approx(LEAST_LOAD * load[-1])
    volts = read(ROOT / "examples" / "model-shop-knob.toml").need.input.voltage.nominal
    bound = np.broadcast_to(output / volts, found.efficiency.shape)
    assert (found.efficiency < bound).all()
    assert found.efficiency[-1] == pytest.approx(bound[-1], rel=0.1)
    assert (np.diff(found.loss, axis=0) > 0).all()  # more load, more heat
    assert (np.diff(found.loss, axis=1) < 0).all()  # a higher output, less heat


def test_from_the_mains_what_is_taken_is_the_mean_over_its_cycle() -> None:
    found = map_of("workshop-twelve-volts")
    load, _ = found.axes.values()
    assert np.isfinite(found.efficiency).all()
    assert found.given[-1] == pytest.approx(12.0 * load[-1], rel=0.05)
    # Transformer, rectifier and series regulator together: 30 to 60 % (common practice, no source).
    assert 0.25 < found.efficiency[-1].mean() < 0.65


def with_map(name: str, axes: dict[str, Array], taken: Array) -> Candidate:
    one = candidate(name, "holds")
    return replace(one, figures=replace(one.figures, over_range=PowerMap(axes, 0.0 * taken, taken)))


def test_the_picture_has_a_row_for_each_candidate_and_the_same_lines_for_all() -> None:
    axes = {"load main": np.array([0.1, 1.0]), "input": np.array([9.0, 12.0])}
    cool, hot = (np.array([[0.5, 1.0], [2.0, 3.0]]) * scale for scale in (1.0, 4.0))
    both = (with_map("cool", axes, cool), with_map("hot", axes, hot))
    drawn = side_by_side(Proposal("A need", both, ()), PAGE)
    assert "heat, 500 mW to 3 W" in drawn
    assert "heat, 2 W to 12 W" in drawn
    lines = re.findall(r">\s*(\d+(?:\.\d+)? W)\s*<", drawn)
    assert set(lines) == {"1.5 W", "3 W", "4.5 W", "6 W", "7.5 W", "9 W", "10.5 W"}


def test_what_was_not_solved_is_told_and_a_single_axis_makes_a_curve() -> None:
    axes = {"load main": np.array([0.1, 1.0])}
    unknown = {**axes, "input": np.array([9.0, 12.0])}
    found = (with_map("flat", axes, np.ones(2)), with_map("dark", unknown, np.full((2, 2), np.nan)))
    drawn = side_by_side(Proposal("A need", found, ()), PAGE)
    assert "heat not known" in drawn
    assert "heat, 1 W to 1 W" in drawn
