"""A plate in a stream of air against a textbook example and the layer's own equation."""

import numpy as np
import pytest
from published import Row, published
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from railwright.standards.forced_convection import plate_convection, plate_resistance

ZERO = 273.15


@pytest.mark.parametrize("row", published("heat flux into a stream"), ids=str)
def test_textbook_example(row: Row) -> None:
    """Watts per metre of width of one face."""
    given = dict(row.inputs)
    surface, ambient = ZERO + given.pop("surface"), ZERO + given.pop("ambient")
    found = plate_convection(surface, ambient, **given)
    flux = found * given["length"] * (ambient - surface)
    assert flux == row.expected_within_its_tolerance


def test_the_constant_is_that_of_blasius() -> None:
    """f''' + f f''/2 = 0: the wall's slope is 0.332, twice of which is the mean's 0.664."""

    def end(slope: float) -> float:
        def layer(_: float, f: np.ndarray) -> list[float]:
            return [f[1], f[2], -0.5 * f[0] * f[2]]

        found = solve_ivp(layer, (0.0, 12.0), [0.0, 0.0, slope], rtol=1e-8, atol=1e-10)
        return float(found.y[1, -1]) - 1.0

    assert 2.0 * brentq(end, 0.2, 0.5) == pytest.approx(0.664, abs=5e-4)


def test_fourfold_speed_doubles_it() -> None:
    slow, fast = (plate_convection(333.15, 303.15, 0.05, v) for v in (1.0, 4.0))
    assert fast == pytest.approx(2.0 * slow)


@pytest.mark.parametrize(
    ("length", "area", "speed"), [(0.0, 1.0, 1.0), (0.1, 0.0, 1.0), (0.1, 1.0, 0.0), (1, 1, 100)]
)
def test_refuses(length: float, area: float, speed: float) -> None:
    with pytest.raises(ValueError, match=r"wanted is|wanted are"):
        plate_resistance(333.15, 303.15, length, area, speed)
