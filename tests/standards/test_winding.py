"""Skin and proximity effect against published values and a second form of the equations."""

import cmath
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import Row, published

from railwright.standards.winding import (
    copper_loss,
    layer_porosity,
    penetration,
    resistance_factor,
    skin_depth,
    triangle_harmonics,
)


@pytest.mark.parametrize("row", published("skin depth of copper"), ids=str)
def test_skin_depth(row: Row) -> None:
    found = skin_depth(row.inputs["frequency"], row.inputs["celsius"] + 273.15)
    assert found == row.expected_within_its_tolerance


def complex_form(thickness: float, layers: int) -> float:
    """The same by hyperbolic functions of a complex argument (Dowell 1966), a second form."""
    psi = (1 + 1j) * thickness
    own = psi * cmath.cosh(psi) / cmath.sinh(psi)
    of_others = psi * cmath.tanh(psi / 2)
    return (own + 2 / 3 * (layers**2 - 1) * of_others).real


@given(thickness=st.floats(1e-3, 20.0), layers=st.integers(1, 20))
def test_resistance_factor_in_a_second_form(thickness: float, layers: int) -> None:
    expected = complex_form(thickness, layers)
    assert resistance_factor(thickness, layers) == pytest.approx(expected, rel=2e-7)


@pytest.mark.parametrize("layers", [1, 3, 10])
def test_thick_layers(layers: int) -> None:
    # Erickson and Maksimovic, equation 10.69: a third of the thickness times 2 M² + 1.
    expected = 500.0 / 3 * (2 * layers**2 + 1)
    assert resistance_factor(500.0, layers) == pytest.approx(expected, rel=1e-12)


def test_no_skin_effect_at_no_frequency() -> None:
    assert resistance_factor(0.0, 7) == 1.0


def test_best_thickness_of_one_layer() -> None:
    # Erickson and Maksimovic, 10.4.6: the loss of a given current is least at pi / 2.
    thicknesses = np.linspace(0.5, 3.0, 2501)
    losses = [resistance_factor(t, 1) / t for t in thicknesses]
    assert thicknesses[np.argmin(losses)] == pytest.approx(math.pi / 2, abs=2e-3)


def test_round_wire_as_a_foil() -> None:
    # Erickson and Maksimovic, equations 10.71 to 10.74, turn by turn: square the wire, then thin
    # the foil's conductivity by the share of the layer that is copper.
    diameter, turns, width, depth = 0.5e-3, 16, 10e-3, 0.2e-3
    square = math.sqrt(math.pi / 4) * diameter
    porosity = square * turns / width
    assert layer_porosity(diameter, turns, width) == pytest.approx(porosity)
    expected = square / (depth / math.sqrt(porosity))
    assert penetration(diameter, porosity, depth) == pytest.approx(expected)


@given(duty=st.floats(0.05, 0.95))
def test_harmonics_against_the_spectrum_of_a_triangle(duty: float) -> None:
    # A second form: discrete Fourier transform of the sampled triangle.
    time = (np.arange(4096) + 0.5) / 4096
    wave = np.where(time < duty, time / duty, (1 - time) / (1 - duty))
    lines = np.abs(np.fft.rfft(wave))[1:11] / len(time) * math.sqrt(2)
    assert triangle_harmonics(1.0, duty)[:10] == pytest.approx(lines, abs=2e-5)


@given(duty=st.floats(0.05, 0.95), ripple=st.floats(0.01, 10.0))
def test_harmonics_hold_the_square_of_the_ripple(duty: float, ripple: float) -> None:
    square = sum(current**2 for current in triangle_harmonics(ripple, duty))
    assert square == pytest.approx(ripple**2 / 12, rel=1e-3)


def test_copper_loss() -> None:
    # Thin wire: the rms current squared times the resistance.
    thin = copper_loss(0.1, 3.0, 1.2, 0.4, 1e-3, 3)
    assert thin == pytest.approx(0.1 * (3.0**2 + 1.2**2 / 12), rel=1e-4)
    # Thick wire: the direct current keeps its loss, every harmonic has its own.
    harmonics = triangle_harmonics(1.2, 0.4)
    extra = sum(i**2 * complex_form(2.0 * math.sqrt(n), 3) for n, i in enumerate(harmonics, 1))
    assert copper_loss(0.1, 3.0, 1.2, 0.4, 2.0, 3) == pytest.approx(0.1 * (9.0 + extra))


def test_values_that_cannot_be() -> None:
    with pytest.raises(ValueError, match=r"0 layers of 1\.0 skin depths: wanted are 1 or more"):
        resistance_factor(1.0, 0)
    with pytest.raises(ValueError, match=r"frequency 0\.0 Hz"):
        skin_depth(0.0)
    with pytest.raises(ValueError, match=r"duty 1\.0"):
        triangle_harmonics(1.0, 1.0)
