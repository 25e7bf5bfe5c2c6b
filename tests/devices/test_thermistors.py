"""Thermistors: published tables, the beta equation, and how they warm themselves."""

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.samples import typical_values
from devices.solving import Part, resistor, solved, source
from devices.terms import LonePart
from published import Row, published

from railwright.devices import kinds

ENDS = {"one": "A", "two": "GND"}
SENSOR, INRUSH = "NTC 10 kΩ 3977 K", "NTC inrush 5 Ω 5 A"
FUSE = "PTC resettable fuse 0.5 A 60 V"
ZERO = 273.15


def resistance(kind: str, name: str, kelvin: object, **values: float) -> np.ndarray:
    """Resistance of a body held at a temperature [K]."""
    at = {"one": 1e-3, "two": 0.0, "case": kelvin, "junction": kelvin}
    part = LonePart(kinds()[kind], {**typical_values(kind, name), **values}, at).run()
    return np.asarray(part.observed["resistance"])


@pytest.mark.parametrize("row", published("resistance of an NTC thermistor"), ids=str)
def test_published_tables_of_the_usual_sensor(row: Row) -> None:
    kelvin = ZERO + row.inputs["temperature"]
    assert float(resistance("ntc-thermistor", SENSOR, kelvin)) == row.expected_within_its_tolerance


def test_its_inverse_is_the_equation_of_steinhart_and_hart() -> None:
    """A 1.12924e-3, B 2.34108e-4, C 0.87755e-7: the coefficients published for this sensor."""
    kelvins = np.linspace(220.0, 420.0, 41)
    log = np.log(resistance("ntc-thermistor", SENSOR, kelvins))
    found = 1.0 / (1.12924e-3 + 2.34108e-4 * log + 0.87755e-7 * log**3)
    assert found == pytest.approx(kelvins, abs=0.02)


def test_without_a_cubic_it_is_the_beta_equation_between_any_two_points() -> None:
    """B = ln(R1/R2) / (1/T1 - 1/T2), IEC 60539-1 (from memory)."""
    kelvins = np.array([253.15, 298.15, 313.15, 358.15, 398.15])
    ohms = resistance("ntc-thermistor", INRUSH, kelvins)
    beta = np.log(ohms[1:] / ohms[:-1]) / (1.0 / kelvins[1:] - 1.0 / kelvins[:-1])
    assert beta == pytest.approx(3000.0, rel=1e-6)
    assert ohms[1] == pytest.approx(5.0, rel=1e-6)


def test_beta_holds_between_25_and_85_degrees_with_a_cubic_too() -> None:
    kelvins = np.array([298.15, 358.15])
    for cubic in (0.0, 8.8e-8, 2e-7):
        cold, warm = resistance("ntc-thermistor", SENSOR, kelvins, cubic=cubic)
        beta = np.log(cold / warm) / (1.0 / kelvins[0] - 1.0 / kelvins[1])
        assert beta == pytest.approx(3977.0, rel=1e-6)


def test_a_sensor_warms_itself_by_its_dissipation_factor() -> None:
    """1.0 mW at 2.2 mW/K: half a kelvin, which the resistance shows as well."""
    part = Part("RT", "ntc-thermistor", ENDS, name=SENSOR)
    found = solved([source("V", "IN"), resistor("R", "IN", "A", 1e4), part], V_voltage=6.325)
    rise = found["RT.junction"] - 298.15
    assert rise == pytest.approx(found["RT.power"] * 450.0, rel=1e-6)
    assert found["RT.power"] == pytest.approx(1e-3, rel=0.01)
    fall = np.exp(3890.0 * (1.0 / found["RT.junction"] - 1.0 / 298.15))  # 3890 K: beta near 25 °C
    assert found["RT.resistance"] == pytest.approx(1e4 * fall, rel=1e-3)


def test_an_inrush_limiter_falls_to_a_small_part_under_its_current() -> None:
    """What it takes is what leaves it: I^2 R(T) = (T - Ta)/Rth, solved here by bisection."""
    board = Board().source("V", "A", 20.0, resistance=1e-3, current_limit=3.0)
    points = board.use("RT", INRUSH, {"one": "A", "two": GROUND}).solve()
    low, high = 298.15, 600.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        ohms = 5.0 * np.exp(3000.0 * (1.0 / middle - 1.0 / 298.15))
        low, high = (middle, high) if 9.0 * ohms > (middle - 298.15) / 55.0 else (low, middle)
    assert points.of("RT", "junction")[0] == pytest.approx(low, abs=0.1)
    assert points.of("RT", "resistance")[0] < 0.5


def test_it_takes_the_temperature_of_what_it_is_fixed_to() -> None:
    hot = Part("H", "heat-sink", {"face": "TAB", "air": "AMBIENT"}, {"resistance": 4.0})
    heater = Part("Q", "diode", {"anode": "P", "cathode": "GND", "case": "TAB"}, name="1N5822")
    sensor = Part("RT", "ntc-thermistor", {**ENDS, "case": "TAB"}, name=SENSOR)
    parts = [source("W", "P", limit=2.0), heater, hot]
    parts += [source("V", "IN"), resistor("R", "IN", "A", 1e6), sensor]
    found = solved(parts, W_voltage=5.0, V_voltage=1.0)
    assert found["RT.junction"] == pytest.approx(found["TAB"], abs=0.01)
    assert found["TAB"] > 300.0


def test_a_resettable_fuse_has_doubled_at_its_switching_temperature_and_rises_by_its_share() -> (
    None
):
    """The definition of the switching temperature in IEC 60738-1 (from memory)."""
    kelvins = np.array([298.15, 383.15, 403.15, 407.15])
    ohms = resistance("ptc-thermistor", FUSE, kelvins, hot_resistance=1e9)
    assert ohms[:2] == pytest.approx(0.65 * np.array([1.0, 2.0]), rel=1e-6)
    assert np.log(ohms[3] / ohms[2]) == pytest.approx(4.0 * 0.25, rel=0.01)
    assert resistance("ptc-thermistor", FUSE, 470.0) == pytest.approx(2e4, rel=1e-3)


def test_a_tripped_fuse_keeps_itself_hot_on_nearly_constant_power() -> None:
    """Published for such parts: the tripped power hardly depends on the voltage."""
    part = Part("F", "ptc-thermistor", ENDS, name=FUSE)
    parts = [source("V", "IN", limit=40.0), resistor("R", "IN", "A", 1.0), part]
    found = solved(parts, V_voltage=[12.0, 30.0, 60.0])
    assert found["F.power"] == pytest.approx(np.full(3, 0.77), rel=0.15)
    assert np.all(np.diff(found["F.current"]) < 0.0)


def test_a_fuse_holds_its_hold_current_and_trips_at_its_trip_current() -> None:
    part = Part("F", "ptc-thermistor", ENDS, name=FUSE)
    held = solved([source("V", "A", limit=0.5), part], V_voltage=20.0)
    assert held["F.resistance"] < 2.0 * 0.65
    tripped = solved([source("V", "A", limit=1.0), part], V_voltage=20.0)
    assert tripped["F.resistance"] > 50.0
