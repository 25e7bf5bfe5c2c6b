"""How fast and how exact the engine is: against SUNDIALS, and against the machine's own limit.

    python benchmarks/engine.py [--quick] [--json FILE] [--renew]

Courses in time: the demo supply cycle by cycle, 2 ms with a load step, all variants different;
in full two other switching supplies as well. SUNDIALS gets the same equations with exact slopes
as compiled code, clock corners as stop times, and finds the other events by its own root finding.
Both have to meet the same error; the fastest course by SUNDIALS that does so counts, and ours is
also put beside it with an error no larger than its own. Errors are measured against a course by
SUNDIALS at a tolerance of 1e-9, which is kept beside the results with a hash of the equations;
`--renew` makes it again. Compiling is not timed.
"""

from __future__ import annotations

import hashlib
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Any

import numpy as np
from _peak import floor_ns
from _report import ROOT, arguments, commit, machine, write
from numpy.typing import NDArray
from prove import DEMO, SEED, drawn, fastest

# In place of this folder, whose `engine.py` would stand before the tests' room of that name.
sys.path.pop(0)
sys.path.insert(0, str(ROOT / "tests"))

from devices.test_step_down_cycles import CLASSIC, CURRENT_MODE, supply
from engine.by_sundials import Course as Theirs
from engine.by_sundials import by_sundials
from engine.charge_form import ChargeForm
from engine.example_circuits import tracking_supply

from railwright.circuit.design import read
from railwright.engine.cycle import cycle
from railwright.engine.linear import linearise
from railwright.engine.model import Lanes, Name, chosen, given_name
from railwright.engine.processor import course_width
from railwright.engine.quiescent import Quiescent, quiescent
from railwright.engine.response import output_impedance
from railwright.engine.solutions import OperatingPoints
from railwright.engine.stepping import Step
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient import Course, Tolerance, transient
from railwright.engine.transient_kernel import Purpose, step_of
from railwright.surveys.fixture import Fixture, load_ref
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
KEPT = ROOT / "benchmarks" / "results" / "engine_courses.npz"
SPAN, STEP_AT = 2e-3, 5e-4
TIMES = np.linspace(0.0, SPAN, 2001)
TOLERANCES = tuple(Tolerance(r, 1e-2 * r) for r in (3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6))
"""Ours that are tried, the loosest first."""
BY_SUNDIALS = tuple(
    Tolerance(*both)
    for both in ((1e-4, 1e-4), (1e-3, 1e-5), (1e-4, 1e-6), (1e-5, 1e-5), (1e-5, 1e-7), (1e-6, 1e-8))
)
"""Those of SUNDIALS, until the next is exact enough but takes more evaluations. Looser ones lose
the demo supply; lower orders, more iterations a step and another linear solver made none faster."""
FIRST_STEP = 1e-8
"""Of SUNDIALS where it starts anew [s]; what it would choose by itself takes more slopes."""
ALLOWED = 1e-4
"""Error of a net, as a share of its largest value."""
REFERENCE = Tolerance(1e-9, 1e-11)
MOST = 1000
"""Variants that are drawn; of these the first ones are taken, so that lane 0 is always the same."""
FREQUENCIES = np.geomspace(10.0, 1e7, 200)


