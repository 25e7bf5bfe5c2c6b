"""Four diodes as a bridge on the mains: published curves, and behind a transformer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from circuits import GROUND, Board
from published import Row, published

from railwright.engine.cycle import Cycle, cycle
from railwright.engine.transient import Tolerance, transient

PEAK, LOAD = 3e4, 3e4
"""V and Ω: beside so much the voltage of the diodes is next to nothing."""


def bridge(board: Board, one: str, other: str, name: str = "", **values: float) -> Board:
    """Four diodes from two alternating nets to P and ground."""
    ends = {"D1": (one, "P"), "D2": (other, "P"), "D3": (GROUND, one), "D4": (GROUND, other)}
    for ref, (anode, cathode) in ends.items():
        pins = {"anode": anode, "cathode": cathode}
        if name:
            board.use(ref, name, pins)
        else:
            board.part(ref, "diode", pins, **values)
    return board


def repeating(board: Board, lanes: Mapping[Any, Any], count: int = 1) -> Cycle:
    """The steady state at 50 Hz, from nothing."""
    model = replace(board.model, topology=replace(board.topology, isothermal=True))
    start = np.zeros((len(model.topology.unknowns), 1))
    sharp = Tolerance(1e-6, 1e-8)
    found = cycle(model, lanes, count, start, period=0.02, phases=4000, tolerance=sharp)
    assert found.solved.all(), found.outcomes
    return found


@cache
def point(series: float, capacity: float) -> Mapping[str, float]:
    """One point of the curves, in shares of the peak voltage and of the mean current.

    Likewise the effective ripple over the mean, the angles in degrees at which a diode begins and
    ceases to conduct, and the current into which it begins, over peak voltage by load.
    """
    board = Board().part("V", "mains-source", {"live": "A", "neutral": "B"}, frequency=50.0)
    own = {"resistance": series * LOAD, "voltage": PEAK / np.sqrt(2.0)}
    board.nominal |= {("V", name): value for name, value in own.items()}
    bridge(
        board, "A", "B", forward_voltage=0.6, test_current=1.0, series_resistance=1e-4, ideality=1.0
    )
    farads = capacity / (2.0 * np.pi * 50.0 * LOAD)
    ends = {"plus": "P", "minus": GROUND}
    board.part("C", "capacitor", ends, capacitance=farads, esr=1e-4, leakage=0.0)
    found = repeating(board.resistor("R", "P", GROUND, LOAD), {})
    volts = found.potential("P")[0, :-1]
    current = np.abs(found.unknown("V", "current")[0, :-1]) / (volts.mean() / LOAD)
    half = current[: current.size // 2]
    conducting = np.flatnonzero(half > 1e-3 * half.max()) * 180.0 / half.size
    return {
        "mean": volts.mean() / PEAK,
        "least": volts.min() / PEAK,
        "ripple": np.ptp(volts) / PEAK,
        "effective ripple": volts.std() / volts.mean(),
        "peak": current.max(),
        "effective": np.sqrt(np.mean(current**2)),
        "cut-in": conducting[0],
        "cut-out": conducting[-1],
        "turn-on": current.max() * volts.mean() / PEAK,
    }


@pytest.mark.parametrize("row", published("capacitor-input rectifier"), ids=str)
def test_published_curves(row: Row) -> None:
    found = point(row.inputs["series"], row.inputs["capacity"])
    assert found[row.inputs["of"]] == row.expected_within_its_tolerance


def transformed() -> Board:
    """Both secondaries of 15 V from A by B to C, not yet loaded."""
    pins = {"primary_start": "L", "primary_end": GROUND}
    pins |= {"secondary_start": "A", "secondary_end": "B", "second_start": "B", "second_end": "C"}
    board = Board().part("V", "mains-source", {"live": "L", "neutral": GROUND}, frequency=50.0)
    board.nominal |= {("V", "resistance"): 0.5, ("V", "voltage"): 230.0}
    return board.use("T", "mains transformer 230 V, 2 x 15 V, 30 VA", pins)


def loaded(board: Board, *loads: float) -> Cycle:
    """With 2200 µF and a load on P, for each current of it."""
    ends = {"plus": "P", "minus": GROUND}
    board.part("C", "capacitor", ends, capacitance=2200e-6, esr=0.03, leakage=0.0)
    currents = {("LD", "current"): np.array(loads)}
    return repeating(board.load("LD", "P"), currents, len(loads))


def effective(course: np.ndarray) -> float:
    return float(np.sqrt(np.mean(course[:-1] ** 2)))


@cache
def behind_a_bridge(load: float) -> Mapping[str, float]:
    """Ratings near the rated power, over what the published rules make them proportional to."""
    found = loaded(bridge(transformed(), "A", "C", "1N4007"), load, 0.0)
    unloaded = found.potential("P")[1].mean()
    crest = np.sqrt(2.0) * 2.0 * 230.0 / 13.3 * 0.993
    assert crest - 1.0 < unloaded < crest
    direct = found.potential("P")[0, :-1].mean() + 2.0  # what both diodes drop
    current = effective(found.unknown("T", "secondary")[0])
    volts = effective((found.potential("A") - found.potential("C"))[0])
    return {
        "current": current / load,
        "voltage": volts / direct,
        "power": volts * current / (direct * load),
    }


@pytest.mark.parametrize("row", published("rating of a transformer"), ids=str)
def test_a_transformer_is_loaded_by_more_than_the_mean(row: Row) -> None:
    found = behind_a_bridge(row.inputs["load"])
    assert found[row.inputs["of"]] == row.expected_within_its_tolerance


@pytest.mark.parametrize("row", published("rating of a transformer behind one diode"), ids=str)
def test_a_single_diode_loads_it_still_more(row: Row) -> None:
    board = transformed().resistor("RB", "B", GROUND, 1e-6).resistor("RC", "C", GROUND, 1e6)
    board.use("D", "1N4007", {"anode": "A", "cathode": "P"})
    load = row.inputs["load"]
    current = effective(loaded(board, load).unknown("T", "secondary")[0])
    assert current / load == row.expected_within_its_tolerance


def test_a_course_steps_over_no_pulse() -> None:
    """Half a second at 50 Hz, without a word about steps: each pulse lasts about a millisecond."""
    board = Board().part(
        "M", "mains-source", {"live": "A", "neutral": GROUND}, voltage=20.0, resistance=0.1
    )
    board.nominal |= {("M", "frequency"): 50.0, ("M", "voltage"): 20.0}
    board.part("D", "diode", {"anode": "A", "cathode": "P"}, forward_voltage=0.6)
    ends = {"plus": "P", "minus": GROUND}
    board.part("C", "capacitor", ends, capacitance=2e-2, esr=1e-3).resistor("R", "P", GROUND, 50.0)
    model = replace(board.model, topology=replace(board.topology, isothermal=True))
    times = np.linspace(0.0, 0.5, 5001)
    plain, fine = (
        transient(model, {}, 1, times, longest=longest).of("M", "current")[0, -1000:].mean()
        for longest in (None, 2e-5)
    )
    assert plain == pytest.approx(fine, rel=2e-3)
