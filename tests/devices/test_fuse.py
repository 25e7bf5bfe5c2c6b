"""Fuses in time: when they open, by the gates of the standard's sheets and by the closed form."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
import pytest
from circuits import GROUND, Board
from numpy.typing import NDArray
from published import Row, published

from railwright.catalogue.loader import load
from railwright.devices.fuse import BLOWN
from railwright.engine.model import Model
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Tolerance, transient
from railwright.engine.waveforms import Waveforms
from railwright.standards import iec60127

Array = NDArray[np.float64]
VOLTS = 20.0
NAMES = {3: "fuse T {} A", 2: "fuse F {} A", 5: "fuse T {} A H"}
MULTIPLES = (1.5, 2.1, 2.75, 4.0, 10.0)
TIMES = np.concatenate([[0.0], np.geomspace(1e-4, 3600.0, 1200)])
GRID = (TIMES[2] / TIMES[1]) ** 1.5
"""How much later than it happened an opening is seen, with the rounding of a resistance."""


def in_series(name: str, **values: float) -> Board:
    """A source, which is to be switched on, the fuse, and a resistance that sets the current."""
    board = Board().source("V", "A", 0.0, resistance=1e-6, current_limit=1e4)
    board.use("F", name, {"one": "A", "two": "B"}, **values)
    return board.resistor("R", "B", GROUND, 1.0)


def course(
    board: Board, amperes: Array, lanes: Mapping[str, Array], times: Array = TIMES
) -> Waveforms:
    """Its course after 20 V come on, with so much current in each lane."""
    model = Model(replace(board.topology, isothermal=True, switched=True), board.nominal)
    on = {("V", "voltage"): PiecewiseLinear(np.zeros(2), np.array([0.0, VOLTS]))}
    own = {("F", name): row for name, row in lanes.items()}
    own["R", "resistance"] = VOLTS / amperes - board.nominal["F", "resistance"]
    found = transient(model, own, amperes.size, times, stimuli=on, tolerance=Tolerance(1e-6, 1e-8))
    assert found.solved.all()
    return found


def opened(name: str, amperes: Array, **lanes: Array) -> Array:
    """When it opens in each lane [s]; inf where it is whole after an hour."""
    blown = course(in_series(name), amperes, lanes).of("F", "blown")
    times = TIMES[np.argmax(blown > 0.5, axis=-1)]
    return np.where(blown[:, -1] > 0.5, times, np.inf)


@cache
def openings(sheet: int, rated: float) -> Mapping[float, Array]:
    """Opening times of every corner of a catalogue part's spread, by multiple of the rating [s]."""
    name = NAMES[sheet].format(f"{rated:g}")
    known = load()[name].values
    corners = [
        (multiple, current, integral)
        for multiple, current, integral in product(
            MULTIPLES,
            (known["melting_current"].spread.low, known["melting_current"].spread.high),
            (known["melting_integral"].spread.low, known["melting_integral"].spread.high),
        )
    ]
    multiple, current, integral = np.array(corners).T
    found = opened(name, multiple * rated, melting_current=current, melting_integral=integral)
    return {at: found[multiple == at] for at in MULTIPLES}


SOLD = [
    row
    for row in published("opening time of a fuse")
    if NAMES[row.inputs["sheet"]].format(f"{row.inputs['rated']:g}") in load()
]


def test_gates_of_three_sheets_are_looked_at() -> None:
    assert len(SOLD) >= 20
    assert {row.inputs["sheet"] for row in SOLD} == {2, 3, 5}


@pytest.mark.parametrize("row", SOLD, ids=str)
def test_every_piece_opens_between_the_gates_of_its_sheet(row: Row) -> None:
    """IEC 60127-2 as printed in datasheets; the source stands in the row."""
    times = openings(row.inputs["sheet"], row.inputs["rated"])[row.inputs["multiple"]]
    if row.inputs["end"] == "least":
        assert times.min() >= row.expected
    else:
        assert times.max() <= row.expected * GRID