@dataclass(frozen=True)
class Supply:
    """A switching supply whose load steps; lane 0 is the one that SUNDIALS follows."""

    name: str
    rest: Quiescent
    load: Name
    currents: tuple[float, float]
    nets: tuple[str, ...]

    @cached_property
    def stimuli(self) -> Mapping[Name, PiecewiseLinear]:
        """The load step, in a microsecond."""
        times = np.array([STEP_AT, STEP_AT + 1e-6])
        return {self.load: PiecewiseLinear(times, np.array(self.currents))}

    def take(self, which: NDArray[np.intp]) -> Supply:
        """Chosen lanes."""
        return Supply(self.name, self.rest.take(which), self.load, self.currents, self.nets)

    def course(self, tolerance: Tolerance) -> Course:
        """Our courses of all lanes."""
        return transient(
            self.rest.model,
            self.rest.lanes,
            self.rest.count,
            TIMES,
            self.rest.x,
            self.stimuli,
            tolerance,
            [(net, "") for net in self.nets],
        )

    def alone(self) -> Lanes:
        """Lane 0 as plain numbers."""
        lanes = chosen(self.rest.lanes, np.array([0]))
        return {name: float(np.ravel(value)[0]) for name, value in lanes.items()}

    def by_sundials(self, form: ChargeForm, tolerance: Tolerance) -> Theirs:
        """Courses of lane 0."""
        found = by_sundials(
            self.rest.model,
            self.alone(),
            TIMES,
            self.rest.x[:, 0],
            self.stimuli,
            tolerance.relative,
            tolerance.absolute,
            form,
            first_step=FIRST_STEP,
        )
        if not found.solved:
            print(f"SUNDIALS lost {self.name} at {tolerance}: {found.lost}", flush=True)
        return found

    def form(self) -> ChargeForm:
        """Equations as SUNDIALS wants them."""
        return ChargeForm(self.rest.model.topology, tuple(self.stimuli))

    def step(self) -> Step:
        """What our courses compute in each step."""
        purpose = Purpose(tuple(self.stimuli))
        return step_of(self.rest.model, purpose, self.rest.lanes, self.rest.x)

    def fingerprint(self, form: ChargeForm) -> str:
        """Changes with the equations, the values and the start."""
        model = self.rest.model
        values = model.parameters(form.parameters, {**self.alone(), self.load: self.currents[0]})
        text = [repr(form.system.graph.nodes), repr(sorted(values.items())), repr(self.currents)]
        return hashlib.sha256("\n".join(text).encode()).hexdigest()[:16]


def demo(lanes: int) -> Supply:
    """The demo supply, every part drawn from its spread."""
    survey = Survey(Fixture.of(read(DEMO)), announce=lambda text: print(text, flush=True))
    asked = dict(drawn(survey, MOST))
    load = (load_ref("main"), "current")
    asked[given_name(*load)] = np.full(MOST, 0.1)
    points = survey.solve(asked, MOST, survey.states.start)
    rest = quiescent(points, switched=True).take(np.arange(lanes))
    return Supply("demo", rest, load, (0.1, 0.8), ("OUT", "VPRE"))


def step_down(name: str, lanes: int) -> Supply:
    """A step-down part of the catalogue as a supply of 5 V, its values spread by 10 %."""
    board = supply(name)
    rng = np.random.default_rng(SEED)
    spread = {
        (part.ref, value): board.nominal[part.ref, value] * rng.uniform(0.9, 1.1, MOST)
        for part in board.parts
        for value in ("resistance", "capacitance", "inductance")
        if (part.ref, value) in board.nominal
    }
    spread["LD", "current"] = np.full(MOST, 0.2)
    rest = quiescent(board.solve(spread, MOST), switched=True).take(np.arange(lanes))
    return Supply(name, rest, ("LD", "current"), (0.2, 1.0), ("OUT",))


def reference(supplies: list[Supply], renew: bool) -> dict[str, Array]:
    """Courses at a tolerance far below what is measured, made anew where equations have changed."""
    kept = dict(np.load(KEPT)) if KEPT.exists() else {}
    for one in supplies:
        form = one.form()
        key = f"{one.name} {one.fingerprint(form)}"
        if key not in kept or renew:
            print(f"making the reference course of {one.name}: some minutes", flush=True)
            kept = {k: v for k, v in kept.items() if not k.startswith(f"{one.name} ")}
            kept[key] = potentials(one, one.by_sundials(form, REFERENCE))
            np.savez_compressed(KEPT, **kept)
    return {key.rsplit(" ", 1)[0]: courses for key, courses in kept.items()}


def potentials(one: Supply, course: Theirs) -> Array:
    """Courses (net, time) of what is compared, not-a-number where lost."""
    return np.array([course.potential(net) for net in one.nets])


def error(found: Array, wanted: Array) -> float:
    """Largest difference, as a share of the largest value of its net."""
    return float((np.abs(found - wanted).max(axis=1) / np.abs(wanted).max(axis=1)).max())


