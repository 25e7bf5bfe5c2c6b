"""Copper wire against published tables."""

import pytest
from published import Row, published

from railwright.standards.wire import area, diameter, gauge_for, resistance, vacuum_current


@pytest.mark.parametrize("row", published("diameter of a wire gauge"), ids=str)
def test_diameter(row: Row) -> None:
    assert diameter(**row.inputs) * 1e3 == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("resistance of a wire gauge"), ids=str)
def test_resistance(row: Row) -> None:
    found = resistance(1000 * 0.3048, area(**row.inputs))
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("gauge", range(-3, 41))
def test_gauge_for_a_cross_section(gauge: int) -> None:
    assert gauge_for(area(gauge)) == gauge
    assert gauge_for(area(gauge) * 1.001) == gauge - 1
    assert gauge_for(area(gauge) * 0.999) == gauge


def test_no_gauge_without_a_cross_section() -> None:
    for wrong in (0.0, -1e-6, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="m²: wanted is one above 0"):
            gauge_for(wrong)


def test_copper() -> None:
    # 1.72e-8 Ω·m and 0.00393 per kelvin as quoted in public source text with the reference ASTM
    # B193; the International Annealed Copper Standard has 1.7241e-8, from memory.
    assert resistance(1.0, 1.0) == pytest.approx(1.72e-8, rel=3e-3)
    assert resistance(1.0, 1.0, 294.15) / resistance(1.0, 1.0) - 1 == pytest.approx(
        0.00393, rel=3e-3
    )


def test_warm_wire_has_more_resistance() -> None:
    cold, warm = resistance(1.0, 1e-6), resistance(1.0, 1e-6, 293.15 + 100)
    assert warm / cold == pytest.approx(1.393)
    assert resistance(2.0, 1e-6) == 2 * cold


# MIL-STD-975M (NASA), 5 August 1994, Appendix A 3.16, read in a public copy.
SINGLE_WIRE = {
    30: 1.3,
    28: 1.8,
    26: 2.5,
    24: 3.3,
    22: 4.5,
    20: 6.5,
    18: 9.2,
    16: 13.0,
    14: 19.0,
    12: 25.0,
    10: 33.0,
}


@pytest.mark.parametrize(("gauge", "current"), SINGLE_WIRE.items())
def test_vacuum_current(gauge: int, current: float) -> None:
    assert vacuum_current(gauge) == current


@pytest.mark.parametrize(
    ("wires", "factor"), [(1, 1.0), (2, 27 / 28), (15, 14 / 28), (16, 0.5), (100, 0.5)]
)
def test_bundle(wires: int, factor: float) -> None:
    assert vacuum_current(20, wires) == pytest.approx(6.5 * factor)


@pytest.mark.parametrize(
    ("insulation", "factor"), [(200, 1.0), (150, 0.80), (135, 0.70), (105, 0.50)]
)
def test_insulation(insulation: int, factor: float) -> None:
    assert vacuum_current(20, insulation=insulation) == pytest.approx(6.5 * factor)


def test_rows_that_do_not_exist_are_refused() -> None:
    with pytest.raises(ValueError, match="no row for gauge 23"):
        vacuum_current(23)
    with pytest.raises(ValueError, match="no row for 90 °C"):
        vacuum_current(22, insulation=90)
    with pytest.raises(ValueError, match="0 wires: wanted is 1 or more"):
        vacuum_current(22, wires=0)
