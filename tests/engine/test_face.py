"""The engine by itself: a circuit, arrays of any shape, an analysis, results with names."""

from __future__ import annotations

import numpy as np
import pytest
from circuits import GROUND, Board

from railwright.engine import face as engine


def test_every_name_is_there() -> None:
    assert all(hasattr(engine, name) for name in engine.__all__)


def test_a_divider_over_a_grid() -> None:
    board = Board().source("V", "IN", 1.0, resistance=1e-6)
    board.resistor("R1", "IN", "OUT", 1e3).resistor("R2", "OUT", GROUND, 1e3)
    upper, volts = np.array([[1e3], [3e3]]), np.array([1.0, 5.0, 10.0])
    lanes, shape = engine.flattened({("R1", "resistance"): upper, ("V", "voltage"): volts})
    model = engine.Model(board.topology, board.nominal)
    points = engine.operating_point(model, lanes, 6)
    found = engine.shaped(points.potential("OUT"), shape)
    assert found == pytest.approx(volts * 1e3 / (upper + 1e3), rel=1e-6)


def test_single_faults_of_a_divider() -> None:
    """Open above, and its output bridged to ground."""
    board = Board().source("V", "IN", 1.0).resistor("R1", "IN", "OUT", 1e3)
    board.resistor("R2", "OUT", GROUND, 1e3)
    joints, bridges = [("R1", "one")], [("OUT", GROUND)]
    topology = engine.Topology.of(board.parts, GROUND, joints=joints, bridges=bridges)
    faults = engine.single_faults(topology)
    assert dict(faults) == {
        engine.joint_name("R1", "one"): engine.OPEN,
        engine.bridge_name(GROUND, "OUT"): engine.BRIDGED,
    }
    model = engine.Model(topology, board.nominal)
    points = engine.operating_point(model, engine.one_at_a_time(faults), 1 + len(faults))
    assert points.potential("OUT") == pytest.approx([0.5, 1e-6, 1e-4], rel=1e-3)


def test_shapes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match=r"R a \(2,\), R b \(3,\)"):
        engine.flattened({("R", "a"): [1.0, 2.0], ("R", "b"): [1.0, 2.0, 3.0]})
    with pytest.raises(ValueError, match="6 lanes does not have the shape"):
        engine.shaped(np.arange(6.0), (2, 2))
