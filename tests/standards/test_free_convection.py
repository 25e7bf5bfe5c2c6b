"""Plates and fins in still air against textbook examples and second forms."""

import math
from dataclasses import replace
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import Row, published

from railwright.standards.free_convection import (
    FinnedSink,
    air,
    best_gap,
    channel_convection,
    channel_nusselt,
    fin_efficiency,
    finned_resistance,
    finned_temperature,
    plate_convection,
    plate_nusselt,
    plate_resistance,
    radiation,
    rayleigh,
)

ZERO_CELSIUS = 273.15


@pytest.mark.parametrize("row", published("property of air"), ids=str)
def test_air(row: Row) -> None:
    def found(temperature: float, of: Literal["viscosity", "conductivity", "prandtl"]) -> float:
        return {
            "viscosity": air(temperature).viscosity,
            "conductivity": air(temperature).conductivity,
            "prandtl": air(temperature).prandtl,
        }[of]

    assert found(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("Nusselt number of a vertical plate"), ids=str)
def test_plate_nusselt(row: Row) -> None:
    assert plate_nusselt(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("Rayleigh number"), ids=str)
def test_rayleigh(row: Row) -> None:
    def number(surface: float, ambient: float, length: float) -> float:
        return rayleigh(surface + ZERO_CELSIUS, ambient + ZERO_CELSIUS, length)

    assert number(**row.inputs) == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("best gap of fins"), ids=str)
def test_best_gap(row: Row) -> None:
    def gap(surface: float, ambient: float, height: float) -> float:
        return best_gap(surface + ZERO_CELSIUS, ambient + ZERO_CELSIUS, height)

    assert gap(**row.inputs) * 1e3 == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("convection at the best gap of fins"), ids=str)
def test_convection_at_the_best_gap(row: Row) -> None:
    def coefficient(surface: float, ambient: float, height: float) -> float:
        surface, ambient = surface + ZERO_CELSIUS, ambient + ZERO_CELSIUS
        return channel_convection(surface, ambient, height, best_gap(surface, ambient, height))

    assert coefficient(**row.inputs) == row.expected_within_its_tolerance


def test_hot_plate() -> None:
    # Incropera and DeWitt, example 9.2, from memory: a plate 0.71 m high and 1.02 m wide at
    # 232 °C in air of 23 °C loses 1060 W by convection from one face, 7.0 W/(m² K).
    surface, ambient = 232 + ZERO_CELSIUS, 23 + ZERO_CELSIUS
    assert plate_convection(surface, ambient, 0.71) == pytest.approx(7.0, abs=0.05)
    power = (surface - ambient) / plate_resistance(surface, ambient, 0.71, 0.71 * 1.02)
    assert power == pytest.approx(1060.0, rel=5e-3)


@pytest.mark.parametrize("rise", [20.0, 40.0, 60.0])
@pytest.mark.parametrize("height", [0.05, 0.1, 0.2])
def test_plate_against_the_short_formula_of_the_trade(rise: float, height: float) -> None:
    # h = 1.42 (rise / height)^0.25 for air near room temperature, from memory; at 40 K and
    # 0.1 m 6.35 W/(m² K), 7.87 K/W for both faces of 0.1 m by 0.1 m. Neither formula claims to
    # be better than a tenth.
    short = 1.42 * (rise / height) ** 0.25
    assert plate_convection(293.15 + rise, 293.15, height) == pytest.approx(short, rel=0.1)
    both_faces = plate_resistance(293.15 + rise, 293.15, height, 2 * height**2)
    assert both_faces == pytest.approx(1 / (short * 2 * height**2), rel=0.1)


@given(st.floats(-1.0, 3.0))
def test_channel_against_elenbaas(decade: float) -> None:
    # A second form: the formula that Elenbaas fitted to his measurements (1942), Incropera and
    # DeWitt, chapter 9.
    number = 10**decade
    elenbaas = number / 24 * (1 - math.exp(-35 / number)) ** 0.75
    assert channel_nusselt(number) == pytest.approx(elenbaas, rel=0.06)


