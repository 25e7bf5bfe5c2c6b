"""Enclosures in the thermal chain of a supply, and what their rows say."""

from __future__ import annotations

import numpy as np
import pytest
from devices.samples import typical_values
from devices.solving import Part, solved, source
from devices.terms import LonePart
from scipy.optimize import brentq

from railwright.catalogue.loader import load
from railwright.devices import kinds
from railwright.standards.enclosure import effective_surface, vent_resistance, wall_resistance

NAMES = [n for n, e in load().items() if e.kind == "enclosure"]


def heat(rise: float, **values: float) -> float:
    known = {**typical_values("enclosure", "plastic case 200 x 150 x 75, vented"), **values}
    at = {"inside": 298.15 + rise, "air": 298.15}
    return float(LonePart(kinds()["enclosure"], known, at).run().flows["inside"])


@pytest.mark.parametrize("name", NAMES)
def test_rows_follow_from_their_sizes(name: str) -> None:
    material = name.split(" case")[0].replace("steel", "painted steel")
    width, depth, height = (
        float(word) * 1e-3 for word in name.removesuffix(", vented").split("case ")[1].split(" x ")
    )
    surface = effective_surface(height, width, depth)
    stated = typical_values("enclosure", name)["resistance"]
    assert stated == pytest.approx(wall_resistance(surface, material), rel=0.02)  # type: ignore[arg-type]


def test_vents_carry_the_heat_of_their_draught() -> None:
    """The second form: flow by the stack effect at each rise, in place of its root law."""
    for rise in (2.0, 10.0, 30.0):
        walls = rise / typical_values("enclosure", "plastic case 200 x 150 x 75")["resistance"]
        draught = rise / vent_resistance(10e-4, 0.06, 298.15, rise)
        assert heat(rise) - walls == pytest.approx(draught, rel=0.1)
    assert heat(-10.0) == -heat(10.0)


def test_a_sink_inside_is_hotter_by_the_rise_of_its_air() -> None:
    """Heat through sink and walls in series, found by bisection with the vents' root law."""
    name = "plastic case 200 x 150 x 75, vented"
    hot = Part("Q", "diode", {"anode": "P", "cathode": "GND", "case": "TAB"}, name="1N5822")
    sink = Part("H", "heat-sink", {"face": "TAB", "air": "INSIDE"}, {"resistance": 9.0})
    case = Part("E", "enclosure", {"inside": "INSIDE", "air": "AMBIENT"}, name=name)
    found = solved([source("V", "P", limit=3.0), hot, sink, case], V_voltage=5.0)
    watts = found["Q.power"][0]
    assert found["E.heat"] == pytest.approx(watts, rel=1e-6)
    rise = brentq(lambda kelvins: heat(kelvins) - watts, 0.0, 100.0)
    assert found["E.rise"] == pytest.approx(rise, rel=1e-4)
    assert found["TAB"] - 298.15 == pytest.approx(rise + 9.0 * watts, rel=1e-4)


def test_a_closed_one_is_straight() -> None:
    closed = [heat(k, vent_resistance=1e9) for k in (1.0, 10.0)]
    assert np.diff(closed)[0] == pytest.approx(9.0 * closed[0], rel=1e-6)
