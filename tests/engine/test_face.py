"""The engine by itself: a circuit, arrays of any shape, an analysis, results with names."""

from __future__ import annotations

import numpy as np
import pytest
from circuits import GROUND, Board

from railwright.engine import face as engine


def test_every_name_is_there() -> None:
    assert all(callable(getattr(engine, name)) for name in engine.__all__)


def test_a_divider_over_a_grid() -> None:
    board = Board().source("V", "IN", 1.0, resistance=1e-6)
    board.resistor("R1", "IN", "OUT", 1e3).resistor("R2", "OUT", GROUND, 1e3)
    upper, volts = np.array([[1e3], [3e3]]), np.array([1.0, 5.0, 10.0])
    lanes, shape = engine.flattened({("R1", "resistance"): upper, ("V", "voltage"): volts})
    model = engine.Model(board.topology, board.nominal)
    points = engine.operating_point(model, lanes, 6)
    found = engine.shaped(points.potential("OUT"), shape)
    assert found == pytest.approx(volts * 1e3 / (upper + 1e3), rel=1e-6)


def test_shapes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match=r"R a \(2,\), R b \(3,\)"):
        engine.flattened({("R", "a"): [1.0, 2.0], ("R", "b"): [1.0, 2.0, 3.0]})
    with pytest.raises(ValueError, match="6 lanes does not have the shape"):
        engine.shaped(np.arange(6.0), (2, 2))
