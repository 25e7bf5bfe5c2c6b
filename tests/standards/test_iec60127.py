"""Fuses against the limits of the standard's sheets, and the curves between them."""

import math
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import Row, published

from railwright.standards.iec60127 import (
    SHEETS,
    blowing_current,
    breaking_capacity,
    holding_current,
    judge,
    opening_time,
)


@pytest.mark.parametrize("row", published("opening time of a fuse"), ids=str)
def test_opening_time(row: Row) -> None:
    def time(sheet: int, rated: float, multiple: float, end: Literal["least", "greatest"]) -> float:
        window = opening_time(sheet, rated, multiple * rated)
        return window.least if end == "least" else window.greatest

    assert time(**row.inputs) == row.expected_within_its_tolerance


def test_sheet_1() -> None:
    # IEC 60127-2, sheet 1, from memory.
    assert opening_time(1, 2.0, 5.5) == (0.01, 2.0)
    assert opening_time(1, 5.0, 13.75) == (0.01, 3.0)
    assert opening_time(1, 2.0, 8.0) == (0.003, 0.3)


def test_straight_on_logarithmic_scales() -> None:
    # A second form: the power law through two limits of sheet 3.
    slope = math.log(3.0 / 10.0) / math.log(4.0 / 2.75)
    assert opening_time(3, 1.0, 3.3).greatest == pytest.approx(10.0 * (3.3 / 2.75) ** slope)
    slope = math.log(0.6 / 3600.0) / math.log(2.75 / 1.5)
    assert opening_time(3, 1.0, 2.1).least == pytest.approx(3600.0 * (2.1 / 1.5) ** slope)


def test_where_the_standard_is_silent() -> None:
    assert opening_time(3, 2.0, 2.0) == (math.inf, math.inf)
    assert opening_time(3, 2.0, 2.5) == (3600.0, math.inf)
    assert opening_time(3, 2.0, 40.0) == (0.0, 0.3)
    assert opening_time(2, 2.0, 15.0).least == 0.0  # sheet 2 has no least time at ten times


sheets = st.sampled_from(list(SHEETS))
ratings = st.floats(1.0, 6.3)
multiples = st.floats(1.001, 20.0)


@given(sheets, ratings, multiples, multiples)
def test_more_current_never_opens_later(sheet: int, rated: float, one: float, two: float) -> None:
    slow = opening_time(sheet, rated, min(one, two) * rated)
    quick = opening_time(sheet, rated, max(one, two) * rated)
    assert quick.least <= slow.least * (1 + 1e-9)
    assert quick.greatest <= slow.greatest * (1 + 1e-9)
    assert slow.least <= slow.greatest


@given(sheets, ratings, st.floats(1e-3, 1e4))
def test_currents_lead_back_to_their_time(sheet: int, rated: float, duration: float) -> None:
    holds = holding_current(sheet, rated, duration)
    assert opening_time(sheet, rated, holds * (1 - 1e-9)).least >= duration * (1 - 1e-6)
    opens = blowing_current(sheet, rated, duration)
    if math.isfinite(opens):
        assert opening_time(sheet, rated, opens * (1 + 1e-9)).greatest <= duration * (1 + 1e-6)
        assert holds <= opens


def test_judgement() -> None:
    # A 4 A source behind a time-lag fuse: of 1 A it opens within 3 s, of 2 A perhaps never.
    assert judge(3, 1.0, 4.0, 3.0) == "opens"
    assert judge(3, 1.0, 4.0, 2.9) == "may open"
    assert judge(3, 2.0, 4.0, 1e6) == "may open"
    assert judge(3, 4.0, 4.0, 1e6) == "holds"
    assert judge(3, 1.0, 4.0, 0.1) == "holds"
    assert judge(3, 2.0, 50.0, 1.0) == "cannot break"
    assert judge(5, 2.0, 50.0, 1.0) == "opens"


def test_breaking_capacity() -> None:
    # Low: 35 A or ten times the rated current, high: 1500 A; public reading of the markings.
    assert [breaking_capacity(3, rated) for rated in (1.0, 3.5, 5.0)] == [35.0, 35.0, 50.0]
    assert breaking_capacity(1, 2.0) == 1500.0


def test_wrong_questions_are_refused() -> None:
    with pytest.raises(ValueError, match="no sheet 4: there are 1, 2, 3, 5"):
        opening_time(4, 1.0, 1.0)
    for rated in (0.5, 10.0, float("nan")):
        with pytest.raises(ValueError, match=r"sheet 5 has no rated .* from 1 A to 6\.3 A"):
            breaking_capacity(5, rated)
    with pytest.raises(ValueError, match=r"a current of -1\.0 A: wanted is 0 or more"):
        opening_time(3, 1.0, -1.0)
    for question in (holding_current, blowing_current):
        with pytest.raises(ValueError, match=r"a duration of 0\.0 s: wanted is one above 0"):
            question(3, 1.0, 0.0)
