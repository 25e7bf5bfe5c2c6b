"""How long the demo proof takes, and an operating point against scipy on the same equations.

    python benchmarks/prove.py [--quick] [--json FILE]

All lanes differ: every part is drawn from its spread, settings, loads, input and air from their
ranges, so that no lane profits from its neighbour. scipy.optimize.root gets the same equations with
their exact slopes, the same start, and lanes out of the same batch.
"""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from _report import ROOT, arguments, commit, machine, write
from numpy.typing import NDArray
from scipy.optimize import root

from railwright.circuit.design import Design, read
from railwright.engine.model import Name
from railwright.engine.reduction import at_rest
from railwright.engine.solutions import OperatingPoints
from railwright.engine.system import System, trace
from railwright.engine.topology import STEP_LIMITS
from railwright.prove.proof import Proof
from railwright.prove.run import prove
from railwright.surveys.depth import DEEP, DEFAULT, Depth
from railwright.surveys.depth import QUICK as AT_QUICK
from railwright.surveys.fixture import Fixture
from railwright.surveys.operating_range import Points
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
DEMO = ROOT / "examples" / "radio-bench-rail.toml"
SEED = 1
ALIKE = 1e-4
"""Relative difference up to which both solutions count as the same: scipy stops by the norm of
all unknowns together, which leaves a knob's position less exact than a voltage."""


@dataclass(frozen=True)
class Size:
    """How much is measured."""

    lanes: int
    repeats: int
    by_scipy: int
    proofs: int
    deep: bool


QUICK, FULL = Size(8192, 3, 16, 2, deep=False), Size(65536, 5, 100, 2, deep=True)


@dataclass(frozen=True)
class Figures:
    """What was measured; times in seconds or nanoseconds, as named."""

    demo_s: float
    quick_s: float
    """At depth quick."""
    deep_s: float | None
    """At depth deep; None where it was left out."""
    stages: dict[str, float]
    """Where the time of the demo proof goes [s]; stages run side by side."""
    families: dict[str, dict[str, int]]
    """Family of checks -> findings, points and samples of the one that looked at most, lanes."""
    points: int
    samples: int
    lanes: int
    point_lanes: int
    point_solved: float
    point_ns_per_lane: float
    scipy_ns_per_lane: float
    scipy_alike: float
    point_vs_scipy: float
    machine: dict[str, Any]
    seed: int
    commit: str


def drawn(survey: Survey, count: int) -> dict[Name, Array | float]:
    """Lanes that all differ, each control set for its output."""
    rng = np.random.default_rng(SEED)

    def within(axis: Array) -> Array:
        return rng.uniform(axis[0], axis[-1], count)

    axes = survey.range
    points = Points(
        {rail: within(axis) for rail, axis in axes.settings.items()},
        {rail: within(axis) for rail, axis in axes.loads.items()},
        within(axes.input),
        within(axes.ambient),
    )
    actual = survey.spread.draw(rng.random((survey.spread.size, count)))
    return survey.lanes(points, actual) | survey.aimed(points)


def fastest(work: Callable[[], object], repeats: int) -> float:
    """Least time of several runs [s]."""
    times = []
    for _ in range(repeats):
        started = time.perf_counter()
        work()
        times.append(time.perf_counter() - started)
    return min(times)


PLAIN = {
    "add": "{} + {}",
    "sub": "{} - {}",
    "mul": "{} * {}",
    "div": "{} / {}",
    "max": "max({}, {})",
    "exp": "exp(min(max({}, -700.0), 700.0))",
    "log": "log({})",
    "sqrt": "sqrt({})",
    "abs": "abs({})",
    "mark": "{}",
    "sin": "sin({})",
    "cos": "cos({})",
    "select": "{1} if {0} >= 0.0 else {2}",
}
Numbers = Callable[[list[float], list[float]], tuple[list[float], list[float]]]


