"""Metric conductors: the table against pure copper of the same cross-section."""

from typing import get_args

import pytest

from railwright.standards.iec60228 import SIZES, Build, greatest_resistance, size_for
from railwright.standards.wire import resistance


@pytest.mark.parametrize("build", get_args(Build))
@pytest.mark.parametrize("size", SIZES)
def test_greatest_resistance(size: float, build: Build) -> None:
    # A second form: lay of the strands and drawing cost up to a sixth more than solid copper.
    copper = resistance(1.0, size)
    assert copper < greatest_resistance(size, build) < 1.17 * copper


@pytest.mark.parametrize(
    ("square_millimetres", "stranded", "flexible"),
    [(0.5, 36.0, 39.0), (1.0, 18.1, 19.5), (1.5, 12.1, 13.3), (2.5, 7.41, 7.98), (4, 4.61, 4.95)],
)
def test_as_published(square_millimetres: float, stranded: float, flexible: float) -> None:
    # IEC 60228, tables 2 and 3, Ω/km, from memory.
    size = square_millimetres * 1e-6
    assert greatest_resistance(size, "stranded") * 1e3 == pytest.approx(stranded)
    assert greatest_resistance(size, "flexible") * 1e3 == pytest.approx(flexible)


@pytest.mark.parametrize("size", SIZES)
def test_a_size_is_enough_for_itself(size: float) -> None:
    assert size_for(size) == size
    assert size_for(size * 0.99) == size


def test_wrong_questions_are_refused() -> None:
    for wrong in (0.0, 17e-6, float("nan")):
        with pytest.raises(ValueError, match="no size of"):
            size_for(wrong)
    with pytest.raises(ValueError, match=r"no row for 1\.2e-06 m²: there are 0\.5, 0\.75, 1,"):
        greatest_resistance(1.2e-6)
    with pytest.raises(ValueError, match="no row for 'solid': there are stranded, flexible"):
        greatest_resistance(1e-6, "solid")  # type: ignore[arg-type]
