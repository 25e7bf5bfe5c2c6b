"""Cores against published examples and tables, and against second forms of the equations."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import Row, published

from railwright.standards.cores import materials
from railwright.standards.magnetics import (
    Core,
    Material,
    flux_density,
    fringing,
    gap_for,
    inductance_of,
    loss_density,
    needed_area_product,
    needed_geometrical_constant,
    ring,
    thermal_resistance,
    turns_for_flux,
)
from railwright.standards.winding import MU_0

RESISTIVITY = 1.724e-8  # Ω m, as in the examples of Erickson and Maksimovic
NO_IRON = 1e12  # a permeability that leaves the gap alone
FERRITE = materials()["power ferrite"]
CORE = Core("a core", 100e-6, 80e-3, 120e-6, 60e-3, 22e-3)


def plain(area: float) -> Core:
    """A core of which only the section counts."""
    return Core("plain", area, 50e-3, 1e-4, 50e-3)


@pytest.mark.parametrize("row", published("geometrical constant"), ids=str)
def test_needed_geometrical_constant(row: Row) -> None:
    known = row.inputs
    found = needed_geometrical_constant(
        RESISTIVITY,
        known["inductance"],
        known["peak"],
        known["flux"],
        known["loss"] / known["rms"] ** 2,
        known["fill"],
    )
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("turns for a flux density"), ids=str)
def test_turns_for_flux(row: Row) -> None:
    known = row.inputs
    found = turns_for_flux(known["inductance"], known["peak"], known["flux"], known["area"])
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("gap without iron and fringing"), ids=str)
def test_gap(row: Row) -> None:
    known = row.inputs
    turns = turns_for_flux(known["inductance"], known["peak"], known["flux"], known["area"])
    found = gap_for(known["inductance"], turns, plain(known["area"]), NO_IRON)
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("gap without iron and fringing, by turns"), ids=str)
def test_gap_by_turns(row: Row) -> None:
    known = row.inputs
    found = gap_for(known["inductance"], known["turns"], plain(known["area"]), NO_IRON)
    assert found / known["gaps"] == row.expected_within_its_tolerance


@given(st.floats(1e-6, 1e-2), st.floats(0.1, 20.0), st.floats(0.1, 20.0), st.floats(0.05, 0.4))
def test_area_product_in_a_second_form(
    inductance: float, peak: float, rms: float, flux: float
) -> None:
    # Any core of that product takes just the turns that its section asks for.
    density, fill = 4e6, 0.4
    product = needed_area_product(inductance, peak, rms, flux, density, fill)
    area = 1e-4
    turns = turns_for_flux(inductance, peak, flux, area)
    assert turns * rms / density == pytest.approx(fill * product / area)


@given(st.floats(1.0, 200.0), st.floats(1e-5, 5e-3), st.booleans())
def test_gap_leads_back_to_the_inductance(turns: float, gap: float, bulges: bool) -> None:
    core = CORE if bulges else replace(CORE, width=None)
    inductance = inductance_of(turns, core, 2300.0, gap)
    found = gap_for(inductance, turns, core, 2300.0)
    assert found == pytest.approx(gap, rel=1e-6)
    # Flux by the law of the magnetic circuit: N I = H iron * path + H gap * gap.
    current = 2.0
    flux = flux_density(inductance, current, turns, core.area)
    spread = fringing(gap, core.area, core.width) if core.width else 1.0
    drive = flux / MU_0 * (core.path / 2300.0 + gap / spread)
    assert drive == pytest.approx(turns * current, rel=1e-9)


def test_fringing() -> None:
    # By hand: 1 mm gap, 100 mm², 22 mm: 1 + 1/10 ln 44.
    assert fringing(1e-3, 100e-6, 22e-3) == pytest.approx(1 + 0.1 * math.log(44))
    assert fringing(0.0, 100e-6, 22e-3) == 1.0
    assert fringing(50e-3, 100e-6, 22e-3) == 1.0


def test_too_few_turns_for_the_inductance() -> None:
    with pytest.raises(ValueError, match=r"10 turns on a core make .* H without a gap"):
        gap_for(1.0, 10, CORE, 2300.0)


@pytest.mark.parametrize(
    ("sizes", "path", "area"),
    [
        # Ferrite rings: effective length and area as makers list them, from memory.
        ((25.3e-3, 14.8e-3, 10e-3), 60.07e-3, 51.26e-6),
        ((50.8e-3, 31.75e-3, 13.97e-3), 126.0e-3, 129.0e-6),
    ],
)
def test_ring(sizes: tuple[float, float, float], path: float, area: float) -> None:
    core = ring("ring", *sizes)
    assert core.path == pytest.approx(path, rel=0.02)
    assert core.area == pytest.approx(area, rel=0.03)
    assert not core.gapped


@given(st.floats(5e-3, 50e-3), st.floats(1.1, 3.0), st.floats(1e-3, 30e-3))
def test_ring_in_a_second_form(inner: float, ratio: float, height: float) -> None:
    # Cut into thin shells that share the flux by their reluctance: the ring of constant section
    # that takes its place has the same second and third moments of the flux density.
    core = ring("ring", inner * ratio, inner, height)
    edges = np.linspace(inner / 2, inner * ratio / 2, 4001)
    radius, thick = (edges[1:] + edges[:-1]) / 2, np.diff(edges)
    length = 2 * np.pi * radius
    share = height * thick / length
    density = share / np.sum(share) / (height * thick)  # of one unit of flux
    squares = np.sum(density**2 * length * height * thick)
    cubes = np.sum(density**3 * length * height * thick)
    assert core.path / core.area == pytest.approx(squares, rel=1e-5)
    assert core.path / core.area**2 == pytest.approx(cubes, rel=1e-5)


@pytest.mark.parametrize("sizes", [(0.01, 0.02, 0.01), (0.02, 0.0, 0.01), (0.02, 0.01, 0.0)])
def test_rings_that_cannot_be(sizes: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="wanted are outer over inner diameter and a height"):
        ring("ring", *sizes)


@pytest.mark.parametrize("row", published("core loss by a power law"), ids=str)
def test_power_law(row: Row) -> None:
    known = row.inputs
    material = replace(
        FERRITE,
        loss=known["factor"],
        reference_flux=1.0,
        reference_frequency=75e3,
        flux_exponent=known["exponent"],
    )
    found = loss_density(material, 75e3, 2 * known["flux"], None) * known["volume"]
    assert found == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("core loss of power ferrite"), ids=str)
def test_loss_of_power_ferrite(row: Row) -> None:
    known = row.inputs
    found = loss_density(FERRITE, known["frequency"], 2 * known["flux"], None) * known["volume"]
    assert found == row.expected_within_its_tolerance


def integrated(material: Material, frequency: float, flux: np.ndarray) -> float:
    """Loss density by the integral of the improved generalised Steinmetz equation, a second form.

    flux: samples of one period [T].
    """
    alpha, beta = material.frequency_exponent, material.flux_exponent
    angle = (np.arange(200000) + 0.5) / 200000 * 2 * np.pi
    turn = 2 * np.pi * np.mean(np.abs(np.cos(angle)) ** alpha)
    k = material.loss / material.reference_frequency**alpha / material.reference_flux**beta
    factor = k / ((2 * np.pi) ** (alpha - 1) * turn * 2 ** (beta - alpha))
    slope = np.abs(np.diff(flux)) * (len(flux) - 1) * frequency
    return float(factor * np.ptp(flux) ** (beta - alpha) * np.mean(slope**alpha))


@pytest.mark.parametrize("duty", [0.1, 0.25, 0.5, 0.8])
def test_loss_of_a_triangle(duty: float) -> None:
    time = np.linspace(0.0, 1.0, 20001)
    flux = 0.12 * np.where(time < duty, time / duty, (1 - time) / (1 - duty))
    found = loss_density(FERRITE, 130e3, 0.12, duty)
    assert found == pytest.approx(integrated(FERRITE, 130e3, flux), rel=1e-4)


def test_loss_of_a_sine() -> None:
    time = np.linspace(0.0, 1.0, 20001)
    expected = integrated(FERRITE, 130e3, 0.06 * np.sin(2 * np.pi * time))
    assert loss_density(FERRITE, 130e3, 0.12, None) == pytest.approx(expected, rel=1e-4)


def test_loss_is_not_told_where_it_is_not_known() -> None:
    with pytest.raises(ValueError, match="the loss of power ferrite is known from 25000 to 300000"):
        loss_density(FERRITE, 1e6, 0.1, None)
    with pytest.raises(ValueError, match=r"duty 0\.0"):
        loss_density(FERRITE, 1e5, 0.1, 0.0)


@pytest.mark.parametrize("row", published("thermal resistance of a core"), ids=str)
def test_thermal_resistance(row: Row) -> None:
    known = row.inputs
    core = Core("a core", known["area"], known["path"], 1e-4, 5e-2)
    assert thermal_resistance(core) == row.expected_within_its_tolerance
    assert thermal_resistance(replace(core, thermal_resistance=17.0)) == 17.0


def test_values_that_cannot_be() -> None:
    with pytest.raises(ValueError, match=r"flux 0\.0: wanted is a value above 0"):
        turns_for_flux(1e-3, 1.0, 0.0, 1e-4)
    with pytest.raises(ValueError, match="density nan"):
        needed_area_product(1e-3, 1.0, 1.0, 0.2, math.nan, 0.4)
    with pytest.raises(ValueError, match=r"fill -1\.0"):
        needed_geometrical_constant(RESISTIVITY, 1e-3, 1.0, 0.2, 0.1, -1.0)
