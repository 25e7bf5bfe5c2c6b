"""Traced from the parts' values: the same equations, and derivatives by what parts are given."""

from __future__ import annotations

import numpy as np
import pytest
from engine.lone import Variant, board_of, name_of, random_lanes, random_unknowns, variants
from numpy.typing import NDArray

from railwright.engine.expression import Expression, partials
from railwright.engine.system import System, trace

Array = NDArray[np.float64]
LANES = 12


def names_of(system: System) -> set[str]:
    return {name for ref, name in system.parameters if ref == "X"}


@pytest.mark.parametrize("variant", variants(), ids=name_of)
def test_equations_are_the_same(variant: Variant) -> None:
    board = board_of(variant)
    rng = np.random.default_rng(3)
    lanes, x = random_lanes(board, rng, LANES), random_unknowns(board.model, rng, LANES)

    def values(system: System, roots: tuple[Expression, ...]) -> Array:
        found = board.model.parameters(system.parameters, lanes)
        p = np.array([np.broadcast_to(found[n], (LANES,)) for n in system.parameters])
        return np.array(system.graph.evaluate(roots, x, p))

    whole, plain = trace(board.topology, from_values=True), trace(board.topology)
    device = whole.topology.element["X"].device
    assert names_of(whole) <= {*device.values, *device.inputs, *device.holds}
    difference = values(whole, whole.residuals) - values(plain, plain.residuals)
    assert (np.abs(difference) / values(whole, whole.magnitudes)).max() < 1e-9


def test_slopes_by_values_go_through_what_is_computed_of_them() -> None:
    board = board_of(("resistor", {}, True))
    system = trace(board.topology, from_values=True)
    row = system.parameters.index(("X", "resistance"))
    place = system.topology.index["None", ""]
    slope = partials(system.residuals[place])["p", row]
    x = np.zeros((len(system.residuals), 1))
    x[place] = 6.0
    p = np.array([[1.0]] * len(system.parameters))
    p[row] = 2.0
    (found,) = system.graph.evaluate([slope], x, p)
    assert found[0] == pytest.approx(-6.0 / 4.0)
