"""Switching parts cycle by cycle: traced equations and events against the plain ones."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from engine.lone import Variant, board_of, name_of, random_lanes, random_unknowns, variants
from numpy.typing import NDArray

from railwright.devices import kinds
from railwright.engine import reference
from railwright.engine.expression import gradient
from railwright.engine.model import Model, Name
from railwright.engine.system import slope_matrices, trace

Array = NDArray[np.float64]
LANES = 203
SWITCHING = [v for v in variants() if kinds()[v[0]].switched_unknowns is not None]
EVENTS = {"stepped-load": 1, "logic-load": 3, "brick": 0, "brick hiccup": 3, "fuse": 1}
"""How many a part states that is no regulator; those state more."""


def drawn(variant: Variant, on: float) -> tuple[Model, Array, dict[Name, Array]]:
    """A lone part, cycle by cycle, with random unknowns and parameters; its switch on or off."""
    board, rng = board_of(variant), np.random.default_rng(8)
    model = Model(replace(board.topology, isothermal=True, switched=True), board.nominal)
    lanes = random_lanes(board, rng, LANES)
    lanes |= {("X", "on"): on, ("X", "tick"): 0.0, ("X", "due"): 1e-5, ("", "time"): 4e-6}
    names = trace(model.topology).parameters
    known = model.parameters(names, lanes)
    rows = {name: np.broadcast_to(known[name], (LANES,)) for name in names}
    return model, random_unknowns(model, rng, LANES), rows


def test_there_are_some() -> None:
    assert len(SWITCHING) >= 4


@pytest.mark.parametrize("on", [0.0, 1.0])
@pytest.mark.parametrize("variant", SWITCHING, ids=name_of)
def test_traced_equations_are_the_plain_ones(variant: Variant, on: float) -> None:
    model, x, rows = drawn(variant, on)
    system = trace(model.topology)
    p = np.array([rows[name] for name in system.parameters])
    values, slopes = reference.linearised(model.topology, x, rows)
    found = np.array(system.graph.evaluate(system.residuals, x, p))
    assert found == pytest.approx(values, rel=1e-12, abs=1e-12)
    error = np.abs(slope_matrices(system, x, p) - slopes)
    assert (error / np.abs(slopes).max(axis=(0, 2), keepdims=True)).max() < 1e-6
    plain = reference.assemble(model.topology, x, rows).events
    assert len(plain) == len(system.events) >= EVENTS.get(name_of(variant), 4)
    for one, other in zip(plain, system.events, strict=True):
        (guard,) = system.graph.evaluate([other.guard], x, p)
        assert guard == pytest.approx(np.broadcast_to(one.guard, (LANES,)), rel=1e-12, abs=1e-12)
        assert one.changes.keys() == other.changes.keys()


@pytest.mark.parametrize("on", [0.0, 1.0])
@pytest.mark.parametrize("variant", SWITCHING, ids=name_of)
def test_no_state_of_the_switch_leaves_a_row_without_a_pivot(variant: Variant, on: float) -> None:
    """With the charges of a step of 10 ns every matrix can be solved."""
    model, x, rows = drawn(variant, on)
    _, slopes = reference.linearised(model.topology, x, rows)
    storage = stored_slopes(model, x, rows)
    whole = slopes + storage / 1e-8
    whole = whole / np.abs(whole).max(axis=2, keepdims=True)
    assert np.linalg.cond(whole).max() < 1e12


def stored_slopes(model: Model, x: Array, rows: dict[Name, Array]) -> Array:
    """Slopes (lane, row, column) of what is stored."""
    system = trace(model.topology)
    p = np.array([rows[name] for name in system.parameters])
    found = np.zeros((x.shape[1], x.shape[0], x.shape[0]))
    for row, amount in system.stored.items():
        for column, slope in gradient(amount).items():
            found[:, row, column] = system.graph.evaluate([slope], x, p)[0]
    return found
