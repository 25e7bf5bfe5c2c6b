"""Enclosures against worked examples of engineering guides, and against films of air."""

import pytest
from published import Row, published

from railwright.standards.enclosure import effective_surface, vent_resistance, wall_resistance
from railwright.standards.free_convection import plate_convection, radiation


@pytest.mark.parametrize("row", published("effective surface of an enclosure"), ids=str)
def test_surface(row: Row) -> None:
    assert effective_surface(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("heat through an enclosure"), ids=str)
def test_heat(row: Row) -> None:
    resistance = wall_resistance(row.inputs["surface"], "painted steel")
    assert row.inputs["rise"] / resistance == row.expected_within_its_tolerance


def test_places_in_the_order_of_what_they_cover() -> None:
    sizes = (2.0, 0.8, 0.6)
    order = ("free", "end", "wall", "middle", "end at wall", "middle at wall", "covered")
    found = [effective_surface(*sizes, place) for place in order]  # type: ignore[arg-type]
    assert found[-1] == pytest.approx(1.4 * 1.6 + 0.7 * 0.48 + 1.2)
    assert found == sorted(found, reverse=True)


def test_painted_steel_is_two_films_of_air_in_series() -> None:
    """The second form: free convection on both faces and radiation; guides round it up."""
    inside, wall, outside = 323.15, 310.65, 298.15
    films = [
        plate_convection(wall, outside, 0.3) + radiation(wall, outside, 0.9),
        plate_convection(inside, wall, 0.3) + radiation(inside, wall, 0.9),
    ]
    both = 1.0 / sum(1.0 / film for film in films)
    assert 1.0 / wall_resistance(1.0, "painted steel") == pytest.approx(both, rel=0.2)


def test_a_draught_by_the_pressure_of_its_column() -> None:
    """Pressure of the column over two openings, v = 0.6 sqrt(2 dp/rho) each, half the pressure."""
    area, height, outside, rise = 1e-3, 0.08, 298.15, 10.0
    warm, cool = (101325.0 / (287.053 * t) for t in (outside + rise, outside))
    pressure = 9.80665 * height * (cool - warm)
    flow = 0.6 * area * (2.0 * 0.5 * pressure / warm) ** 0.5
    found = rise / vent_resistance(area, height, outside, rise)
    assert found == pytest.approx(flow * warm * 1005.0 * rise, rel=0.03)


@pytest.mark.parametrize(
    "call",
    [
        lambda: effective_surface(0.0, 1.0, 1.0),
        lambda: effective_surface(1.0, 1.0, 1.0, "hung"),  # type: ignore[arg-type]
        lambda: wall_resistance(-1.0, "plastic"),
        lambda: wall_resistance(1.0, "wood"),  # type: ignore[arg-type]
        lambda: vent_resistance(0.0, 0.1, 300.0),
    ],
)
def test_refuses(call: object) -> None:
    with pytest.raises(ValueError, match=r"wanted is|wanted are|there are"):
        call()  # type: ignore[operator]
