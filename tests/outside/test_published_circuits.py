"""Circuits whose end values others published: by SUNDIALS, which shows that our test circuits are
theirs, and by our own courses in time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest
from engine.by_sundials import by_sundials
from engine.published_circuits import (
    Problem,
    charge_pump,
    nand_gate,
    ring_modulator,
    transistor_amplifier,
)
from published import Row, published

from railwright.engine.transient import Tolerance, transient


@dataclass(frozen=True, eq=False)
class Case:
    """A problem, and the errors allowed per step, relative, so that it is met."""

    problem: Callable[[], Problem]
    rows: tuple[Row, ...]
    by_sundials: float
    by_ours: float
    longest: float | None = None

    def sundials(self) -> Any:
        problem, allowed = self.problem(), self.by_sundials
        return by_sundials(
            problem.model,
            problem.lanes,
            [0.0, problem.end],
            problem.start,
            problem.stimuli,
            allowed,
            problem.absolute(1e-2 * allowed),
        )

    def ours(self) -> Any:
        problem = self.problem()
        return transient(
            problem.isothermal,
            problem.lanes,
            1,
            np.array([0.0, problem.end]),
            problem.start[:, None],
            problem.stimuli,
            Tolerance(self.by_ours, 1e-2 * self.by_ours),
            longest=self.longest,
        )


CASES = (
    Case(transistor_amplifier, tuple(published("transistor amplifier")), 1e-7, 1e-9),
    # A method of any order errs here by far more than it is allowed per step.
    Case(ring_modulator, tuple(published("ring modulator")), 1e-8, 1e-8),
    Case(nand_gate, tuple(published("NAND gate")), 1e-8, 1e-9),
    # The source's current is the slope of a charge that no state holds: it hangs on the step alone.
    Case(charge_pump, tuple(published("charge pump")), 1e-6, 1e-6, 3e-12),
)


@cache
def course_of(case: Case, way: str) -> Any:
    course = getattr(case, way)()
    assert np.all(course.solved)
    return course


@pytest.mark.parametrize("way", ["sundials", "ours"])
@pytest.mark.parametrize(
    ("case", "row"),
    [(case, row) for case in CASES for row in case.rows],
    ids=lambda value: str(value) if isinstance(value, Row) else "",
)
def test_end_value(case: Case, row: Row, way: str) -> None:
    found = case.problem().quantity(course_of(case, way), row.inputs["number"])
    assert found[..., -1] == row.expected_within_its_tolerance


def test_the_charge_of_the_pump_hangs_on_no_step_length() -> None:
    case = CASES[-1]
    course = Case(case.problem, case.rows, 1e-6, 1e-3).ours()
    assert case.problem().quantity(course, 1)[0, -1] == case.rows[0].expected_within_its_tolerance
