"""Do the multipliers of a cycle and the poles of a circuit tell what its course does?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
from engine.test_transient import switched
from numpy.typing import NDArray

from railwright.engine.cycle import UNDECIDED, cycle
from railwright.engine.transient import Tolerance, transient

Array = NDArray[np.float64]
PERIODS = 1500
PERIOD = 1e-5
EXACT = Tolerance(1e-7, 1e-9)
DISTURBANCE = 0.02
"""Change of the coil current at the start, as a share of its ripple."""


@dataclass(frozen=True)
class Verdicts:
    """What the multipliers say, and what became of a small disturbance (lane)."""

    largest: Array
    """Magnitude of the largest multiplier; not-a-number where no cycle was found."""
    growth: Array
    """Disturbance at the end over the one at the start, sampled once in a period."""

    @property
    def counts(self) -> Counter[str]:
        """How many agree, contradict or are left undecided."""
        return Counter(map(self._verdict, self.largest, self.growth))

    def _verdict(self, largest: float, growth: float) -> str:
        if abs(largest - 1.0) <= UNDECIDED:
            return "undecided"
        stable = bool(largest < 1.0)  # no cycle counts as none that lasts
        return "agree" if stable == (growth < 1.0) else "contradict"


def switching_variants(count: int, seed: int) -> dict[tuple[str, str], Any]:
    """A step-down stage with a loop from slack to far too tight."""
    rng = np.random.default_rng(seed)
    return {
        ("U", "gain"): 10.0 ** rng.uniform(-2.5, 0.0, count),
        ("U", "lag"): 10.0 ** rng.uniform(-5.0, -3.5, count),
        ("U", "level"): rng.uniform(0.2, 0.6, count),
        ("RL", "resistance"): 10.0 ** rng.uniform(0.3, 1.3, count),
        ("L", "inductance"): 1e-4 * rng.uniform(0.8, 1.2, count),
    }


def of_switching_stages(count: int, seed: int) -> Verdicts:
    """Cycles of `count` stages against courses over many periods from close to the cycle."""
    model, lanes = switched(), switching_variants(count, seed)
    start = np.zeros((len(model.topology.unknowns), 1))
    states = [("L", "current"), ("C", "plate"), ("U", "control")]
    found = cycle(model, lanes, count, start, clock=("U", "tick"), watch=states, tolerance=EXACT)
    begin = np.zeros((len(model.topology.unknowns), count))
    for name in states:
        begin[model.topology.index[name]] = found.unknown(*name)[:, 0]
    ripple = np.ptp(found.unknown("L", "current"), axis=1)
    begin[model.topology.index["L", "current"]] += DISTURBANCE * ripple
    # Half a period off the ticks, in the first periods and in the last ones.
    early = np.arange(4) * PERIOD + 0.5 * PERIOD
    late = (PERIODS + np.arange(40)) * PERIOD + 0.5 * PERIOD
    times = np.concatenate([[0.0], early, late])
    begin = np.where(np.isfinite(begin), begin, 0.0)
    watch = [("L", "current")]
    course = transient(model, lanes, count, times, begin, tolerance=EXACT, watch=watch)
    here = found.unknown("L", "current")[:, [128]]
    away = np.abs(course.unknown("L", "current")[:, 1:] - here)
    restless = np.ptp(course.unknown("L", "current")[:, 5:], axis=1) > 1e-2
    growth = away[:, 4:].max(axis=1) / away[:, :4].max(axis=1)
    # Without a cycle there is nothing to be away from: whether periods differ decides.
    growth = np.where(found.solved, growth, np.where(restless, np.inf, 0.0))
    return Verdicts(found.largest, growth)
