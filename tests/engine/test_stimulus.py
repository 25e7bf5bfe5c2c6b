"""Inputs that change with time."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from railwright.engine.stimulus import PiecewiseLinear


def test_straight_between_corners_and_constant_beyond() -> None:
    ramp = PiecewiseLinear([1.0, 3.0], [2.0, 6.0])
    assert ramp.value([0.0, 1.0, 1.5, 3.0, 9.0]).tolist() == [2.0, 2.0, 3.0, 6.0, 6.0]
    assert float(ramp.value(2.0)) == 4.0


def test_at_a_step_the_later_value_holds() -> None:
    step = PiecewiseLinear([0.0, 1.0, 1.0, 2.0], [0.0, 0.0, 5.0, 7.0])
    assert step.value([np.nextafter(1.0, 0.0), 1.0, 1.5]).tolist() == [0.0, 5.0, 6.0]
    assert step.corners.tolist() == [0.0, 1.0, 2.0]


def test_steps_at_either_end_and_a_single_corner() -> None:
    assert PiecewiseLinear([0.0, 0.0], [0.0, 1.0]).value([-1.0, 0.0, 1.0]).tolist() == [0, 1, 1]
    assert PiecewiseLinear([1.0], [3.0]).value([[0.0], [2.0]]).tolist() == [[3.0], [3.0]]


@pytest.mark.parametrize(
    ("times", "values", "words"),
    [
        ([0.0, 1.0], [0.0], "one value per time"),
        ([], [], "one value per time"),
        ([[0.0]], [[1.0]], "one value per time"),
        ([1.0, 0.0], [0.0, 1.0], "in order"),
        ([0.0, np.nan], [0.0, 1.0], "finite"),
        ([0.0, 1.0], [0.0, np.inf], "finite"),
    ],
)
def test_anything_else_is_refused(times: Any, values: Any, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        PiecewiseLinear(times, values)
