"""Lanes that join their parts in ways of their own, against each rewired circuit by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from circuits import Board

from railwright.engine.patchboard import Moves, Patchboard

NETS = {
    ("R1", "one"): "IN",
    ("R1", "two"): "BASE",
    ("D1", "anode"): "BASE",
    ("D1", "cathode"): "MID",
    ("R2", "one"): "MID",
    ("R2", "two"): "0",
    ("Q1", "base"): "BASE",
    ("Q1", "collector"): "IN",
    ("Q1", "emitter"): "OUT",
    ("R3", "one"): "OUT",
    ("R3", "two"): "0",
}
MOVES: tuple[Moves, ...] = (
    {},
    {("D1", "anode"): "MID", ("D1", "cathode"): "BASE"},
    {("D1", "cathode"): "0"},
    {("R2", "two"): "IN"},
    {("Q1", "base"): "MID"},
    {("Q1", "collector"): "BASE"},
    {("Q1", "collector"): "OUT", ("Q1", "emitter"): "IN"},
    {("R3", "one"): "MID"},
)
"""What a slip makes of an emitter follower behind a divider with a diode in it."""


def follower(moves: Moves) -> Board:
    nets = {**NETS, **moves}
    board = Board().source("VS", "IN", 12.0)
    for ref, ohms in (("R1", 4700.0), ("R2", 10000.0), ("R3", 220.0)):
        board = board.resistor(ref, nets[ref, "one"], nets[ref, "two"], ohms)
    for ref, kind in (("D1", "diode"), ("Q1", "bipolar-transistor")):
        board = board.part(ref, kind, {pin: net for (r, pin), net in nets.items() if r == ref})
    return board.load("IL", "OUT", 1e-3)


def test_every_lane_is_its_own_circuit() -> None:
    board = follower({})
    found = Patchboard(board.model).operating_points(MOVES, {})
    assert found.solved.all()
    for lane, moves in enumerate(MOVES):
        alone = follower(moves).solve()
        for net in ("BASE", "MID", "OUT"):
            assert found.potential(net)[lane] == pytest.approx(alone.potential(net)[0], abs=1e-6)
        for observable in ("power", "current"):
            expected = alone.of("Q1", observable)[0]
            assert found.of("Q1", observable)[lane] == pytest.approx(expected, abs=1e-8)


def test_values_differ_from_lane_to_lane() -> None:
    # By hand: R2 on 12 V instead of ground, nothing draws from MID but it.
    board = Board().source("VS", "IN", 12.0).resistor("R1", "IN", "OUT", 1e3)
    board = board.resistor("R2", "OUT", "0", 1e3)
    lanes = {("R1", "resistance"): np.array([1e3, 2e3, 2e3])}
    moves: list[Moves] = [{}, {}, {("R2", "two"): "IN"}]
    found = Patchboard(board.model).operating_points(moves, lanes)
    assert found.potential("OUT") == pytest.approx([6.0, 4.0, 12.0], rel=1e-6)
    assert found.of("R2", "voltage") == pytest.approx([6.0, 4.0, 0.0], abs=1e-5)


def test_lanes_of_a_start_that_are_not_solved_are_given_up() -> None:
    board = follower({})
    first = Patchboard(board.model).operating_points(MOVES[:2], {})
    solved = np.array([True, False])
    start = replace(first, solved=solved)
    again = Patchboard(board.model).operating_points(MOVES[:2], {}, start)
    assert again.solved.tolist() == solved.tolist()


def test_a_pin_that_is_on_no_net_cannot_be_moved() -> None:
    with pytest.raises(ValueError, match="R1 has no pin three on a net"):
        Patchboard(follower({}).model).operating_points([{("R1", "three"): "OUT"}], {})
