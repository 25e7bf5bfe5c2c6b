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

import sys
import time
from collections import Counter

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from engine.random_circuits import OUTCOMES, Draw, judged_course, judged_point

CIRCUITS, QUICK_CIRCUITS = 1000, 10


def main() -> None:
    """Draw, solve, judge, count."""
    parser = arguments(__doc__, f"{QUICK_CIRCUITS} circuits only")
    parser.add_argument("--circuits", type=int, default=CIRCUITS, help="how many otherwise")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="begin none after that")
    parser.add_argument("--seed", type=int, default=0, help="the first circuit's")
    asked = parser.parse_args()
    circuits = QUICK_CIRCUITS if asked.quick else asked.circuits
    began = time.perf_counter()
    points: Counter[str] = Counter()
    courses: Counter[str] = Counter()
    failures: dict[str, str] = {}
    for seed in range(asked.seed, asked.seed + circuits):
        if time.perf_counter() - began > asked.seconds:
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
        "seed": asked.seed,
        "machine": machine(),
        "commit": commit(),
    }
    print(as_json(figures))
    print(f"{time.perf_counter() - began:.0f} s")
    write(figures, asked.json)


if __name__ == "__main__":
    main()
