"""Pins joined otherwise as lanes of compiled code, against the patchboard on plain numpy."""

from __future__ import annotations

import numpy as np
import pytest
from surveys.supplies import part, resistor, supply

from railwright.circuit.design import read_text
from railwright.engine.model import Model, chosen
from railwright.engine.operating_point import operating_point
from railwright.engine.patchboard import Moves, Patchboard
from railwright.surveys.crossbar import NOWHERE, Crossbar
from railwright.surveys.fault_modes import changed
from railwright.surveys.single_faults import value_before
from railwright.surveys.stages import Bench

TRANSISTOR = "collector = IN, base = BASE, emitter = OUT"
PARTS = (
    resistor("R1", "IN", "BASE", 10e3, "1 %")
    + resistor("R2", "BASE", "GND", 10e3, "1 %")
    + resistor("R3", "OUT", "GND", 1e3, "1 %")
    + part(
        "Q1", "bipolar-transistor", "collector = IN, base = BASE, emitter = OUT", 'use = "2N3904"'
    )
)
MOVES: list[Moves] = [
    {("Q1", "collector"): "OUT", ("Q1", "emitter"): "IN"},
    {("Q1", "base"): "OUT", ("Q1", "emitter"): "BASE"},
]
LOOSE: Moves = {("Q1", "base"): NOWHERE}


@pytest.fixture(scope="module")
def bench() -> Bench:
    design = read_text(supply(PARTS), "small.toml")
    refs = tuple(p.ref for p in design.circuit.parts)
    return Bench(design, refs, refs, ("OUT", "BASE"))


def solved(bench: Bench, moves: Moves) -> dict[str, float]:
    """Potentials with pins moved, of compiled code."""
    crossbar = Crossbar(bench.model, [*MOVES, LOOSE])
    model: Model = crossbar.model
    lanes = chosen(bench.lanes(bench.spread.typical[:, None]), np.zeros(1, np.intp))
    lanes |= changed(lambda name: value_before(model, lanes, name), [crossbar.changes(moves)], 1)
    at = operating_point(model, lanes, 1)
    assert at.solved.all()
    return {net: float(at.potential(net)[0]) for net in ("OUT", "BASE")}


@pytest.mark.parametrize("moves", MOVES)
def test_moved_pins_are_where_the_patchboard_has_them(bench: Bench, moves: Moves) -> None:
    lanes = bench.lanes(bench.spread.typical[:, None])
    at = Patchboard(bench.model).operating_points([moves], lanes)
    assert at.solved.all()
    for net, volts in solved(bench, moves).items():
        assert volts == pytest.approx(float(at.potential(net)[0]), abs=2e-3)


def test_a_loose_base_leaves_a_follower_off(bench: Bench) -> None:
    found = solved(bench, LOOSE)
    assert found["OUT"] == pytest.approx(0.0, abs=0.01)  # nothing flows into R3
    assert found["BASE"] == pytest.approx(5.0, rel=1e-3)  # 10 V halved (divider by hand)


def test_nothing_moved_is_the_circuit_as_it_is(bench: Bench) -> None:
    at = operating_point(bench.model, bench.lanes(bench.spread.typical[:, None]), 1)
    start = Crossbar(bench.model, MOVES).begun(at)
    again = operating_point(
        start.model, bench.lanes(bench.spread.typical[:, None]), 1, start, None, "once"
    )
    assert again.solved.all()
    assert float(again.potential("OUT")[0]) == pytest.approx(
        float(at.potential("OUT")[0]), abs=2e-3
    )
