"""Inputs that change with time."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from railwright.engine.stimulus import PiecewiseLinear


def values(course: PiecewiseLinear, *times: float) -> list[float]:
    return [float(course.value(t)[0]) for t in times]


def test_straight_between_corners_and_constant_beyond() -> None:
    ramp = PiecewiseLinear(np.array([1.0, 3.0]), np.array([2.0, 6.0]))
    assert values(ramp, 0.0, 1.0, 1.5, 3.0, 9.0) == [2.0, 2.0, 3.0, 6.0, 6.0]


def test_at_a_jump_the_later_value_holds() -> None:
    jump = PiecewiseLinear(np.array([0.0, 1.0, 1.0, 2.0]), np.array([0.0, 0.0, 5.0, 7.0]))
    assert values(jump, float(np.nextafter(1.0, 0.0)), 1.0, 1.5) == [0.0, 5.0, 6.0]
    assert jump.corners().tolist() == [0.0, 1.0, 2.0]


def test_jumps_at_either_end_and_a_single_corner() -> None:
    assert values(PiecewiseLinear(np.zeros(2), np.array([0.0, 1.0])), -1.0, 0.0, 1.0) == [0, 1, 1]
    assert values(PiecewiseLinear(np.array([1.0]), np.array([3.0])), 0.0, 2.0) == [3.0, 3.0]


def test_lanes_of_their_own() -> None:
    course = PiecewiseLinear(np.array([0.0, 2.0]), np.array([[0.0, 2.0], [4.0, 0.0]]))
    value, slope, since = course.lines(1.0, 2)
    assert course.value(1.0, 2).tolist() == [1.0, 2.0]
    assert (value.tolist(), slope.tolist(), since.tolist()) == ([0.0, 4.0], [1.0, -2.0], [0.0, 0.0])


@pytest.mark.parametrize(
    ("times", "found", "words"),
    [
        ([0.0, 1.0], [0.0], "one value for each time"),
        ([], [], "one value for each time"),
        ([1.0, 0.0], [0.0, 1.0], "rising order"),
    ],
)
def test_anything_else_is_refused(times: Any, found: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        PiecewiseLinear(np.array(times), np.array(found))
