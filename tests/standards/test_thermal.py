"""Heat-sink chain and plate against published cases."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from railwright.standards.thermal import (
    allowed_power,
    junction_temperature,
    needed_resistance,
    plate_convection,
    plate_resistance,
)


def test_sink_of_a_7805_type() -> None:
    # 12 V to 5 V at 1 A with 5 mA of its own; 78xx-type thermal data (TO-220 junction to case
    # 5 K/W), ambient 50 °C, junction 125 °C; 0.5 K/W from case to sink is assumed.
    power = (12 - 5) * 1.0 + 12 * 5e-3
    assert power == pytest.approx(7.06)
    sink = needed_resistance(125 + 273.15, 50 + 273.15, power, 5.0, 0.5)
    assert sink == pytest.approx(5.123, rel=1e-3)


def test_power_of_a_2n3055() -> None:
    # 2N3055 datasheets: 1.52 K/W, 200 °C; printed are 115 W at a case of 25 °C and a derating of
    # 0.657 W/K.
    def allowed(case: float) -> float:
        return allowed_power(200 + 273.15, case + 273.15, 1.52)

    assert allowed(25) == pytest.approx(115.13, rel=2e-3)
    assert allowed(25) - allowed(26) == pytest.approx(0.6579, rel=2e-3)
    assert allowed(250) == 0.0


def test_vertical_plate() -> None:
    # From memory: h = 1.42 (dT/L)^0.25; 0.1 m x 0.1 m, both sides, 40 K.
    assert plate_convection(40.0, 0.1) == pytest.approx(6.35, rel=1e-3)
    assert plate_resistance(40.0, 0.1, 0.02) == pytest.approx(7.873, rel=1e-3)


temperatures = st.floats(250, 350)
resistances = st.floats(0.1, 20)


@given(temperatures, st.floats(0.1, 50), resistances, resistances, st.floats(1, 150))
def test_needed_sink_leads_back_to_the_junction(
    ambient: float, power: float, case: float, joint: float, rise: float
) -> None:
    sink = needed_resistance(ambient + rise, ambient, power, case, joint)
    junction = junction_temperature(ambient, power, case, joint, sink)
    assert junction == pytest.approx(ambient + rise, rel=1e-9)


@pytest.mark.parametrize("power", [0.0, -1.0, float("nan")])
def test_no_sink_is_needed_without_power(power: float) -> None:
    with pytest.raises(ValueError, match="wanted is a power above 0"):
        needed_resistance(400.0, 300.0, power, 5.0)
