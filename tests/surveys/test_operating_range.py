"""The operating range holds every end point, and enough points between them."""

from __future__ import annotations

import itertools

import numpy as np
from surveys.supplies import resistor, supply

from railwright.circuit.design import read_text
from railwright.circuit.need import Need
from railwright.surveys.depth import DEFAULT
from railwright.surveys.operating_range import OperatingRange, Points

ADJUSTABLE = {
    "volts": (3.0, 8.0),
    "amperes": (0.0, 1.0),
    "input": (10.0, 11.0, 14.0),
    "ambient": (0.0, 40.0),
}
SECOND = """
[[need.output]]
name = "logic"
nets = { plus = "IN", minus = "GND" }
reference = "common with input"
voltage = { min = "5 V", max = "5 V" }
current = { min = "0.1 A", max = "0.3 A" }
"""


def need(output: str = "", **ranges: tuple[float, ...]) -> Need:
    parts = resistor("R1", "IN", "OUT", 10) + resistor("R2", "OUT", "GND", 10)
    return read_text(supply(parts, output=output, **ranges), "range.toml").need  # type: ignore[arg-type]


def rows(points: Points) -> set[tuple[float, ...]]:
    """All points as (settings, loads, input, ambient), a microvolt being no difference."""
    columns = [*points.settings.values(), *points.loads.values(), points.input, points.ambient]
    return {tuple(float(v) for v in np.round(row, 6)) for row in np.array(columns).T}


def test_every_combination_of_end_points_is_looked_at() -> None:
    found = rows(OperatingRange.of(need(**ADJUSTABLE)).grid())
    ends = itertools.product((3.0, 8.0), (0.0, 1.0), (10.0, 11.0, 14.0), (273.15, 313.15))
    assert set(ends) <= found


def test_an_adjustable_rail_gets_at_least_200_points() -> None:
    grid = OperatingRange.of(need(**ADJUSTABLE)).grid()
    assert DEFAULT.points == 200
    assert grid.count >= 200
    assert len(rows(grid)) == grid.count


def test_a_fixed_rail_and_a_fixed_load_have_one_place() -> None:
    found = OperatingRange.of(need(volts=(5.0, 5.0), amperes=(0.3, 0.3), input=(9.0, 10.0, 12.0)))
    assert found.settings["main"].tolist() == [5.0]
    assert found.loads["main"].tolist() == [0.3]
    assert {9.0, 10.0, 12.0} <= set(found.input)


def test_a_need_without_any_range_is_one_point() -> None:
    grid = OperatingRange.of(need()).grid()
    assert rows(grid) == {(5.0, 0.0, 10.0, 298.15)}


def test_the_usual_input_is_a_place_even_off_the_even_steps() -> None:
    found = OperatingRange.of(need(input=(10.0, 10.37, 14.0)))
    assert 10.37 in found.input
    assert (np.diff(found.input) > 0).all()


def test_several_rails_are_combined_with_each_other() -> None:
    found = rows(OperatingRange.of(need(output=SECOND, **ADJUSTABLE)).grid())
    ends = itertools.product(
        (3.0, 8.0), (5.0,), (0.0, 1.0), (0.1, 0.3), (10.0, 14.0), (273.15, 313.15)
    )
    assert set(ends) <= found


def test_an_axis_that_a_situation_moves_itself_stays_at_its_greatest() -> None:
    found = OperatingRange.of(need(**ADJUSTABLE), full="setting")
    assert found.settings["main"].tolist() == [8.0]
    assert found.loads["main"].size > 1


def test_the_middle_is_half_way_at_usual_input_and_room_temperature() -> None:
    middle = OperatingRange.of(need(**ADJUSTABLE)).middle()
    assert rows(middle) == {(5.5, 0.5, 11.0, 298.15)}
    cold = OperatingRange.of(need(**{**ADJUSTABLE, "ambient": (-20.0, 10.0)})).middle()
    assert cold.ambient.tolist() == [283.15]