@pytest.mark.parametrize("sheet", NAMES)
def test_every_fuse_of_the_catalogue_is_within_its_sheet(sheet: int) -> None:
    """The closed form, which the course is held to below, at the corners of each spread."""
    head, tail = NAMES[sheet].split("{}")
    names = [n for n in load() if n.startswith(head) and n.endswith(tail)]
    for name in names:
        values = load()[name].values
        rated = values["rated_current"].spread.typical
        assert values["breaking_capacity"].spread.typical == iec60127.breaking_capacity(
            sheet, rated
        )
        sheets = iec60127.SHEETS[sheet].limits.items()
        for multiple, window in next(gates for most, gates in sheets if rated <= most).items():
            currents, integrals = (
                values["melting_current"].spread,
                values["melting_integral"].spread,
            )
            for current, integral in product(
                (currents.low, currents.high), (integrals.low, integrals.high)
            ):
                time = closed_form(multiple * rated, current, integral)
                assert window.least <= time <= window.greatest, (name, multiple)


def closed_form(amperes: float, melting: float, integral: float) -> float:
    """-tau ln(1 - (Im/i)²) with tau = integral / Im²; inf where it never melts [s]."""
    share = (melting / amperes) ** 2
    return np.inf if share >= 1.0 else float(-integral / melting**2 * np.log1p(-share))


def test_it_opens_when_the_closed_form_says_so() -> None:
    multiples = np.array([1.7, 1.9, 2.5, 4.0, 10.0, 40.0])
    known = load()["fuse T 2 A"].values
    melting = known["melting_current"].spread.typical
    integral = known["melting_integral"].spread.typical
    found = opened("fuse T 2 A", 2.0 * multiples)
    exact = np.array([closed_form(2.0 * m, melting, integral) for m in multiples])
    assert np.isinf(found[0])
    assert np.all(found[1:] >= exact[1:] * 0.999)
    assert np.all(found[1:] <= exact[1:] * GRID)


def test_of_a_short_surge_only_the_integral_counts() -> None:
    """Adiabatic: half the integral in any shape leaves it whole, twice of it does not."""
    board = in_series("fuse F 1 A")
    integral = load()["fuse F 1 A"].values["melting_integral"].spread.typical
    shares = np.array([0.5, 0.9, 1.1, 2.0])
    peak = np.sqrt(3.0 * shares * integral / 2e-3)  # a triangle of 2 ms: i² t = peak² t / 3
    shape = PiecewiseLinear(np.array([0.0, 1e-3, 2e-3]), np.array([0.0, VOLTS, 0.0]))
    model = Model(replace(board.topology, isothermal=True, switched=True), board.nominal)
    ohms = VOLTS / peak - board.nominal["F", "resistance"]
    found = transient(
        model,
        {("R", "resistance"): ohms},
        4,
        np.linspace(0.0, 5e-3, 101),
        stimuli={("V", "voltage"): shape},
        tolerance=Tolerance(1e-6, 1e-8),
    )
    assert found.of("F", "blown")[:, -1] == pytest.approx([0.0, 0.0, 1.0, 1.0])


def test_blown_it_insulates_and_stays_so_and_tells_what_it_could_not_break() -> None:
    board = in_series("fuse T 2 A")
    found = course(board, np.array([20.0, 60.0]), {})
    assert found.of("F", "current")[:, -1] == pytest.approx(VOLTS * BLOWN, rel=1e-3)
    assert found.of("F", "overstrained")[:, -1] == pytest.approx([0.0, 1.0])


def test_an_operating_point_has_it_whole_at_any_current() -> None:
    board = in_series("fuse T 2 A")
    ohms = np.array([10.0, 0.1])
    found = board.solve({("V", "voltage"): VOLTS, ("R", "resistance"): ohms}, 2)
    exact = VOLTS / (ohms + board.nominal["F", "resistance"])
    assert found.of("F", "current") == pytest.approx(exact, rel=1e-4)
    assert found.of("F", "blown") == pytest.approx([0.0, 0.0])
