"""A sample of `benchmarks/random_circuits.py`: an answer is right, or there is none."""

from __future__ import annotations

import numpy as np
import pytest
from engine import random_circuits
from engine.random_circuits import Circuit, drawn, judged_course, judged_point, settled

from railwright.devices import kinds
from railwright.engine import operating_point

POINTS, COURSES, EVERY_KIND = range(5_000, 5_020), range(5_000, 5_006), range(6_000, 6_006)


@pytest.mark.parametrize("seed", POINTS)
def test_an_operating_point_solves_the_plain_equations(seed: int) -> None:
    assert judged_point(settled(seed)) not in ("WRONG", "not converged")


@pytest.mark.parametrize("seed", COURSES)
def test_a_course_is_that_of_another_integrator(seed: int) -> None:
    assert judged_course(settled(seed)) not in ("WRONG", "not converged")


@pytest.mark.parametrize("seed", EVERY_KIND)
def test_an_answer_is_right_whatever_parts_there_are(seed: int) -> None:
    circuit = drawn(seed)
    assert judged_point(circuit) != "WRONG"
    assert judged_course(circuit) != "WRONG"


def test_every_kind_can_be_drawn() -> None:
    parts = (part for seed in range(300) for part in drawn(seed).board.parts)
    found = {part.device.kind for part in parts if part.ref.startswith("X")}
    assert found == set(kinds())


def test_many_starts_find_what_no_way_from_an_easier_circuit_leads_to(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert judged_point(settled(23)) in ("agrees", "only ours", "another branch")
    monkeypatch.setattr(operating_point, "FEW", 0)
    assert judged_point(settled(23)) == "not converged"


def test_the_sample_is_of_many_kinds() -> None:
    found = {part.device.kind for seed in POINTS for part in settled(seed).board.parts}
    assert len(found) > 15


def test_a_wrong_operating_point_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    solve = random_circuits.operating_point

    def off(*arguments: object) -> object:
        points = solve(*arguments)
        moved = points.unknowns + 1e-3
        monkeypatch.setattr(type(points), "unknowns", property(lambda _: moved))
        return points

    monkeypatch.setattr(random_circuits, "operating_point", off)
    assert judged_point(settled(POINTS[0])) == "WRONG"


def test_a_wrong_course_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    ours = random_circuits._ours

    def late(circuit: Circuit, allowed: tuple[float, float]) -> object:
        found = ours(circuit, allowed)
        return None if found is None else np.roll(found, 3, axis=1)

    monkeypatch.setattr(random_circuits, "_ours", late)
    assert judged_course(settled(COURSES[0])) == "WRONG"
