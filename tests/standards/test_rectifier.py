"""The repeating half wave against published curves, and bounds against a course of their own."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from functools import cache

import numpy as np
import pytest

from railwright.standards.rectifier import Array, Reservoir, reservoir, saturation_surge, shorted
from tests.published import Row, published

OF: Mapping[str, Callable[[Reservoir], Array]] = {
    "mean": lambda half: half.mean,
    "least": lambda half: half.valley,
    "ripple": lambda half: half.top - half.valley,
    "peak": lambda half: half.peak / half.mean,
    "effective": lambda half: half.effective / half.mean,
}
ROWS = [row for row in published("capacitor-input rectifier") if row.inputs["of"] in OF]


@cache
def found() -> Mapping[tuple[float, float], Mapping[str, float]]:
    """By series resistance over load and omega R C; crest 1 V and load 1 Ω."""
    points = sorted({(row.inputs["series"], row.inputs["capacity"]) for row in ROWS})
    series, capacity = np.array(points).T
    farads = capacity / (2.0 * math.pi * 50.0)
    half = reservoir(1.0, series, 0.0, farads, 0.0, 50.0, conductance=1.0, steps=8000)
    return {
        point: {name: float(of(half)[n]) for name, of in OF.items()}
        for n, point in enumerate(points)
    }


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_published_curves(row: Row) -> None:
    """A series resistance of a millionth stands for none."""
    told = found()[row.inputs["series"], row.inputs["capacity"]][row.inputs["of"]]
    assert told == row.expected_within_its_tolerance


def test_the_valley_of_a_steady_load_by_the_rule_of_thumb() -> None:
    """I / (2 f C) is an upper bound of the ripple, and is nearly reached by a stiff source."""
    half = reservoir(20.0, 1e-3, 0.0, np.array([4.7e-3, 47e-3]), 1.0, 50.0)
    rule = 1.0 / (100.0 * np.array([4.7e-3, 47e-3]))
    assert np.all(half.top - half.valley < rule)
    assert np.all(half.top - half.valley > 0.8 * rule)


def test_leakage_widens_the_pulses() -> None:
    half = reservoir(20.0, 0.5, np.array([0.0, 1e-3]), 4.7e-3, 1.0, 50.0)
    assert half.peak[1] < half.peak[0]
    assert half.valley[1] < half.valley[0]


def test_a_load_beyond_all_reach_is_told() -> None:
    half = reservoir(20.0, 10.0, 0.0, 4.7e-3, 1.9, 50.0)
    assert float(half.valley) < 5.0


def test_the_surge_of_a_core_against_its_course() -> None:
    times = np.linspace(0.0, 10e-3, 100_001)
    volts = 253.0 * math.sqrt(2.0) * np.sin(2.0 * np.pi * 50.0 * times)
    flux = np.concatenate([[0.0], np.cumsum(0.5 * (volts[1:] + volts[:-1]) * np.diff(times))])
    current = np.where(flux > 0.993, volts / 85.0, 0.0)
    told = saturation_surge(253.0, 50.0, 0.993, 85.0)
    assert told == pytest.approx(float(np.trapezoid(current**2, times)), rel=1e-3)


def test_two_windings_side_by_side_have_half_the_resistance() -> None:
    one = shorted(207.0, 50.0, 110.0, 1.5, 13.0, 0.0, 1)
    two = shorted(207.0, 50.0, 110.0, 3.0, 13.0, 0.0, 2)
    assert one == pytest.approx(two)
