"""Fans: published points, the laws of fans, a start, and what their air does to a sink."""

from __future__ import annotations

import numpy as np
import pytest
from devices.moving import Moving
from devices.samples import typical_values
from devices.solving import Part, Solution, resistor, solved, source
from devices.terms import LonePart
from published import Row, published
from scipy.optimize import brentq

from railwright.catalogue.loader import load
from railwright.devices import kinds
from railwright.standards.forced_convection import plate_resistance

FAST = "fan 40 mm 12 V, fast"
PINS = {"plus": "A", "minus": "GND"}


def fed(volts: object, name: str = FAST, **values: float) -> Solution:
    return solved([source("V", "A"), Part("M", "fan", PINS, values, name=name)], V_voltage=volts)


@pytest.mark.parametrize("name", [n for n, e in load().items() if e.kind == "fan"])
def test_stated_point(name: str) -> None:
    known = typical_values("fan", name)
    found = fed(known["rated_voltage"], name)
    assert found["M.current"] == pytest.approx(known["rated_current"], rel=5e-3)
    assert found["M.speed"] == pytest.approx(known["rated_speed"], rel=5e-3)


@pytest.mark.parametrize("row", published("current of a fan"), ids=str)
def test_published_currents(row: Row) -> None:
    assert fed(row.inputs["voltage"])["M.current"][0] == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("speed of a fan"), ids=str)
def test_published_speeds(row: Row) -> None:
    assert fed(row.inputs["voltage"])["M.speed"][0] == row.expected_within_its_tolerance


def test_balance_of_torques_by_bisection() -> None:
    """v = R i + k w with i of 37 % dry friction and the rest by the square of the speed."""
    known = typical_values("fan", FAST)
    ohms = known["rated_voltage"] / known["locked_current"]
    back = known["rated_voltage"] - ohms * known["rated_current"]

    def taken(w: float) -> float:
        return float(known["rated_current"] * (0.37 + 0.63 * w * w))

    volts = np.array([7.5, 9.0, 11.0, 14.0])
    speeds = [brentq(lambda w, v=v: v - back * w - ohms * taken(w), 0.1, 2.0) for v in volts]
    found = fed(volts)
    assert found["M.speed"] / known["rated_speed"] == pytest.approx(speeds, rel=1e-3)
    assert found["M.current"] == pytest.approx([taken(w) for w in speeds], rel=1e-3)


def test_it_takes_nothing_below_its_start_and_backwards() -> None:
    found = fed([0.0, 3.0, 6.1])
    assert np.all(found["M.current"] < 1e-5)
    assert np.all(np.abs(found["M.speed"]) < 1e-3)
    turned = {"plus": "GND", "minus": "A"}
    back = solved([source("V", "A"), Part("M", "fan", turned, name=FAST)], V_voltage=12.0)
    assert abs(back["M.current"][0]) < 50e-6  # at most 50 µA (datasheet of the 40 mm fan)


def test_at_its_start_it_takes_the_current_of_a_locked_rotor() -> None:
    fan = Part("M", "fan", PINS, name=FAST)
    parts = [source("V", "IN"), resistor("R", "IN", "A", 0.1), fan]
    moving = Moving(parts, V_voltage=0.0)
    times = np.linspace(0.0, 3.0, 601)
    (net,) = moving.course(times, "A", V_voltage=lambda t: 12.0 * min(t / 0.02, 1.0))
    current = (12.0 - net[5:]) / 0.1
    assert current.max() == pytest.approx(1.3, rel=0.08)
    assert current[-1] == pytest.approx(0.2, rel=0.02)


def test_its_air_helps_a_sink_and_never_warms_one() -> None:
    """At rated speed its resistance lies beside that of the sink; half the speed brings 0.71."""
    device, known = kinds()["fan"], typical_values("fan", FAST)
    at = {"plus": 0.0, "minus": 0.0, "face": 340.0, "air": 300.0}
    heats = [LonePart(device, known, {**at, "speed": w}).run().flows["face"] for w in (0, 0.5, 1)]
    assert heats[0] == 0.0
    assert heats[2] == pytest.approx(40.0 / known["blown_resistance"], rel=1e-3)
    assert heats[1] / heats[2] == pytest.approx(0.5**0.5, rel=1e-3)
    cold = LonePart(device, known, {**at, "face": 290.0, "speed": 1.0}).run().flows
    assert cold["face"] == -cold["air"] < 0.0


@pytest.mark.parametrize(
    ("name", "speed"), [(FAST, 3.0), ("fan 40 mm 12 V", 1.3), ("fan 80 mm 12 V", 2.0)]
)
def test_what_rows_say_of_their_air(name: str, speed: float) -> None:
    stated = typical_values("fan", name)["blown_resistance"]
    assert stated == pytest.approx(plate_resistance(333.15, 303.15, 0.05, 0.02, speed), rel=0.04)
