"""Fixed resistors in warm air and for a moment. IEC 60115-1, from memory."""

import numpy as np
import pytest

from railwright.standards.iec60115 import UPPER, overload_voltage, power_ratio, rated_voltage


def test_full_to_70_degrees_and_nil_at_155() -> None:
    found = power_ratio(np.array([233.15, 343.15, 398.15, 428.15, 450.0]))
    assert found == pytest.approx([1.0, 1.0, 30.0 / 85.0, 0.0, 0.0])


def test_it_is_a_thermal_resistance() -> None:
    """Second form: its body is at the upper temperature, whatever the air beyond 70 °C."""
    kelvin = np.linspace(343.15, UPPER, 9)
    per_watt = (UPPER - 343.15) / 0.25
    assert kelvin + per_watt * 0.25 * power_ratio(kelvin) == pytest.approx(UPPER)


def test_beyond_the_critical_resistance_the_voltage_limits() -> None:
    """U² / P: 250 kΩ of a quarter watt and 250 V."""
    assert rated_voltage(0.25, 250e3, 250.0) == pytest.approx(250.0)
    assert rated_voltage(0.25, 249e3, 250.0) < 250.0 == rated_voltage(0.25, 1e6, 250.0)


def test_overload_takes_six_times_the_power_where_voltage_does_not_limit() -> None:
    assert overload_voltage(0.5, 100.0, 350.0) ** 2 / 100.0 == pytest.approx(6.25 * 0.5)
    assert overload_voltage(0.5, 1e6, 350.0) == 700.0


@pytest.mark.parametrize("wrong", [(0.0, 1.0, 1.0), (1.0, -1.0, 1.0), (1.0, 1.0, 0.0)])
def test_what_makes_no_sense_is_refused(wrong: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="wanted are all above 0"):
        rated_voltage(*wrong)
    with pytest.raises(ValueError, match=r"wanted is one above 343\.15 K"):
        power_ratio(300.0, upper=300.0)
