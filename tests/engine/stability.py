"""Do the multipliers of a cycle and the poles of a circuit tell what its course does?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Any

import numpy as np
from circuits import GROUND
from engine.example_circuits import amplified_pass_transistor
from engine.test_transient import switched
from numpy.typing import NDArray

from railwright.engine.cycle import UNDECIDED, cycle
from railwright.engine.linear import linearise
from railwright.engine.poles import NEGLIGIBLE, poles
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.transient import Tolerance, transient

Array = NDArray[np.float64]
PERIODS = 1500
PERIOD = 1e-5
EXACT = Tolerance(1e-7, 1e-9)
DISTURBANCE = 0.02
"""Change of the coil current at the start, as a share of its ripple."""
PUSH = 1e-3
"""Change of the output capacitor's voltage at the start [V]: small against what bends a loop."""
FOLDS = 7.5
"""Course of a linear supply, in time constants of its slowest decay or growth: 1500 periods of
what is just decided."""
TOGETHER = 16
"""Linear supplies that run over one span of time."""


@dataclass(frozen=True)
class Verdicts:
    """What multipliers or poles say, and what became of a small disturbance (lane)."""

    largest: Array
    """Magnitude of the largest multiplier in a period, of the clock or of what rings;
    not-a-number where no cycle was found."""
    growth: Array
    """Disturbance at the end over the one at the start."""

    @property
    def unstable(self) -> NDArray[np.bool_]:
        """Variants that are said to be unstable."""
        return np.asarray(~(self.largest <= 1.0 + UNDECIDED))

    @property
    def counts(self) -> Counter[str]:
        """How many agree, contradict, are left undecided or have no course to compare with."""
        return Counter(map(self._verdict, self.largest, self.growth))

    def _verdict(self, largest: float, growth: float) -> str:
        if abs(largest - 1.0) <= UNDECIDED:
            return "undecided"
        if np.isnan(growth):
            return "no course"
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


def linear_variants(count: int, seed: int) -> dict[tuple[str, str], Any]:
    """Output capacitors over decades, fast and slow amplifiers, light and heavy loads."""
    rng = np.random.default_rng(seed)
    return {
        ("C", "capacitance"): 10.0 ** rng.uniform(-7.0, -3.5, count),
        ("C", "esr"): 10.0 ** rng.uniform(-3.5, 0.0, count),
        ("A", "unity_gain_frequency"): 10.0 ** rng.uniform(4.5, 6.5, count),
        ("RB", "resistance"): 10.0 ** rng.uniform(1.5, 3.0, count),
        ("Q", "transit_time"): 10.0 ** rng.uniform(-8.8, -6.8, count),
        ("LD", "current"): 10.0 ** rng.uniform(-2.0, -0.7, count),
    }


def of_linear_supplies(count: int, seed: int) -> Verdicts:
    """Poles of `count` supplies against courses from close to where they rest."""
    board = amplified_pass_transistor()
    ends = {"plus": "OUT", "minus": GROUND}
    board.part("C", "capacitor", ends, {"dielectric": "film"}, capacitance=1e-5, esr=0.1)
    rest = quiescent(board.solve(linear_variants(count, seed), count))
    found = poles(linearise(rest))
    slowest = _slowest(found.value)
    multiplier = np.exp(2.0 * np.pi * slowest.real / np.abs(slowest))
    # What was not solved says nothing, as what lies on the unit circle.
    multiplier = np.where(found.solved, multiplier, 1.0)
    growth = np.ones(count)
    decided = np.flatnonzero(np.abs(multiplier - 1.0) > UNDECIDED)
    spans = FOLDS / np.abs(slowest.real)
    decided = decided[np.argsort(spans[decided])]
    for first in range(0, decided.size, TOGETHER):
        which = decided[first : first + TOGETHER]
        growth[which] = _growth(rest.take(which), float(spans[which].max()))
    return Verdicts(multiplier, growth)


def _slowest(value: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """The pole that decays slowest or grows fastest (lane)."""
    real = np.where(np.abs(value) > NEGLIGIBLE, value.real, -np.inf)
    place = np.argmax(real, axis=1)[:, None]
    return np.take_along_axis(value, place, axis=1)[:, 0]


def _growth(rest: Quiescent, span: float) -> Array:
    """What is left of a push of the output capacitor after a span [s] (lane)."""
    begin = rest.x.copy()
    begin[rest.model.topology.index["C", "plate"]] += PUSH
    times = np.concatenate([[0.0], np.linspace(0.95 * span, span, 400)])
    course = transient(
        rest.model, rest.lanes, rest.count, times, begin, tolerance=EXACT, watch=[("OUT", "")]
    )
    output = rest.x[rest.model.topology.index["OUT", ""]]
    return np.asarray(np.abs(course.potential("OUT")[:, 1:] - output[:, None]).max(axis=1) / PUSH)
