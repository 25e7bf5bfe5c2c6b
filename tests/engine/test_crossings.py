"""Every passage through nil: between grid points, hidden behind peaks, to rounding."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import optimize

from railwright.engine.crossings import crossings

Array = NDArray[np.float64]
GRID = np.geomspace(1.0, 1e6, 121)


def found(*functions: Callable[[Array], Array]) -> tuple[list[int], Array, list[bool]]:
    """Passages of one function per lane."""

    def function(lane: NDArray[np.intp], frequencies: Array) -> Array:
        rows = [functions[i](f) for i, f in zip(lane, frequencies, strict=True)]
        return np.array(rows).reshape(frequencies.shape)

    values = np.array([each(GRID) for each in functions])
    lane, at, rising = crossings(values, GRID, function)
    return lane.tolist(), at, rising.tolist()


def test_one_in_each_lane_and_none() -> None:
    lane, at, rising = found(
        lambda f: np.log(f / 321.0), lambda f: -np.log(f / 4321.0), lambda f: 1.0 + 0.0 * f
    )
    assert lane == [0, 1]
    assert at == pytest.approx([321.0, 4321.0], rel=1e-13)
    assert rising == [True, False]


def test_many_against_scipy() -> None:
    def wave(f: Array) -> Array:
        return np.sin(2.0 * np.log(f)) + 0.3

    lane, at, rising = found(wave)
    fine = np.geomspace(1.0, 1e6, 100_001)
    changes = np.flatnonzero(np.diff(np.sign(wave(fine))))
    wanted = [optimize.brentq(wave, fine[i], fine[i + 1], rtol=1e-14) for i in changes]
    assert len(lane) == len(wanted) > 6
    assert at == pytest.approx(wanted, rel=1e-12)
    assert rising == [bool(i % 2) for i in range(len(wanted))]


@pytest.mark.parametrize("quality", [20.0, 1e3, 1e5])
@pytest.mark.parametrize("place", [1234.5, 998.0, 1010.0])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_peak_between_two_points_of_the_grid(quality: float, place: float, sign: float) -> None:
    def peak(f: Array) -> Array:
        u = f / place
        size = np.abs(1.0 - u * u + 1j * u / quality)
        return sign * np.log(4.0 / (quality * size))

    lane, at, rising = found(peak)
    assert lane == [0, 0]
    assert rising == [sign > 0, sign < 0]
    # Where |1 - u² + ju/Q|² = (4/Q)², a quadratic in u².
    half = 1.0 / quality**2 - 2.0
    roots = np.sqrt(np.roots([1.0, half, 1.0 - 16.0 / quality**2]))
    assert at == pytest.approx(np.sort(roots) * place, rel=1e-9)


def test_a_peak_that_stays_away_is_none() -> None:
    def peak(f: Array) -> Array:
        u = f / 1234.5
        return np.log(0.9 / (50.0 * np.abs(1.0 - u * u + 1j * u / 50.0)))

    assert found(peak)[0] == []


def test_what_is_flat_to_rounding_is_none() -> None:
    rng = np.random.default_rng(1)
    assert found(lambda f: 1e-3 + 1e-13 * rng.standard_normal(f.shape))[0] == []


def test_what_is_no_number_is_none() -> None:
    assert found(lambda f: np.full(f.shape, np.nan))[0] == []
