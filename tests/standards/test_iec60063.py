"""Preferred values against published lists and places where a plain formula is wrong."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from railwright.standards.iec60063 import SERIES, bracket, is_member, nearest

# E series of preferred numbers, article (handwiki.org/wiki/E_series_of_preferred_numbers):
# what 10^(i/24) rounded to one decimal says, and what the standard has instead.
E24_EXCEPTIONS = [
    (2.6, 2.7),
    (2.9, 3.0),
    (3.2, 3.3),
    (3.5, 3.6),
    (3.8, 3.9),
    (4.2, 4.3),
    (4.6, 4.7),
    (8.3, 8.2),
]


def test_e24_differs_from_the_formula_in_the_published_places_only() -> None:
    formula = [round(10 ** (i / 24), 1) for i in range(24)]
    standard = [float(value) for value in SERIES["E24"]]
    differing = [pair for pair in zip(formula, standard, strict=True) if pair[0] != pair[1]]
    assert differing == E24_EXCEPTIONS


def test_e48_begins_as_published() -> None:
    # The same article.
    assert [float(v) for v in SERIES["E48"][:8]] == [1.0, 1.05, 1.1, 1.15, 1.21, 1.27, 1.33, 1.4]


def test_e192_follows_its_formula_but_for_one_value_and_holds_e96_and_e48() -> None:
    # The same article: 10^(i/192) rounded to two decimals, every second of it and every fourth.
    formula = [round(10 ** (i / 192), 2) for i in range(192)]
    differing = [i for i, value in enumerate(SERIES["E192"]) if float(value) != formula[i]]
    assert differing == [185]
    assert SERIES["E96"] == SERIES["E192"][::2]
    assert SERIES["E48"] == SERIES["E192"][::4]


def test_e192_holds_920_where_the_formula_says_919() -> None:
    # From memory.
    assert f"{10 ** (185 / 192):.2f}" == "9.19"
    assert float(SERIES["E192"][185]) == 9.2
    assert not is_member(9.19, "E192")


@pytest.mark.parametrize("name", SERIES)
def test_each_series_has_its_number_of_rising_values(name: str) -> None:
    values = SERIES[name]
    assert len(values) == int(name.removeprefix("E"))
    assert list(values) == sorted(set(values))
    assert values[0] == 1
    assert values[-1] < 10


@pytest.mark.parametrize(("coarse", "fine"), [("E3", "E6"), ("E6", "E12"), ("E12", "E24")])
def test_coarse_series_lie_in_the_finer_ones(coarse: str, fine: str) -> None:
    assert set(SERIES[coarse]) < set(SERIES[fine])


values = st.floats(1e-12, 1e9)
names = st.sampled_from(list(SERIES))


@given(values, names)
def test_brackets_enclose_and_nearest_is_one_end(value: float, name: str) -> None:
    below, above = bracket(value, name)
    assert below <= value * (1 + 1e-6)
    assert above >= value * (1 - 1e-6)
    assert nearest(value, name) in (below, above)
    assert is_member(below, name)
    assert is_member(above, name)
    assert abs(nearest(value, name) - value) <= min(value - below, above - value) + 1e-6 * value


@given(values, names)
def test_no_member_lies_between_the_ends(value: float, name: str) -> None:
    below, above = bracket(value, name)
    if below < above:
        members = [float(m.scaleb(power)) for m in SERIES[name] for power in range(-13, 11)]
        assert not [m for m in members if below * (1 + 1e-9) < m < above * (1 - 1e-9)]


@pytest.mark.parametrize("value", [9.99, 10.0, 1.0, 999990.0, 1e-12])
def test_ends_of_decades(value: float) -> None:
    below, above = bracket(value, "E12")
    assert below <= value <= above
    assert above / below < 1.3


def test_wrong_questions_are_refused() -> None:
    with pytest.raises(ValueError, match="'E25' is no series: wanted is one of E3, E6"):
        nearest(1.0, "E25")
    for value in (0.0, -1.0, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="wanted is a value above 0"):
            bracket(value, "E24")