def plain_python(system: System) -> Numbers:
    """The equations and their slopes as straight-line Python on floats, which scipy is fastest on.

    numpy's overhead for every single number would make scipy look many times slower.
    """
    roots = [*system.residuals, *system.slopes.values()]
    lines = ["def run(x, p):"]
    for number in system.graph.needed(roots):
        op, *rest = system.graph.nodes[number]
        if op == "const":
            text = repr(rest[0])
        elif op in ("x", "p"):
            text = f"{op}[{rest[0]}]"
        else:
            text = PLAIN[op].format(*(f"v{r}" for r in rest))
        lines.append(f"    v{number} = {text}")
    values, slopes = (
        ", ".join(f"v{root.id}" for root in group)
        for group in (system.residuals, system.slopes.values())
    )
    lines.append(f"    return [{values}], [{slopes}]")
    names: dict[str, Any] = {"exp": math.exp, "log": math.log, "sqrt": math.sqrt}
    exec("\n".join(lines), names)
    run: Numbers = names["run"]
    return run


class ByScipy:
    """The equations of one lane as scipy wants them, in unknowns and rows of comparable size."""

    def __init__(self, survey: Survey, lanes: dict[Name, Array | float], start: Array) -> None:
        system = at_rest(trace(survey.model.topology))
        self.run = plain_python(system)
        self.places = tuple(np.array(list(system.slopes)).T)
        self.start = start
        self.x_scale = np.array([STEP_LIMITS[u.unit] for u in survey.model.topology.unknowns])
        found = survey.model.parameters(system.parameters, lanes)
        self.parameters = [np.ravel(found[name]) for name in system.parameters]
        rows = system.graph.evaluate(system.magnitudes, start[:, None], self._of(0)[:, None])
        self.row_scale = np.maximum(np.ravel(rows), 1e-6)

    def _of(self, lane: int) -> Array:
        return np.array([row[lane if row.size > 1 else 0] for row in self.parameters])

    def solve(self, lane: int) -> Array:
        """Unknowns of one lane, not-a-number where scipy went where nothing can be computed."""
        p = self._of(lane).tolist()
        slopes = np.zeros((self.start.size, self.start.size))
        scales = self.x_scale / self.row_scale[:, None]

        def equations(z: Array) -> tuple[Array, Array]:
            values, entries = self.run((z * self.x_scale).tolist(), p)
            slopes[self.places] = entries
            return np.array(values) / self.row_scale, slopes * scales

        try:
            found = root(equations, self.start / self.x_scale, jac=True, method="hybr", tol=1e-12)
        except (ArithmeticError, ValueError):
            return np.full(self.start.size, np.nan)
        return np.asarray(found.x * self.x_scale)


def alike(one: Array, other: Array, scale: Array) -> bool:
    """Whether two solutions are the same."""
    size = np.maximum(np.abs(one), 0.01 * scale)
    return bool((np.abs(one - other) <= ALIKE * size).all())


def against_scipy(survey: Survey, size: Size) -> dict[str, Any]:
    """Time per lane of both, and how many lanes scipy solves alike."""
    lanes = drawn(survey, size.lanes)
    start = survey.states.start
    if start is None:
        raise SystemExit("The demo has no working state to start from: prove it first.")

    def ours() -> OperatingPoints:
        return survey.solve(lanes, size.lanes, start)

    points = ours()
    ns = fastest(ours, size.repeats) / size.lanes * 1e9
    other = ByScipy(survey, lanes, start.unknowns[:, 0])
    which = np.flatnonzero(points.solved)[: size.by_scipy]
    wanted = points.unknowns
    times, same = [], []
    for lane in which:
        started = time.perf_counter()
        x = other.solve(int(lane))
        times.append(time.perf_counter() - started)
        same.append(alike(wanted[:, lane], x, other.x_scale))
    if not any(same):
        raise SystemExit("scipy solved no lane alike: there is nothing to compare with.")
    # Only lanes that scipy solves count: what it gives up on takes it longest.
    scipy_ns = float(np.mean(np.array(times)[same])) * 1e9
    return {
        "point_lanes": size.lanes,
        "point_solved": float(points.solved.mean()),
        "point_ns_per_lane": ns,
        "scipy_ns_per_lane": scipy_ns,
        "scipy_alike": float(np.mean(same)),
        "point_vs_scipy": scipy_ns / ns,
    }


