"""Circuits whose end values others published: by SUNDIALS, which shows that our test circuits are
theirs, and by our own courses in time."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from engine.published_circuits import PROBLEMS, Problem
from published import Row, published

RELATIVE = {
    "transistor amplifier": {"SUNDIALS": 1e-7, "ours": 1e-9},
    # A method of any order errs here by far more than it is allowed per step.
    "ring modulator": {"SUNDIALS": 1e-8, "ours": 1e-8},
    "NAND gate": {"SUNDIALS": 1e-8, "ours": 1e-9},
    "charge pump": {"SUNDIALS": 1e-6, "ours": 1e-6},
}
"""Errors allowed per step with which the published digits are met."""
LONGEST = {"charge pump": 3e-12}
"""The source's current is the slope of a charge that no state holds: it hangs on the step alone."""


@cache
def problem(name: str) -> Problem:
    return PROBLEMS[name]()


@cache
def course_of(name: str, way: str) -> Any:
    relative = RELATIVE[name][way]
    if way == "ours":
        course: Any = problem(name).course(relative, LONGEST.get(name))
    else:
        course = problem(name).by_sundials(relative)
    assert course.solved
    return course


@pytest.mark.parametrize("way", ["SUNDIALS", "ours"])
@pytest.mark.parametrize("row", [row for name in PROBLEMS for row in published(name)], ids=str)
def test_end_value(row: Row, way: str) -> None:
    found = problem(row.family).quantity(course_of(row.family, way), row.inputs["number"])
    assert found[..., -1] == row.expected_within_its_tolerance


def test_the_charge_of_the_pump_hangs_on_no_step_length() -> None:
    (charge,) = [row for row in published("charge pump") if row.inputs["number"] == 1]
    pump = problem("charge pump")
    found = pump.quantity(pump.course(1e-3), 1)[0, -1]
    assert found == charge.expected_within_its_tolerance
