"""Systems without what an analysis does not look at."""

from collections.abc import Iterator

import numpy as np
import pytest
from circuits import Board
from engine.lone import Variant, board_of, name_of, random_lanes, random_unknowns, variants

from railwright.devices import kinds
from railwright.engine.model import MissingValue
from railwright.engine.operating_point import operating_point
from railwright.engine.reduction import at_rest, reduced
from railwright.engine.system import System, trace


def rc() -> Board:
    board = Board().source("V", "A", 5.0).resistor("R", "A", "B", 1e3)
    return board.part("C", "capacitor", {"plus": "B", "minus": "0"})


def test_what_only_a_storage_reads_is_not_asked_for() -> None:
    system = trace(rc().topology)
    assert ("C", "capacitance") in system.parameters
    assert ("C", "capacitance") not in at_rest(system).parameters
    assert ("C", "capacitance") in reduced(system, "storages").parameters


def test_a_missing_value_matters_to_those_who_read_it() -> None:
    board = rc()
    del board.nominal["C", "capacitance"]
    assert operating_point(board.model, {}, 1).potential("B")[0] == pytest.approx(5.0, rel=1e-3)
    with pytest.raises(MissingValue, match=r"part C \(capacitor\) has no capacitance"):
        board.model.parameters(trace(board.topology).parameters, {})


def values_of(system: System) -> Iterator[np.ndarray]:
    yield from (system.residuals, system.magnitudes, tuple(system.slopes.values()))
    yield tuple(system.observed.values())
    yield tuple(s.amount for s in system.storages)


@pytest.mark.parametrize("variant", variants(), ids=name_of)
def test_what_is_kept_is_the_same_to_the_last_bit(variant: Variant) -> None:
    board = board_of(variant)
    rng = np.random.default_rng(3)
    model, lanes = board.model, random_lanes(board, rng, 20)
    x = random_unknowns(model, rng, 20)
    whole = trace(board.topology)
    part = reduced(whole, "storages")
    assert set(part.parameters) <= set(whole.parameters)

    def numbers(system: System, roots: tuple) -> list[np.ndarray]:
        found = model.parameters(system.parameters, lanes)
        p = np.array([np.broadcast_to(found[name], (20,)) for name in system.parameters])
        return system.graph.evaluate(roots, x, p)

    for before, after in zip(values_of(whole), values_of(part), strict=True):
        assert len(before) == len(after)
        assert np.array_equal(numbers(whole, before), numbers(part, after), equal_nan=True)


@pytest.mark.parametrize("variant", variants(), ids=name_of)
def test_dynamic_values_do_not_matter_at_rest(variant: Variant) -> None:
    topology = board_of(variant).topology
    read = at_rest(trace(topology)).parameters
    device = kinds()[variant[0]]
    assert not {n for o, n in read if o == "X" and n in device.values and device.values[n].dynamic}