def transients(one: Supply, wanted: Array, repeats: int) -> dict[str, float]:
    """Ours against SUNDIALS, one variant and a mixed batch on both cores."""
    single, form = one.take(np.array([0])), one.form()
    theirs, their_tolerance = by_sundials_within(one, form, wanted)
    ours, tolerance = ours_within(single, wanted, ALLOWED)
    alike, alike_tolerance = ours_within(single, wanted, theirs)
    batch = one.course(tolerance)
    within: list[float] = []

    def by_theirs() -> float:
        course = one.by_sundials(form, their_tolerance)
        within.append(course.integrating)
        return float(course.seconds)

    works: dict[str, Callable[[], float]] = {
        "sundials_s": by_theirs,
        "single_s": lambda: timed(lambda: single.course(tolerance)),
        "alike_single_s": lambda: timed(lambda: single.course(alike_tolerance)),
        "batch_s": lambda: timed(lambda: one.course(tolerance)),
        "alike_batch_s": lambda: timed(lambda: one.course(alike_tolerance)),
    }
    took = interleaved(works, repeats)
    per_core, alike_per_core = (
        took.pop(name) * machine_cores() / one.rest.count for name in ("batch_s", "alike_batch_s")
    )
    return {
        **took,
        "error": ours,
        "alike_error": alike,
        "sundials_integrating_s": min(within),
        "sundials_error": theirs,
        "sundials_relative": their_tolerance.relative,
        "sundials_absolute": their_tolerance.absolute,
        "batch_s_per_variant_and_core": per_core,
        "alike_batch_s_per_variant_and_core": alike_per_core,
        "single": took["sundials_s"] / took["single_s"],
        "batch": took["sundials_s"] / per_core,
        "alike_single": took["sundials_s"] / took["alike_single_s"],
        "alike_batch": took["sundials_s"] / alike_per_core,
        "lost": float((~batch.solved).sum()),
        "iterations_a_variant": batch.iterations * course_width(one.rest.count) / one.rest.count,
    }


def timed(work: Callable[[], object]) -> float:
    """Time of one run [s]."""
    seconds: float = fastest(work, 1)
    return seconds


def interleaved(works: Mapping[str, Callable[[], float]], repeats: int) -> dict[str, float]:
    """Least time of each [s], all by turns, so that a busy minute of the machine hits all alike."""
    times: dict[str, list[float]] = {name: [] for name in works}
    for _ in range(repeats):
        for name, work in works.items():
            times[name].append(work())
    return {name: min(found) for name, found in times.items()}


def ours_within(single: Supply, wanted: Array, allowed: float) -> tuple[float, Tolerance]:
    """Error and tolerance of our loosest course that is exact enough."""
    for tolerance in TOLERANCES:
        course = single.course(tolerance)
        found = error(np.array([course.potential(net)[0] for net in single.nets]), wanted)
        if found <= allowed:
            return found, tolerance
    raise SystemExit(f"ours was nowhere as exact as {allowed:g} on {single.name}: {found:g}")


def by_sundials_within(one: Supply, form: ChargeForm, wanted: Array) -> tuple[float, Tolerance]:
    """Error and tolerance of the fastest course by SUNDIALS that is exact enough."""
    best: tuple[int, float, Tolerance] | None = None
    for tolerance in BY_SUNDIALS:
        course = one.by_sundials(form, tolerance)
        off = error(potentials(one, course), wanted)
        if not course.solved or off > ALLOWED:
            continue
        # Counted, since a busy machine makes one run slower than another.
        work = course.residual_calls + course.slope_calls
        if best is not None and work >= best[0]:
            break
        best = work, off, tolerance
    if best is None:
        raise SystemExit(f"SUNDIALS was nowhere exact enough on {one.name}")
    return best[1:]


def machine_cores() -> int:
    """Cores that the courses were spread over."""
    return int(machine()["cores"])


def operating_points(lanes: int) -> dict[str, float]:
    """Operating points over +-20 % parts, all settings and loads, dropout and limit included."""
    board, rng = tracking_supply(), np.random.default_rng(SEED)
    spread = ("resistance", "current_gain", "gain", "base_emitter_voltage", "reference", "dropout")
    asked: dict[Name, Any] = {
        name: value * rng.uniform(0.8, 1.2, lanes)
        for name, value in board.nominal.items()
        if name[1] in spread
    }
    asked["V", "voltage"] = rng.uniform(5.0, 20.0, lanes)
    asked["LD", "current"] = rng.uniform(0.0, 1.8, lanes)
    asked["R5", "resistance"] = rng.uniform(20.0, 900.0, lanes)
    points = board.solve(asked, lanes)
    took = fastest(lambda: board.solve(asked, lanes), 3)
    return {"s": took, "lost": float((~points.solved).sum())}


