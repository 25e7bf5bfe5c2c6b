"""Circuits whose end values others published, by SUNDIALS: are our test circuits theirs?"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest
from engine.by_sundials import Course, by_sundials
from engine.published_circuits import (
    Problem,
    charge_pump,
    nand_gate,
    ring_modulator,
    transistor_amplifier,
)
from published import Row, published

PROBLEMS: tuple[tuple[Callable[[], Problem], float, list[Row]], ...] = (
    (transistor_amplifier, 1e-7, published("transistor amplifier")),
    (ring_modulator, 1e-8, published("ring modulator")),
    (nand_gate, 1e-8, published("NAND gate")),
    (charge_pump, 1e-6, published("charge pump")),
)
"""With the error allowed per step, relative; a hundredth of it absolute."""


@cache
def course_of(make: Callable[[], Problem], allowed: float) -> Course:
    problem = make()
    return by_sundials(
        problem.model,
        problem.lanes,
        [0.0, problem.end],
        problem.start,
        problem.stimuli,
        allowed,
        problem.absolute(1e-2 * allowed),
    )


@pytest.mark.parametrize(
    ("make", "allowed", "row"),
    [(make, allowed, row) for make, allowed, rows in PROBLEMS for row in rows],
    ids=lambda value: getattr(value, "__name__", str(value)),
)
def test_end_value(make: Callable[[], Problem], allowed: float, row: Row) -> None:
    found = make().quantity(course_of(make, allowed), row.inputs["number"])
    assert found[-1] == row.expected_within_its_tolerance
