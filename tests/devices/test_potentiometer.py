"""Potentiometers: division, taper, contact, end stops, resolution and ratings."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from devices.samples import typical_values
from devices.solving import Part, solved, source
from devices.terms import LonePart

from railwright.catalogue.loader import load
from railwright.devices import kinds

TRACK = {"resistance": 1e4, "end_resistance": 1e-3, "travel": 270.0}
LOG = {"taper": "logarithmic"}


def lone(position: Any, taper: str = "linear", **values: float) -> LonePart:
    """With a volt from `one` to `two` and the wiper at nil."""
    at = {"one": 1.0, "wiper": 0.0, "two": 0.0}
    known = {**TRACK, **values, "position": position}
    return LonePart(kinds()["potentiometer"], known, at, {"taper": taper}).run()


def divided(position: Any, options: dict[str, str], **values: float) -> np.ndarray:
    """Voltage at an open wiper, as a share of that across the track, which is 1 V."""
    pins = {"one": "GND", "wiper": "W", "two": "IN"}
    part = Part("RV", "potentiometer", pins, {**TRACK, **values}, options)
    return np.asarray(solved([source("V", "IN"), part], V_voltage=1.0, RV_position=position)["W"])


def test_it_divides_and_keeps_its_end_resistance() -> None:
    track = {"resistance": 5e3, "end_resistance": 10.0, "travel": 270.0}
    pins = {"one": "GND", "wiper": "W", "two": "IN"}
    found = solved(
        [source("V", "IN"), Part("RV", "potentiometer", pins, track)],
        V_voltage=5.0,
        RV_position=[-1.0, 0.0, 0.25, 1.0, 2.0],
    )
    whole = 5e3 + 2 * 10.0
    expected = 5.0 * np.array([10.0, 10.0, 1260.0, 5010.0, 5010.0]) / whole
    assert found["W"] == pytest.approx(expected, rel=1e-4, abs=1e-3)


def test_power_counts_for_the_whole_track() -> None:
    """0.2 W on 2 kΩ allow 10 mA, at any setting (IEC 60393-1, from memory)."""
    track = {"resistance": 2e3, "end_resistance": 1e-3, "travel": 270.0}
    at = {"one": 1.0, "wiper": 0.0, "two": 0.0}
    part = LonePart(kinds()["potentiometer"], {**track, "position": 0.05}, at).run()
    assert part.observed["power"] == pytest.approx(0.01, rel=1e-3)
    assert part.observed["track_power"] == pytest.approx(0.01**2 * 2e3, rel=1e-3)


@pytest.mark.parametrize("halfway", [0.1, 0.15, 0.5, 0.85])
def test_a_logarithmic_track_has_two_straight_halves(halfway: float) -> None:
    """Two-slope law: straight from nil to `halfway` and on to the end; its bend is 4 % wide."""
    position = np.array([0.1, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9])
    straight = np.interp(position, [0.0, 0.5, 1.0], [0.0, halfway, 1.0])
    found = divided(position, LOG, halfway=halfway)
    assert found == pytest.approx(straight, abs=0.01)
    assert found[3] == pytest.approx(halfway, rel=1e-4)


def test_its_law_has_a_continuous_slope_and_both_ends() -> None:
    """Second differences of a fine walk stay those of a bend, not of a corner."""
    position = np.linspace(0.0, 1.0, 2001)
    share = divided(position, LOG, halfway=0.15)
    assert share[[0, -1]] == pytest.approx([0.0, 1.0], abs=1e-5)
    slopes = np.diff(share)[2:-2] * 2000
    assert np.all(slopes > 0.0)
    assert np.abs(np.diff(slopes)).max() < 1.5 * (slopes.max() - slopes.min()) / (0.04 * 2000)


def test_step_is_the_resolution_times_the_slope_of_the_law() -> None:
    position, way = np.array([0.2, 0.5, 0.8]), 1e-5
    values = {"halfway": 0.15, "resolution": 0.004}
    ahead, behind = (
        np.asarray(divided(position + s * way, LOG, halfway=0.15)) for s in (1.0, -1.0)
    )
    slope = (ahead - behind) / (2 * way)
    found = lone(position, "logarithmic", **values).observed["step"]
    assert found == pytest.approx(0.004 * 1e4 * slope, rel=1e-3)
    assert lone(0.3, resolution=0.004).observed["step"] == pytest.approx(40.0)


def test_conformity_bends_the_law_and_leaves_its_ends() -> None:
    """IEC 60393-1 (from memory): the greatest deviation from the law, of the whole voltage."""
    position = np.linspace(0.0, 1.0, 101)
    bent = divided(position, {}, conformity=0.02) - divided(position, {})
    assert np.abs(bent).max() == pytest.approx(0.02, rel=1e-3)
    assert bent[[0, -1]] == pytest.approx(0.0, abs=1e-6)


def test_the_contact_lies_between_track_and_wiper() -> None:
    """Solved a second time with the contact as a resistor of its own, loaded and as a rheostat."""
    track = {**TRACK, "position": 0.3}
    for two in ("B", "W"):  # the far end on a net of its own, or joined to the wiper
        ends = {"one": "A", "two": two}
        boards = (Board(), Board())
        for board, tap, ohms in zip(boards, ("W", "T"), (250.0, 0.0), strict=True):
            board.source("V", "A", 5.0).resistor("RL", "W", GROUND, 2e3)
            board.resistor("RB", "B", GROUND, 500.0)
            values = {**track, "contact_resistance": ohms}
            board.part("RV", "potentiometer", {**ends, "wiper": tap}, **values)
        boards[1].resistor("RC", "T", "W", 250.0)
        inside, outside = (board.solve() for board in boards)
        for net in ("W", "B"):
            assert inside.potential(net) == pytest.approx(outside.potential(net), rel=1e-6)
        for name in ("track_power", "wiper_current") if two == "B" else ():
            assert inside.of("RV", name) == pytest.approx(outside.of("RV", name), rel=1e-6)


def test_noise_at_the_wiper_is_that_of_all_it_is_made_of() -> None:
    """Nyquist: whatever the star, 4 k T times the conductance from wiper to the grounded rest."""
    part = lone(0.25, contact_resistance=300.0)
    found = sum(density for ends, density, _ in part.noises if "wiper" in ends)
    seen = 300.0 + 1.0 / (1.0 / 2500.0 + 1.0 / 7500.0)
    assert found == pytest.approx(4 * 1.380649e-23 * 298.15 / seen, rel=1e-3)


def test_a_lifted_wiper_of_a_rheostat_leaves_the_track() -> None:
    """Joined to the far end it never opens the path: common practice, no source."""
    board = Board().source("V", "A", 5.0).resistor("RL", "B", GROUND, 1e3)
    board.part("RV", "potentiometer", {"one": "A", "wiper": "W", "two": "B"}, position=0.2)
    board.resistor("J", "W", "B", 1e-3)
    found = board.solve({("J", "resistance"): np.array([1e-3, 1e9])}, 2)
    assert found.potential("B") == pytest.approx([2.5, 5.0 / 6.0], rel=1e-3)


LINEAR = [
    e for e in load().values() if e.kind == "potentiometer" and e.options["taper"] == "linear"
]


@pytest.mark.parametrize("name", [entry.name for entry in LINEAR])
def test_a_tenth_of_the_track_takes_a_tenth_of_the_rated_power(name: str) -> None:
    """At the current of the rated power of the whole: IEC 60393-1 (from memory)."""
    known = typical_values("potentiometer", name)
    most = np.sqrt(known["rated_power"] / known["resistance"])
    tenth = 0.1 * known["resistance"] + known["end_resistance"] + known["contact_resistance"]
    at = {"one": most * tenth, "wiper": 0.0, "two": 0.0}
    values = {**known, "position": 0.1, "conformity": 0.0}
    part = LonePart(kinds()["potentiometer"], values, at).run()
    assert part.observed["track_power"] == pytest.approx(known["rated_power"], rel=0.05)
    allowed = 0.1 + (known["end_resistance"] + known["contact_resistance"]) / known["resistance"]
    assert part.observed["power"] == pytest.approx(allowed * known["rated_power"], rel=0.05)
