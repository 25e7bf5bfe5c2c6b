"""Inductance of loops against a closed form of another shape."""

from __future__ import annotations

import math

import pytest

from railwright.standards.loop import inductance, ringing


def test_a_round_loop_is_near_a_square_one_of_the_same_area() -> None:
    # Square of side d, round wire of radius a: L = (2 u0 d / pi) (ln(d / a) - 0.774), Terman, Radio
    # Engineers' Handbook (from memory).
    side, width = 1e-2, 1e-3
    wire = width / 4.0
    square = 2.0 * 4e-7 * side * (math.log(side / wire) - 0.774)
    assert inductance(side**2, width) == pytest.approx(square, rel=0.2)


def test_ringing_is_that_of_the_closed_form() -> None:
    # 1 µH and 1 nF: 1 / (2 pi sqrt(1e-15)) = 5.03 MHz (textbooks).
    assert ringing(1e-6, 1e-9) == pytest.approx(5.033e6, rel=1e-3)


def test_a_loop_smaller_than_its_conductor_is_refused() -> None:
    with pytest.raises(ValueError, match="a loop larger than that"):
        inductance(1e-9, 1e-2)
