"""Touch temperatures against the tables of the standards."""

import math
from typing import get_args

import pytest
from published import Row, published

from railwright.standards.touch import Material, Part, instrument_limit, touch_limit

ZERO_CELSIUS = 273.15


@pytest.mark.parametrize("row", published("touch temperature"), ids=str)
def test_touch_limit(row: Row) -> None:
    assert touch_limit(**row.inputs) - ZERO_CELSIUS == row.expected_within_its_tolerance


@pytest.mark.parametrize(
    ("duration", "metal", "glass", "plastic"),
    [
        # IEC 62368-1, table 38, class TS1, from memory.
        (0.5, 70, 85, 94),
        (1.0, 70, 85, 94),
        (5.0, 60, 71, 77),
        (30.0, 51, 56, 60),
        (60.0, 51, 56, 60),
        (61.0, 48, 48, 48),
        (math.inf, 48, 48, 48),
    ],
)
def test_longer_touches(duration: float, metal: float, glass: float, plastic: float) -> None:
    found = [touch_limit(material, duration) for material in get_args(Material)]
    assert found == pytest.approx([t + ZERO_CELSIUS for t in (metal, glass, plastic)])


@pytest.mark.parametrize(
    ("part", "material", "celsius"),
    [
        # IEC 61010-1, table 19, from memory.
        ("enclosure", "metal", 65),
        ("enclosure", "coated metal", 80),
        ("enclosure", "plastic", 85),
        ("enclosure", "glass", 80),
        ("knob", "metal", 55),
        ("knob", "plastic", 70),
        ("knob", "glass", 65),
    ],
)
def test_instruments(part: Part, material: str, celsius: float) -> None:
    assert instrument_limit(part, material) == pytest.approx(celsius + ZERO_CELSIUS)


def test_wrong_questions_are_refused() -> None:
    with pytest.raises(ValueError, match="no row for 'wood': there are metal, glass, plastic"):
        touch_limit("wood", 1.0)  # type: ignore[arg-type]
    for duration in (0.0, -1.0, math.nan):
        with pytest.raises(ValueError, match="s: wanted is one above 0"):
            touch_limit("metal", duration)
    with pytest.raises(ValueError, match="no row for knob, 'coated metal'"):
        instrument_limit("knob", "coated metal")
    with pytest.raises(ValueError, match="no row for 'lid': there are enclosure, knob"):
        instrument_limit("lid", "metal")  # type: ignore[arg-type]
