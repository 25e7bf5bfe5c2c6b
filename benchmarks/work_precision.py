"""Work against error on four published circuits: our courses in time, and SUNDIALS.

    python benchmarks/work_precision.py [--quick] [--json FILE]

Both get the same equations with exact slopes as compiled code, one variant, and the published
start; SUNDIALS pays a call from Python for each evaluation. The error is the largest relative
difference from the published values at the end of each problem. Compiling is not timed.
"""

from __future__ import annotations

import sys
import time
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from _report import ROOT, arguments, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from engine.published_circuits import PROBLEMS, Problem
from published import Row, published

ALLOWED = (1e-3, 1e-4, 1e-5, 1e-6, 1e-7, 1e-8)
QUICK_ALLOWED = (1e-3, 1e-5)
MOST_CALLS = 1_000_000
"""Residuals after which SUNDIALS is stopped; its error then reads null."""


@dataclass(frozen=True)
class Run:
    """One problem at one tolerance."""

    problem: str
    allowed: float
    """Relative error allowed per step; a hundredth of it absolute."""
    by: str
    error: float | None
    """Largest relative error at the end, null where the end was not reached."""
    work: int
    """Newton iterations of ours, residuals of SUNDIALS."""
    seconds: float


def error_of(problem: Problem, rows: list[Row], course: Any) -> float | None:
    """Largest relative difference from what is published."""
    if not np.all(course.solved):
        return None
    ends = [float(np.ravel(problem.quantity(course, r.inputs["number"]))[-1]) for r in rows]
    return max(abs(end / float(r.expected) - 1.0) for end, r in zip(ends, rows, strict=True))


def ours(name: str, problem: Problem, rows: list[Row], allowed: float) -> Run:
    began = time.perf_counter()
    found = problem.course(allowed)
    passed = time.perf_counter() - began
    return Run(name, allowed, "ours", error_of(problem, rows, found), found.iterations, passed)


def sundials(name: str, problem: Problem, rows: list[Row], allowed: float) -> Run:
    found = problem.by_sundials(allowed, MOST_CALLS)
    error = error_of(problem, rows, found)
    return Run(name, allowed, "SUNDIALS", error, found.residual_calls, found.seconds)


def runs(allowed: tuple[float, ...]) -> list[Run]:
    """All problems at all tolerances, both ways."""
    found = []
    for name, make in PROBLEMS.items():
        problem = make()
        # The pump's current hangs on the length of the steps alone: its charge is judged.
        judged = {n for n, quantity in problem.quantities.items() if quantity[1] != "current"}
        rows = [row for row in published(name) if row.inputs["number"] in judged]
        ours(name, problem, rows, 1e-1)  # compiles
        for each in allowed:
            for run in (ours(name, problem, rows, each), sundials(name, problem, rows, each)):
                found.append(run)
                error = "-" if run.error is None else f"{run.error:.1e}"
                print(
                    f"{name:21s} {each:.0e} {run.by:9s} error {error:8s} "
                    f"work {run.work:9d} {run.seconds * 1e3:10.2f} ms",
                    flush=True,
                )
    return found


def main() -> None:
    """Measure and print."""
    asked = arguments(__doc__, "two tolerances only").parse_args()
    found = runs(QUICK_ALLOWED if asked.quick else ALLOWED)
    figures = {
        "runs": [asdict(run) for run in found],
        "machine": machine(),
        "commit": commit(),
    }
    write(figures, asked.json)


if __name__ == "__main__":
    main()
