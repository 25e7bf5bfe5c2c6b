"""Random circuits of all kinds of parts: how often is an answer of ours right, missing, wrong?

    python benchmarks/random_circuits.py [--quick] [--circuits N] [--seconds S] [--json FILE]
        [--seed N]

Operating points are judged by their residuals on the plain equations and by scipy from a cold
start, courses in time by SUNDIALS. JSON keys: circuits, points and courses (how many `agrees`,
`only ours` (the other solver found nothing), `another branch` (both are solutions), `not
converged` (said so), `WRONG`), points_not_converged and courses_not_converged (shares), failures
(by seed), seed, machine, commit.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from pathlib import Path

from prove import commit, machine

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from engine.random_circuits import OUTCOMES, Draw, judged_course, judged_point

CIRCUITS, QUICK_CIRCUITS = 1000, 10


def main() -> None:
    """Draw, solve, judge, count."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_CIRCUITS} circuits only")
    parser.add_argument("--circuits", type=int, default=CIRCUITS, help="how many otherwise")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="begin none after that")
    parser.add_argument("--json", type=Path, help="write the figures to this file")
    parser.add_argument("--seed", type=int, default=0, help="the first circuit's")
    chosen = parser.parse_args()
    circuits = QUICK_CIRCUITS if chosen.quick else chosen.circuits
    began = time.perf_counter()
    points: Counter[str] = Counter()
    courses: Counter[str] = Counter()
    failures: dict[str, str] = {}
    for seed in range(chosen.seed, chosen.seed + circuits):
        if time.perf_counter() - began > chosen.seconds:
            break
        draw = Draw(seed)
        point, course = judged_point(draw), judged_course(draw)
        points[point] += 1
        courses[course] += 1
        if "WRONG" in (point, course):
            failures[str(seed)] = f"operating point {point}, course {course}"
            print(f"seed {seed}: {failures[str(seed)]}", flush=True)
    drawn = points.total()
    figures = {
        "circuits": drawn,
        "points": {outcome: points[outcome] for outcome in OUTCOMES},
        "courses": {outcome: courses[outcome] for outcome in OUTCOMES},
        "points_not_converged": points["not converged"] / max(drawn, 1),
        "courses_not_converged": courses["not converged"] / max(drawn, 1),
        "failures": failures,
        "seed": chosen.seed,
        "machine": machine(),
        "commit": commit(),
    }
    print(json.dumps(figures, indent=1, ensure_ascii=False))
    print(f"{time.perf_counter() - began:.0f} s")
    if chosen.json:
        chosen.json.write_text(json.dumps(figures, indent=1, ensure_ascii=False) + "\n", "utf-8")


if __name__ == "__main__":
    main()
