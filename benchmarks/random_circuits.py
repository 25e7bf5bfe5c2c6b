"""Random circuits of all kinds of parts: how often is an answer of ours right, missing, wrong?

    python benchmarks/random_circuits.py [--quick] [--circuits N] [--seconds S] [--json FILE]
        [--seed N] [--again FILE]

Operating points are judged by their residuals on the plain equations and by scipy from a cold
start, courses in time by SUNDIALS. JSON keys: circuits, points and courses (how many `agrees`,
`only ours` (the other solver found nothing), `another branch` (both are solutions), `not
converged` (said so), `WRONG`), points_not_converged and courses_not_converged (shares), odd (by
seed what is not converged or wrong, and errors of ours), seed, machine, commit. `--again` judges
the odd ones of a file once more, after a mend, and counts them anew; `first_commit` then tells
which code judged the others.
"""

from __future__ import annotations

import json
import os
import sys
import time
import traceback
from collections import Counter
from multiprocessing import get_context
from pathlib import Path

from _report import ROOT, arguments, as_json, commit, machine, write

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from engine.random_circuits import OUTCOMES, drawn, judged_course, judged_point

CIRCUITS, QUICK_CIRCUITS = 1000, 10
ODD = {"WRONG", "not converged"}


Judged = tuple[int, str, str, str]
"""Seed, outcomes of operating point and course, and an error of ours."""


def told(found: Judged) -> Judged:
    """The same, printed where it is not what it should be."""
    seed, point, course, why = found
    if {point, course} & ODD:
        print(f"seed {seed}: operating point {point}, course {course} {why}", flush=True)
    return found


def judged(task: tuple[int, float]) -> Judged | None:
    """One circuit; None once time is up."""
    seed, deadline = task
    if time.time() > deadline:
        return None
    try:
        circuit = drawn(seed)
        return seed, judged_point(circuit), judged_course(circuit), ""
    except Exception:
        return seed, "WRONG", "WRONG", traceback.format_exc(limit=-3)


def main() -> None:
    """Draw, solve, judge, count."""
    parser = arguments(__doc__, f"{QUICK_CIRCUITS} circuits only")
    parser.add_argument("--circuits", type=int, default=CIRCUITS, help="how many otherwise")
    parser.add_argument("--seconds", type=float, default=float("inf"), help="begin none after that")
    parser.add_argument("--seed", type=int, default=0, help="the first circuit's")
    parser.add_argument("--again", type=Path, metavar="FILE", help="only the odd ones of a file")
    asked = parser.parse_args()
    circuits = QUICK_CIRCUITS if asked.quick else asked.circuits
    before = json.loads(asked.again.read_text("utf-8")) if asked.again else None
    seeds = range(asked.seed, asked.seed + circuits)
    began = time.time()
    tasks = [(int(seed), began + asked.seconds) for seed in (before["odd"] if before else seeds)]
    # Fresh processes, whose memory ends with a few circuits: compiled code is never given back.
    with get_context("fork").Pool(os.cpu_count(), maxtasksperchild=20) as pool:
        found = [told(each) for each in pool.imap(judged, tasks) if each is not None]
    points, courses = (Counter(each[place] for each in found) for place in (1, 2))
    count = len(found)
    odd = {str(each[0]): each[1:] for each in found if {*each[1:3]} & ODD}
    if before:
        count = before["circuits"]
        seen = {str(each[0]) for each in found}
        odd = {**{k: v for k, v in before["odd"].items() if k not in seen}, **odd}
        for place, (counts, name) in enumerate(((points, "points"), (courses, "courses"))):
            counts.update(before[name])
            counts.subtract(before["odd"][str(each[0])][place] for each in found)
    figures = {
        "circuits": count,
        "points": {outcome: points[outcome] for outcome in OUTCOMES},
        "courses": {outcome: courses[outcome] for outcome in OUTCOMES},
        "points_not_converged": points["not converged"] / max(count, 1),
        "courses_not_converged": courses["not converged"] / max(count, 1),
        "odd": odd,
        "seed": before["seed"] if before else asked.seed,
        "machine": machine(),
        "commit": commit(),
    }
    if before:
        figures["first_commit"] = before.get("first_commit", before["commit"])
    print(as_json(figures))
    print(f"{time.time() - began:.0f} s")
    write(figures, asked.json)


if __name__ == "__main__":
    main()
