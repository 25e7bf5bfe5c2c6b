"""Cables: the loop's resistance and inductance, and where their rows come from."""

from __future__ import annotations

import re

import numpy as np
import pytest
from devices.moving import Moving
from devices.samples import typical_values
from devices.solving import Part, resistor, solved, source

from railwright.catalogue.loader import load
from railwright.standards.iec60228 import greatest_resistance
from railwright.standards.wire import pair_inductance

NAME = "DC lead 0.75 mm² 1.5 m"
PINS = {"start_plus": "A", "start_minus": "GND", "end_plus": "P", "end_minus": "M"}
NAMES = [n for n, e in load().items() if e.kind == "cable"]


@pytest.mark.parametrize("name", NAMES)
def test_rows_follow_from_size_and_length(name: str) -> None:
    size, length = map(float, re.findall(r"([\d.]+) mm² ([\d.]+) m$", name)[0])
    values = load()[name].values
    most = 2.0 * length * greatest_resistance(size * 1e-6)
    assert values["loop_resistance"].spread.high == pytest.approx(most, rel=5e-3)
    # Within what insulation is usual: axes two to three diameters of the copper apart.
    bare = (4.0 * size * 1e-6 / np.pi) ** 0.5
    near, far = (pair_inductance(length, share * bare, bare) for share in (1.5, 3.0))
    assert near < values["loop_inductance"].spread.typical < far


def test_the_loop_drops_in_both_conductors() -> None:
    known = typical_values("cable", NAME)
    parts = [source("V", "A"), Part("W", "cable", PINS, name=NAME), resistor("R", "P", "M", 2.0)]
    found = solved(parts, V_voltage=12.0)
    amperes = found["A"] / (2.0 + known["loop_resistance"])
    assert found["W.current"] == pytest.approx(amperes, rel=1e-5)
    assert found["W.drop"] == pytest.approx(known["loop_resistance"] * amperes, rel=1e-5)
    assert found["M"] == pytest.approx(0.5 * known["loop_resistance"] * amperes, rel=1e-5)


def test_a_short_circuit_rises_by_its_loop() -> None:
    """i = V/R (1 - e^(-R t/L)): corner at R/(2 pi L)."""
    known = typical_values("cable", NAME)
    ends = {**PINS, "end_minus": "GND", "start_minus": "GND"}
    alone = {"capacitance": 0.0, "loop_inductance": known["loop_inductance"]}
    cable = Part("W", "cable", ends, alone, name=NAME)
    parts = [source("V", "A", resistance=1e-6), cable, resistor("R", "P", "GND", 1e-3)]
    moving = Moving(parts, V_voltage=0.1)
    # Its minus conductor lies between two grounds here: half of the loop is what is seen.
    ohms = 0.5 * known["loop_resistance"] + 1e-3
    corner = ohms / (np.pi * known["loop_inductance"])
    found = moving.response("V.voltage", "W.plus", [1.0, corner])
    assert found[1] / found[0] == pytest.approx(1.0 / (1.0 + 1.0j), rel=0.02)


def test_a_conductor_that_is_not_used_has_a_potential() -> None:
    parts = [source("V", "A"), Part("W", "cable", {**PINS, "start_minus": "X"}, name=NAME)]
    found = solved([*parts, resistor("R", "P", "GND", 10.0)], V_voltage=5.0)
    assert found["M"] == pytest.approx(found["P"], abs=1e-3)
