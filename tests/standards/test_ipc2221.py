"""Board conductors against published values of the curve fit and of the table."""

from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import Row, published

from railwright.standards.ipc2221 import (
    MIL,
    Layer,
    Place,
    clearance,
    conductor_current,
    conductor_width,
)

OUNCE = 1.378 * MIL  # copper of one ounce per square foot


@pytest.mark.parametrize("row", published("width of a board conductor"), ids=str)
def test_width(row: Row) -> None:
    def width(current: float, rise: float, layer: Layer) -> float:
        return conductor_width(current, rise, OUNCE, layer)

    assert width(**row.inputs) * 1e3 == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("current of a board conductor"), ids=str)
def test_current(row: Row) -> None:
    def current(mils: float, rise: float, layer: Layer) -> float:
        return conductor_current(mils * MIL, rise, OUNCE, layer)

    assert current(**row.inputs) == row.expected_within_its_tolerance


layers = st.sampled_from(["outer", "inner"])


@given(st.floats(0.01, 35), st.floats(5, 100), st.floats(10e-6, 140e-6), layers)
def test_width_and_current_undo_each_other(
    current: float, rise: float, thickness: float, layer: Layer
) -> None:
    width = conductor_width(current, rise, thickness, layer)
    assert conductor_current(width, rise, thickness, layer) == pytest.approx(current, rel=1e-9)


@pytest.mark.parametrize("row", published("clearance of a board"), ids=str)
def test_clearance(row: Row) -> None:
    assert clearance(**row.inputs) * 1e3 == row.expected_within_its_tolerance


@given(st.floats(0, 2000), st.floats(0, 2000), st.sampled_from(get_args(Place)))
def test_more_voltage_never_wants_less_clearance(one: float, two: float, place: Place) -> None:
    assert clearance(min(one, two), place) <= clearance(max(one, two), place)


def test_a_row_holds_up_to_its_voltage() -> None:
    assert clearance(100.0, "B3") < clearance(100.001, "B3") == clearance(150.0, "B3")


def test_wrong_questions_are_refused() -> None:
    with pytest.raises(ValueError, match="no column 'B9': there are B1, B2"):
        clearance(10.0, "B9")  # type: ignore[arg-type]
    for voltage in (-1.0, float("nan")):
        with pytest.raises(ValueError, match="V: wanted is 0 or more"):
            clearance(voltage, "B2")
    for wrong in ((-1.0, 10.0, 35e-6), (1.0, 0.0, 35e-6), (1.0, 10.0, 0.0)):
        with pytest.raises(ValueError, match="wanted are 0 or more, above 0, above 0"):
            conductor_width(*wrong)
        with pytest.raises(ValueError, match="wanted are 0 or more, above 0, above 0"):
            conductor_current(*wrong)
