"""Random circuits of all kinds of parts: how often is an answer of ours right, missing, wrong?

    python benchmarks/random_circuits.py [--quick] [--circuits N] [--json FILE] [--seed N]

Operating points are judged by their residuals on the plain equations and by scipy from a cold
start, courses in time by SUNDIALS. JSON keys: circuits, points and courses (how many `agrees`,
`only ours` (the other solver found nothing), `another branch` (both are solutions), `not
converged` (said so), `WRONG`), failures (by seed), seed, machine, commit.
"""

from __future__ import annotations

import argparse
import json
import platform
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from engine.random_circuits import OUTCOMES, Draw, judged_course, judged_point

ROOT = Path(__file__).resolve().parent.parent
CIRCUITS, QUICK_CIRCUITS = 1000, 10


def main() -> None:
    """Draw, solve, judge, count."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--quick", action="store_true", help=f"{QUICK_CIRCUITS} circuits only")
    parser.add_argument("--circuits", type=int, default=CIRCUITS, help="how many otherwise")
    parser.add_argument("--json", type=Path, help="write the figures to this file")
    parser.add_argument("--seed", type=int, default=0, help="the first circuit's")
    chosen = parser.parse_args()
    circuits = QUICK_CIRCUITS if chosen.quick else chosen.circuits
    began = time.perf_counter()
    points: Counter[str] = Counter()
    courses: Counter[str] = Counter()
    failures: dict[str, str] = {}
    for seed in range(chosen.seed, chosen.seed + circuits):
        draw = Draw(seed)
        point, course = judged_point(draw), judged_course(draw)
        points[point] += 1
        courses[course] += 1
        if "WRONG" in (point, course):
            failures[str(seed)] = f"operating point {point}, course {course}"
            print(f"seed {seed}: {failures[str(seed)]}", flush=True)
    commit = subprocess.run(
        ("git", "rev-parse", "HEAD"), cwd=ROOT, capture_output=True, text=True, check=False
    ).stdout.strip()
    figures = {
        "circuits": circuits,
        "points": {outcome: points[outcome] for outcome in OUTCOMES},
        "courses": {outcome: courses[outcome] for outcome in OUTCOMES},
        "failures": failures,
        "seed": chosen.seed,
        "machine": f"{platform.machine()}, {platform.python_implementation()} "
        f"{platform.python_version()}",
        "commit": commit,
    }
    print(json.dumps(figures, indent=1, ensure_ascii=False))
    print(f"{time.perf_counter() - began:.0f} s")
    if chosen.json:
        chosen.json.write_text(json.dumps(figures, indent=1, ensure_ascii=False) + "\n", "utf-8")


if __name__ == "__main__":
    main()
