"""Filament lamps: tungsten, radiation and inrush."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.samples import typical_values
from devices.terms import LonePart

from railwright.devices import kinds
from railwright.engine.model import Model
from railwright.engine.transient import Tolerance, transient

NAME = "lamp 12 V 21 W"
AIR = 298.15
VOLTS, WATTS, HOT, HEAT = (
    typical_values("lamp", NAME)[n]
    for n in ("rated_voltage", "rated_power", "filament", "filament_heat")
)


def at(kelvins: float, volts: float = 0.0) -> LonePart:
    place = {"one": volts, "two": 0.0, "rise": (kelvins - AIR) / HOT}
    return LonePart(kinds()["lamp"], typical_values("lamp", NAME), place).run()


def lit(volts: float, limit: float = 1e3) -> Board:
    board = Board().source("V", "A", volts, resistance=1e-6, current_limit=limit)
    return board.use("LA", NAME, {"one": "A", "two": GROUND})


@pytest.mark.parametrize(
    ("kelvins", "ratio"),
    [(500, 1.87), (1000, 4.41), (1500, 7.14), (2000, 10.03), (2500, 13.08), (3000, 16.29)],
)
def test_resistance_is_that_of_tungsten(kelvins: float, ratio: float) -> None:
    """Resistance over that at 300 K: Jones and Langmuir (1927), as in handbooks, from memory."""
    found = at(kelvins).observed["resistance"] / at(300.0).observed["resistance"]
    assert found == pytest.approx(ratio, rel=0.03)


def test_it_takes_its_rated_power_at_its_rated_voltage() -> None:
    points = lit(VOLTS).solve()
    assert points.of("LA", "power") == pytest.approx([WATTS], rel=1e-4)
    assert points.of("LA", "temperature") == pytest.approx([HOT], rel=1e-4)


def test_current_and_power_rise_with_the_voltage_as_lamps_are_rated_anew() -> None:
    """I ~ V^0.55, P ~ V^1.55, colour temperature ~ V^0.4: usual formulas of lamps, from memory."""
    points = lit(VOLTS).solve({("V", "voltage"): np.array([0.95, 1.05]) * VOLTS}, 2)
    for observable, power, tolerance in (
        ("current", 0.55, 0.03),
        ("power", 1.55, 0.03),
        ("temperature", 0.4, 0.03),
    ):
        low, high = points.of("LA", observable)
        found = np.log(high / low) / np.log(1.05 / 0.95)
        assert found == pytest.approx(power, abs=tolerance), observable


def test_loss_is_the_law_of_stefan_and_boltzmann() -> None:
    """At any voltage power over (T⁴ - Ta⁴) is the same."""
    volts = np.array([0.02, 0.3, 2.0, 6.0, 12.0])
    points = lit(VOLTS).solve({("V", "voltage"): volts}, volts.size)
    shares = points.of("LA", "power") / (points.of("LA", "temperature") ** 4 - AIR**4)
    assert shares == pytest.approx(np.full(5, shares[-1]), rel=2e-3)


def test_switched_on_cold_it_takes_the_inrush_and_loses_no_energy() -> None:
    """Vr over the cold resistance at first; energy in = heat stored + energy radiated."""
    board = lit(VOLTS)
    model = Model(replace(board.topology, isothermal=True), board.nominal)
    times = np.linspace(0.0, 1.0, 4001)
    course = transient(model, {}, 1, times, tolerance=Tolerance(1e-7, 1e-8))
    assert course.solved.all()
    current, kelvins = course.of("LA", "current")[0], course.of("LA", "temperature")[0]
    rated = WATTS / VOLTS
    assert current[0] / rated == pytest.approx((HOT / AIR) ** 1.213, rel=5e-3)
    assert current[0] / rated == pytest.approx(14.4, rel=0.03)  # ratio at 2700 K, same table
    assert current[-1] == pytest.approx(rated, rel=1e-3)
    assert np.all(np.diff(kelvins) > -1e-3)
    radiated = WATTS * (kelvins**4 - AIR**4) / (HOT**4 - AIR**4)
    taken = np.trapezoid(course.of("LA", "power")[0], times)
    stored = HEAT * (kelvins[-1] - kelvins[0])
    assert taken == pytest.approx(stored + np.trapezoid(radiated, times), rel=2e-3)


def test_a_source_that_limits_starts_it_slowly() -> None:
    points = lit(VOLTS, limit=2.0).solve()
    assert points.of("LA", "power") == pytest.approx([WATTS], rel=1e-3)


@pytest.mark.parametrize("name", ["lamp 12 V 5 W", NAME, "lamp 12 V 50 W halogen", "lamp 24 V 2 W"])
def test_the_heat_of_its_filament_is_that_of_the_wire_it_needs(name: str) -> None:
    """Area from the law of Stefan and Boltzmann, length over d² from the resistance."""
    lamp = typical_values("lamp", name)
    kelvins, watts = lamp["filament"], lamp["rated_power"]
    area = watts / (0.34 * 5.67e-8 * kelvins**4)
    resistivity = 5.65e-8 * (kelvins / 300.0) ** 1.213
    slimness = lamp["rated_voltage"] ** 2 / watts * np.pi / 4.0 / resistivity
    diameter = (area / np.pi / slimness) ** (1.0 / 3.0)
    mass = 19300.0 * area * diameter / 4.0
    assert lamp["filament_heat"] == pytest.approx(150.0 * mass, rel=0.05)
