"""Life of electrolytic capacitors against published figures."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import Row, published

from railwright.standards.electrolytic import (
    core_rise,
    core_temperature,
    life,
    mixed_life,
    rated_equivalent,
)

ZERO_CELSIUS = 273.15


def life_at(rated_life: float, rated_core: float, core: float) -> float:
    return life(rated_life, rated_core + ZERO_CELSIUS, core + ZERO_CELSIUS)


@pytest.mark.parametrize("row", published("life of an electrolytic capacitor"), ids=str)
def test_life(row: Row) -> None:
    assert life_at(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("mean temperature of an electrolytic capacitor"), ids=str)
def test_temperatures_in_turn(row: Row) -> None:
    def mean(rated_life: float, rated_core: float, cores: list[float]) -> float:
        """The steady temperature that allows the same life [°C]."""
        mixed = mixed_life((8.0, life_at(rated_life, rated_core, core)) for core in cores)
        return rated_core - 10 * math.log2(mixed / rated_life)

    assert mean(**row.inputs) == row.expected_within_its_tolerance


ratios = st.floats(0.0, 1.0)


@given(st.floats(320.0, 378.0), ratios)
def test_ripple_in_the_form_of_makers(ambient: float, ratio: float) -> None:
    # Second form: life = rated 2^((T0 - T)/10) K^(d/10) with d = (1 - (I/I0)²) 5 K. That K is 2
    # within the allowed ripple: a maker's page of life calculation; the rest from memory.
    core = core_temperature(ambient, ratio, 1.0)
    expected = 2000 * 2 ** ((378.15 - ambient) / 10) * 2 ** ((1 - ratio**2) * 5.0 / 10)
    assert life(2000.0, core_temperature(378.15, 1.0, 1.0), core) == pytest.approx(expected)


def test_ripple_heats_with_its_square() -> None:
    rise = core_rise(1.5, 0.08, 20.0)
    assert rise == pytest.approx(3.6)
    assert core_temperature(300.0, 3.0, 1.5, rise) == pytest.approx(300.0 + 4 * rise)


def test_ripples_of_several_frequencies_add_their_heat() -> None:
    # Two currents at their full allowance heat twice as much as one.
    both = rated_equivalent([(0.7, 0.7), (1.4, 1.4)])
    assert both**2 == pytest.approx(2.0)


def test_no_more_life_is_promised_below_40_degrees() -> None:
    assert life_at(2000.0, 105.0, 20.0) == life_at(2000.0, 105.0, 40.0)


def test_wrong_questions_are_refused() -> None:
    with pytest.raises(ValueError, match=r"a core of 380\.0 K: wanted is at most the rated 378"):
        life(2000.0, 378.15, 380.0)
    with pytest.raises(ValueError, match=r"rated 0\.0 A"):
        core_temperature(300.0, 1.0, 0.0)
    with pytest.raises(ValueError, match=r"a multiplier of 0\.0"):
        rated_equivalent([(1.0, 0.0)])
    with pytest.raises(ValueError, match="no phase lasts"):
        mixed_life([])
    with pytest.raises(ValueError, match=r"1\.0 at a life of 0\.0"):
        mixed_life([(1.0, 0.0)])