def grid() -> OperatingPoints:
    """A tracking supply on a grid of 25 settings and 40 loads, both regimes of conduction."""
    board = tracking_supply()
    for ref, net, size in (("C1", "IN", 1e-4), ("C2", "PRE", 4.7e-4), ("C3", "OUT", 1e-5)):
        board.part(ref, "capacitor", {"plus": net, "minus": "0"}, capacitance=size, leakage=0.0)
    settings, loads = np.linspace(60.0, 800.0, 25), np.geomspace(0.02, 1.2, 40)
    lanes = {
        ("R5", "resistance"): np.repeat(settings, loads.size),
        ("LD", "current"): np.tile(loads, settings.size),
    }
    points: OperatingPoints = board.solve(lanes, settings.size * loads.size)
    return points


def cycles(rest: Quiescent) -> dict[str, float]:
    """Periodic steady states of all lanes."""
    clock = next(e.ref for e in rest.model.topology.elements if "tick" in e.device.holds)

    def work() -> Any:
        return cycle(
            rest.model, rest.lanes, rest.count, rest.x, (clock, "tick"), watch=[("OUT", "")]
        )

    found = work()
    return {"s": fastest(work, 2), "lost": float((~found.solved).sum())}


def responses(points: OperatingPoints, plus: str, minus: str) -> float:
    """Output impedance of all lanes at 200 frequencies [s]."""
    linear = linearise(quiescent(points))
    output_impedance(linear, plus, minus, FREQUENCIES)
    seconds: float = fastest(lambda: output_impedance(linear, plus, minus, FREQUENCIES), 10)
    return seconds


FIRST = """
import numpy as np
from railwright.circuit.design import read
from railwright.surveys.fixture import Fixture
from railwright.surveys.survey import Survey
from pathlib import Path
survey = Survey(Fixture.of(read(Path({demo!r}))))
assert survey.states.start.solved.all()
"""


def first_result() -> float:
    """From the start of a process to its first operating point, code compiled before [s]."""
    command = [sys.executable, "-c", FIRST.format(demo=str(DEMO))]
    seconds: float = fastest(lambda: subprocess.run(command, check=True), 3)
    return seconds


@dataclass(frozen=True)
class Figures:
    """What was measured; times in seconds, ratios as named (see docs/benchmarks.md)."""

    transient_vs_ida_single: float
    transient_vs_ida_batch: float
    transient_vs_ida_at_equal_error: float
    transient_vs_ida_batch_at_equal_error: float
    transient_error: float
    transient_lost: float
    point_10000_s: float
    point_lost: float
    cycle_1000_s: float
    cycle_lost: float
    demo_cycle_1000_s: float
    demo_cycle_lost: float
    response_1000x200_s: float
    first_result_s: float
    floor_ratio: float
    supplies: dict[str, dict[str, float]]
    machine: dict[str, Any]
    seed: int
    commit: str


def measured(quick: bool, renew: bool) -> Figures:
    """All figures, in one run."""
    lanes = 32 if quick else 256
    supplies = [demo(lanes)]
    if not quick:
        supplies += [step_down(name, lanes) for name in (CLASSIC, CURRENT_MODE)]
    wanted = reference(supplies, renew)
    repeats = 2 if quick else 3
    found = {one.name: transients(one, wanted[one.name], repeats) for one in supplies}
    points = operating_points(10_000)
    points_on_grid = grid()
    cycled = cycles(quiescent(points_on_grid, switched=True))
    on_demo = cycles(demo(1000).rest)
    ratios = ("single", "batch", "alike_single", "alike_batch")
    single, batch, alike_single, alike_batch = (
        min(f[ratio] for f in found.values()) for ratio in ratios
    )
    first = found["demo"]
    tick_ns = 1e9 * first["batch_s_per_variant_and_core"] / first["iterations_a_variant"]
    return Figures(
        single,
        batch,
        alike_single,
        alike_batch,
        max(f["error"] for f in found.values()),
        sum(f["lost"] for f in found.values()),
        points["s"],
        points["lost"],
        cycled["s"],
        cycled["lost"],
        on_demo["s"],
        on_demo["lost"],
        responses(points_on_grid, "OUT", "0"),
        first_result(),
        tick_ns / floor_ns(supplies[0].step()),
        found,
        machine(),
        SEED,
        commit(),
    )


def main() -> None:
    """Measure, print, and write the figures where asked to."""
    parser = arguments(__doc__, "the demo supply only")
    parser.add_argument("--renew", action="store_true", help="make the reference courses again")
    given = parser.parse_args()
    began = time.perf_counter()
    figures = measured(given.quick, given.renew)
    for name, value in asdict(figures).items():
        print(f"{name}: {value}")
    print(f"took {time.perf_counter() - began:.0f} s")
    write(asdict(figures), given.json)


if __name__ == "__main__":
    main()