SINK = FinnedSink(height=0.1, width=0.1, depth=0.04, thickness=1.5e-3, fins=9)


def test_the_best_gap_is_best() -> None:
    # The rule holds for thin fins on a given width: none but the next numbers are as good.
    thin = replace(SINK, thickness=1e-5, conductivity=1e6)

    def resistance(fins: int) -> float:
        return finned_resistance(replace(thin, fins=fins), 353.15, 303.15)

    best = min(range(2, 40), key=resistance)
    assert replace(thin, fins=best).gap == pytest.approx(best_gap(353.15, 303.15, 0.1), rel=0.12)


def test_two_fins_far_apart_are_plates() -> None:
    # The limit of single plates: base and four faces, each as a plate would give off.
    wide = replace(SINK, fins=2, width=0.5, depth=0.1, thickness=1e-3, conductivity=1e6)
    faces = 4 * 0.1 * 0.1 + wide.gap * 0.1
    found = finned_resistance(wide, 353.15, 303.15)
    assert found == pytest.approx(plate_resistance(353.15, 303.15, 0.1, faces), rel=0.12)


def test_fin_efficiency() -> None:
    # Closed form and its limits; a long fin gives off sqrt(2 h k t) per width.
    assert fin_efficiency(1e-9, 0.05, 1e-3, 200.0) == pytest.approx(1.0)
    long = fin_efficiency(10.0, 5.0, 1e-3, 200.0) * 2 * 10.0 * 5.0
    assert long == pytest.approx(math.sqrt(2 * 10.0 * 200.0 * 1e-3))


def test_radiation() -> None:
    # A black surface: the difference of the fourth powers, law of Stefan and Boltzmann.
    lost = 5.670374419e-8 * (353.15**4 - 303.15**4)
    assert radiation(353.15, 303.15, 1.0) * 50.0 == pytest.approx(lost)
    bare, painted = SINK, replace(SINK, emissivity=0.8)
    envelope = 0.1 * 0.1 + 2 * 0.04 * 0.1 + 2 * 0.1 * 0.04
    more = 1 / finned_resistance(painted, 353.15, 303.15)
    more -= 1 / finned_resistance(bare, 353.15, 303.15)
    assert more == pytest.approx(0.8 * lost / 50.0 * envelope)


@given(st.floats(1.0, 80.0), st.floats(263.15, 333.15))
def test_temperature_leads_back_to_the_power(power: float, ambient: float) -> None:
    surface = finned_temperature(SINK, power, ambient)
    lost = (surface - ambient) / finned_resistance(SINK, surface, ambient)
    assert lost == pytest.approx(power, rel=1e-6)


def test_thin_air_cools_less() -> None:
    # Free convection of a plate falls with about the square root of the pressure.
    thin = plate_convection(353.15, 303.15, 0.1, 70e3) / plate_convection(353.15, 303.15, 0.1)
    assert thin == pytest.approx(math.sqrt(70e3 / 101325), rel=0.05)


def test_wrong_questions_are_refused() -> None:
    with pytest.raises(ValueError, match="wanted are a surface warmer than the air"):
        plate_convection(300.0, 300.0, 0.1)
    with pytest.raises(ValueError, match="a length above 0"):
        best_gap(350.0, 300.0, 0.0)
    with pytest.raises(ValueError, match=r"air at 500\.0 K"):
        air(500.0)
    with pytest.raises(ValueError, match="from 0 to 1e12"):
        plate_nusselt(1e13, 0.7)
    with pytest.raises(ValueError, match=r"an emissivity of 1\.2"):
        radiation(350.0, 300.0, 1.2)
    with pytest.raises(ValueError, match=r"an area of 0\.0"):
        plate_resistance(350.0, 300.0, 0.1, 0.0)
    for wrong in ({"fins": 1}, {"fins": 80}, {"depth": 0.0}):
        with pytest.raises(ValueError, match="at least two fins and room between them"):
            replace(SINK, **wrong)  # type: ignore[arg-type]
    for power in (0.0, 1e6):
        with pytest.raises(ValueError, match="leaves the sink below"):
            finned_temperature(SINK, power, 303.15)