class Stages:
    """Listens to a proof, and keeps how long each of its stages took [s].

    Stages run side by side, each in one thread: together they take longer than the proof.
    """

    def __init__(self) -> None:
        self.took: dict[str, float] = {}
        self._first = threading.get_ident()
        self._last = {self._first: time.perf_counter()}

    def progress(self, stage: str, _: float) -> None:
        """A stage went on."""
        now, own = time.perf_counter(), threading.get_ident()
        began = self._last.get(own, self._last[self._first])
        self.took[stage] = self.took.get(stage, 0.0) + now - began
        self._last[own] = now


def families(proof: Proof) -> dict[str, dict[str, int]]:
    """How many findings each family of checks has, and how much it looked at."""
    found: dict[str, dict[str, int]] = {}
    for finding in proof.findings:
        family = found.setdefault(
            finding.id.partition(".")[0], {"findings": 0, "points": 0, "samples": 0, "lanes": 0}
        )
        looked = finding.looked
        family["findings"] += 1
        family["points"] = max(family["points"], looked.points)
        family["samples"] = max(family["samples"], looked.samples)
        family["lanes"] += looked.lanes
    return found


def proof_of(design: Design, depth: Depth, repeats: int) -> tuple[Proof, float, Stages]:
    """The last of several proofs, what it took [s], and where that went."""
    for _ in range(repeats):
        stages = Stages()
        started = time.perf_counter()
        proof = prove(design, seed=SEED, depth=depth, progress=stages.progress)
        took = time.perf_counter() - started
    return proof, took, stages


def measured(size: Size) -> Figures:
    """All figures, in one run. What is compiled is compiled beforehand."""
    design = read(DEMO)
    survey = Survey(Fixture.of(design), announce=lambda text: print(text, flush=True))
    compared = against_scipy(survey, size)
    proof, demo_s, stages = proof_of(design, DEFAULT, size.proofs)
    _, quick_s, _ = proof_of(design, AT_QUICK, 2)
    return Figures(
        demo_s=demo_s,
        quick_s=quick_s,
        deep_s=proof_of(design, DEEP, 2)[1] if size.deep else None,
        stages=stages.took,
        families=families(proof),
        points=proof.took.points,
        samples=proof.took.samples,
        lanes=proof.took.lanes,
        machine=machine(),
        seed=SEED,
        commit=commit(),
        **compared,
    )


def told(figures: Figures) -> str:
    """The figures in words."""
    share = figures.demo_s / figures.lanes * 1e9
    deep = "" if figures.deep_s is None else f"at depth deep       {figures.deep_s:8.2f} s\n"
    stages = "".join(f"  {name:18}{took:8.2f} s\n" for name, took in figures.stages.items())
    families = "".join(
        f"  {name:18}{row['findings']:8} findings, {row['points']} points, "
        f"{row['samples']} samples, {row['lanes']} lanes\n"
        for name, row in figures.families.items()
    )
    return (
        f"demo proof          {figures.demo_s:8.2f} s    {figures.points} points, "
        f"{figures.samples} samples, {figures.lanes} lanes, {share:.0f} ns a lane\n"
        f"{stages}{families}"
        f"at depth quick      {figures.quick_s:8.2f} s\n{deep}"
        f"operating point     {figures.point_ns_per_lane:8.0f} ns   a lane, "
        f"{figures.point_lanes} different lanes, {figures.point_solved:.2%} solved\n"
        f"scipy.optimize.root {figures.scipy_ns_per_lane:8.0f} ns   a lane, "
        f"{figures.scipy_alike:.0%} of them solved alike\n"
        f"ratio               {figures.point_vs_scipy:8.0f}      times faster than scipy"
    )


def main() -> None:
    """Measure, print, and write JSON where asked for."""
    asked = arguments(__doc__, "fewer lanes, one proof").parse_args()
    figures = measured(QUICK if asked.quick else FULL)
    print(told(figures))
    write(asdict(figures), asked.json)


if __name__ == "__main__":
    main()
