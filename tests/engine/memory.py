"""How much memory courses of many lanes take, measured in a process of its own.

    python -m engine.memory LANES SPAN INSTANTS SEED

Prints JSON: lanes, instants, results_mb (what the result itself holds), before_mb and peak_mb
(largest resident memory before and after), solved (share of the lanes), seconds.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
from devices.test_step_down_cycles import supply

from railwright.engine.model import Model
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Course, Tolerance, transient

WATCHED = (("OUT", ""), ("SW", ""), ("L", "current"))
STATUS = Path("/proc/self/status")
VOLTS = 14.0
ALLOWED = Tolerance(1e-3, 1e-5)
WARM_UP = 8
"""Lanes that run first: so that code and tables are in memory before anything is measured."""


def measured(lanes: int, span: float, instants: int, seed: int) -> dict[str, float]:
    """The figures of start-ups in a fresh process."""
    done = subprocess.run(
        [sys.executable, "-m", "engine.memory", str(lanes), str(span), str(instants), str(seed)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        check=True,
    )
    found: dict[str, float] = json.loads(done.stdout)
    return found


def start_ups(count: int, span: float, instants: int, seed: int) -> Course:
    """A switching stage, cycle by cycle, as its input comes up; every lane has other values."""
    board, rng = supply(volts=VOLTS), np.random.default_rng(seed)
    lanes = {
        ("L", "inductance"): 68e-6 * rng.uniform(0.8, 1.2, count),
        ("C", "capacitance"): 220e-6 * rng.uniform(0.8, 1.2, count),
        ("LD", "current"): rng.uniform(0.5, 1.5, count),
    }
    topology = replace(board.topology, isothermal=True, switched=True)
    rising = PiecewiseLinear(np.array([0.0, 1e-5]), np.array([0.0, VOLTS]))
    return transient(
        Model(topology, dict(board.nominal)),
        lanes,
        count,
        np.linspace(0.0, span, instants),
        stimuli={("V", "voltage"): rising},
        tolerance=ALLOWED,
        watch=WATCHED,
    )


def peak_mb() -> float:
    """Largest resident memory of this process so far.

    Not by getrusage: on Linux its figure is handed on from the parent through exec.
    """
    line = next(t for t in STATUS.read_text("utf-8").splitlines() if t.startswith("VmHWM"))
    return float(line.split()[1]) / 1024.0


def main() -> None:
    """Warm up, measure, print."""
    lanes, instants, seed = (int(sys.argv[i]) for i in (1, 3, 4))
    span = float(sys.argv[2])
    start_ups(WARM_UP, span / 100.0, instants, seed)
    before, began = peak_mb(), time.perf_counter()
    course = start_ups(lanes, span, instants, seed)
    figures = {
        "lanes": lanes,
        "instants": instants,
        "results_mb": len(WATCHED) * course.potential("OUT").nbytes / 2**20,
        "before_mb": before,
        "peak_mb": peak_mb(),
        "solved": float(course.solved.mean()),
        "seconds": time.perf_counter() - began,
    }
    print(json.dumps(figures))


if __name__ == "__main__":
    main()
