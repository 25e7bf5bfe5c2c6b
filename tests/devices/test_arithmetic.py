"""The curves that device equations are made of."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from railwright.devices.arithmetic import (
    KNEE,
    ROOM,
    clipped,
    in_use,
    junction_curve,
    positive,
    saturation_current,
    step,
    thermal_voltage,
)
from railwright.engine.dual import Dual

numbers = st.floats(-1e4, 1e4)


def slope(curve, x: float) -> float:
    return float(np.asarray(curve(Dual(np.array(float(x)), {0: 1.0})).slopes[0]))


@given(saturation=st.floats(1e-16, 1e-5), slope_volts=st.floats(0.02, 0.06))
def test_junction_curve_has_no_corner_at_its_knee(saturation: float, slope_volts: float) -> None:
    knee = slope_volts * np.log(1.0 + KNEE / saturation)
    for which in (0, 1):

        def curve(s, which=which):
            return junction_curve(s, saturation, slope_volts)[which]

        before, after = slope(curve, knee - 1e-9), slope(curve, knee + 1e-9)
        assert before == pytest.approx(after, rel=1e-6)
        assert float(np.asarray(curve(knee - 1e-12))) == pytest.approx(
            float(np.asarray(curve(knee + 1e-12))), rel=1e-6
        )


@given(s=st.floats(-1e3, 1e3), saturation=st.floats(1e-16, 1e-5))
def test_junction_curve_obeys_the_exponential_law(s: float, saturation: float) -> None:
    voltage, current = (float(np.asarray(x)) for x in junction_curve(s, saturation, 0.0257))
    assert current == pytest.approx(saturation * np.expm1(voltage / 0.0257), rel=1e-6, abs=1e-18)


@given(x=numbers)
def test_rounded_corners_stay_within_a_corner_of_the_sharp_ones(x: float) -> None:
    assert abs(positive(x, 1e-3) - max(x, 0.0)) <= 0.5e-3 + 1e-12
    assert abs(clipped(x, -1.0, 2.0, 1e-3) - min(max(x, -1.0), 2.0)) <= 0.5e-3 + 1e-12
    assert positive(x, 1e-3) - positive(-x, 1e-3) == pytest.approx(x)


@pytest.mark.parametrize("x", [-1e4, -1e-9, 0.0])
def test_step_is_nil_below(x: float) -> None:
    assert float(step(x)) == 0.0


def test_step_has_no_corners() -> None:
    for place, expected in (
        (-1e-9, 0.0),
        (1e-9, 0.0),
        (0.5, 1.5),
        (1 - 1e-9, 0.0),
        (1 + 1e-9, 0.0),
    ):
        assert slope(step, place) == pytest.approx(expected, abs=1e-7)
    assert float(step(0.5)) == 0.5
    assert float(step(7.0)) == 1.0


@given(temperature=numbers)
def test_temperatures_are_kept_where_junctions_work(temperature: float) -> None:
    assert in_use(temperature) >= 100.0
    assert np.isfinite(saturation_current(1e-14, temperature, 1.0))
    if temperature > 200.0:
        assert in_use(temperature) == pytest.approx(temperature, abs=3e-5)


def test_thermal_voltage_at_room() -> None:
    """kT/q at 25 °C is 25.69 mV, from the exact constants of the SI."""
    assert thermal_voltage(ROOM) == pytest.approx(25.693e-3, rel=1e-4)


def test_silicon_saturation_current_doubles_in_five_kelvin() -> None:
    """n_i squared of silicon grows about 15 % per kelvin near 25 °C.

    Source: Sze, Physics of Semiconductor Devices; doubling every 5 K is the textbook rule.
    """
    ratio = saturation_current(1.0, ROOM + 5.0, 1.0)
    assert 1.9 < ratio < 2.3
