"""A trim is set once per sample at its calibration point, and stays there."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from railwright.circuit.design import Design, read, read_text
from railwright.prove.proof import Finding
from railwright.prove.run import prove
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey

FILE = Path(__file__).parents[1] / "data" / "trimmed_five_volts.toml"


def accuracy(design: Design) -> Finding:
    return next(f for f in prove(design).findings if f.id == "output.accuracy")


def without_trim() -> Design:
    text = FILE.read_text("utf-8")
    first, last = text.index("[[control]]"), text.index("[[part]]")
    return read_text(text[:first] + text[last:], "untrimmed.toml")


def test_a_trim_takes_the_spread_of_reference_and_divider_out() -> None:
    trimmed, untrimmed = accuracy(read(FILE)), accuracy(without_trim())
    assert trimmed.verdict == "holds"
    assert untrimmed.verdict == "falls short"
    assert trimmed.value is not None
    assert untrimmed.value is not None
    assert untrimmed.value > 10 * trimmed.value


def test_every_sample_meets_its_calibration_point() -> None:
    survey = Survey(Fixture.of(read(FILE)))
    points = survey.range.middle().take(np.zeros(50, np.intp))
    actual = survey.spread.draw(np.random.default_rng(5).random((survey.spread.size, 50)))
    lanes = survey.lanes(points, actual)
    at = survey.solve(lanes, 50, survey.states.start, survey.states.working)
    assert survey.rail_voltage(at, "main") == pytest.approx(np.full(50, 5.0), abs=1e-6)
    assert np.ptp(lanes["", "given RV1.position"]) > 0.2


def test_trims_are_solved_in_full_where_the_rest_is_estimated() -> None:
    survey = Survey(Fixture.of(read(FILE)))
    points = survey.range.grid().take(np.zeros(20, np.intp))
    actual = survey.spread.draw(np.random.default_rng(5).random((survey.spread.size, 20)))
    fully = survey.lanes(points, actual)["", "given RV1.position"]
    roughly = survey.roughly().lanes(points, actual)["", "given RV1.position"]
    assert np.array_equal(fully, roughly)
