"""Courses in time of many lanes, each with its own steps.

The step length follows the error of what is stored (charges and fluxes). Corners of what is set
from outside and clock ticks are exact ends of steps; other events are located within the step.
A lane that cannot go on is reported with the instant and the reason; the others are not
disturbed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from railwright.engine.kernel import Announce, threads
from railwright.engine.model import Lanes, Model, Name, chosen
from railwright.engine.processor import course_width
from railwright.engine.rows import DOUBTFUL, NO_RESTART, PAUSED, RUNNING, STORM, TOO_MANY, TOO_SHORT
from railwright.engine.stepping import FAR
from railwright.engine.stimulus import PiecewiseLinear
from railwright.engine.transient_kernel import (
    Doubts,
    Memory,
    Purpose,
    TransientKernel,
    transient_kernel,
)
from railwright.engine.waveforms import Watch, Waveforms, places_of, wanted_of

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

OUTCOMES: Mapping[int, str] = {
    PAUSED: "",
    RUNNING: "the course was not begun",
    TOO_SHORT: "no step is short enough for the tolerance or for the iteration to converge",
    TOO_MANY: "the steps allowed were used up",
    NO_RESTART: "no consistent state was found at the start or after a jump",
    DOUBTFUL: "no order of elimination was found whose pivots can be trusted",
    STORM: "events follow one another without an end at one instant",
}
"""Why a lane ended; nothing where it is whole."""
STUCK = (TOO_SHORT, NO_RESTART, DOUBTFUL)
"""Ends of lanes whose equations may have no solution nearby any more, at a given charge."""
LAST_TRY = 0.3
"""Of the tolerance, for lanes that are stuck with strays too: other steps lead past a bend."""


@dataclass(frozen=True)
class Tolerance:
    """How exact each step must be.

    relative: share of the largest value so far of each charge or flux. absolute: in V, A or K
    of what stores it.
    """

    relative: float = 1e-4
    absolute: float = 1e-6

    def scaled(self, factor: float) -> Tolerance:
        """One that is so many times as wide."""
        return Tolerance(factor * self.relative, factor * self.absolute)


@dataclass(frozen=True)
class Course(Waveforms):
    """Courses over lanes and `times`.

    outcomes: per lane a sentence, empty where the course is whole. ended: instant reached [s].
    steps, rejected: how many were made and how many tried in vain; trust: in the pivots of the
    last step, see `solve_symbolically`; strays: lanes that found no way on without the stray
    capacitances of their nets, see `STRAY`; iterations: of all blocks of lanes together.

    Between the ends of steps values lie on parabolas, which what is stored follows within the
    tolerance. Where a quantity that stores nothing bends sharply (the voltage of a diode that turns
    off) they overshoot. A current that is nothing but the slope of a charge, as of a capacitor
    across a source without resistance, follows the steps and is not held to a tolerance: set
    `longest` for it.
    """

    model: Model
    times: Array
    outcomes: tuple[str, ...]
    ended: Array
    steps: Array
    rejected: Array
    trust: Array
    strays: Mask
    iterations: int
    _rows: Mapping[Name, Array] = field(repr=False)

    @cached_property
    def solved(self) -> Mask:
        """Lanes whose course is whole."""
        return np.array([not outcome for outcome in self.outcomes])

    @property
    def _shape(self) -> tuple[int, int]:
        return len(self.outcomes), self.times.size


def transient(
    model: Model,
    lanes: Lanes,
    count: int,
    times: Array,
    start: Array | None = None,
    stimuli: Mapping[Name, PiecewiseLinear] | None = None,
    tolerance: Tolerance = Tolerance(),
    watch: Watch | None = None,
    longest: float | None = None,
    most_steps: float = 1e7,
    announce: Announce | None = None,
) -> Course:
    """Courses of `count` lanes from times[0] to times[-1].

    model: of an isothermal topology. lanes: as for `operating_point`, held quantities included.
    times: instants of outputs [s], rising. start: unknowns (row, lane) to begin from, whose
    charges and fluxes are kept while the rest is made to fit; None starts with nothing stored.
    stimuli: courses of inputs. watch: what the result keeps, everything if None. longest: the
    longest step [s]. Raises ValueError where the model warms up or solves for inputs.
    """
    _refuse(model, times)
    instants = np.ascontiguousarray(times, float)
    begin = np.zeros((len(model.topology.unknowns), 1)) if start is None else start
    task = _Task(model, lanes, count, instants, begin, stimuli or {}, tolerance)
    task.longest = longest or 0.02 * (instants[-1] - instants[0])
    task.most_steps = most_steps
    work = _Work(task, watch, announce)
    work.attempt(model, np.arange(count))
    stuck = work.ended(*STUCK)
    if stuck.size and model.topology.moving:
        strayed = replace(model, topology=replace(model.topology, strays=True))
        work.attempt(strayed, stuck)
        work.strays[stuck] = True
        left = work.ended(*STUCK)
        if left.size:
            task.tolerance = tolerance.scaled(LAST_TRY)
            work.attempt(strayed, left)
    return work.course()


def _refuse(model: Model, times: Array) -> None:
    topology = model.topology
    if not topology.slow and (not topology.isothermal or topology.solvable):
        raise ValueError(
            "a course in time needs an isothermal model whose inputs are all "
            "given: take that of `quiescent`, or `heat` for what warms up"
        )
    if np.ndim(times) != 1 or np.size(times) < 2 or np.any(np.diff(times) <= 0):
        raise ValueError(f"wanted are two or more instants of output [s], rising; found {times!r}")


def _refuse_unread(memory: Memory, stimuli: Iterable[Name]) -> None:
    for ref, name in stimuli:
        if (ref, name) not in memory.parameters:
            known = ", ".join(n for owner, n in memory.parameters if owner == ref) or "nothing"
            raise ValueError(
                f"no equation reads {name} of {ref}, whose course in time is given; "
                f"of {ref} they read {known}"
            )


@dataclass
class _Task:
    """What is asked for."""

    model: Model
    lanes: Lanes
    count: int
    times: Array
    start: Array
    stimuli: Mapping[Name, PiecewiseLinear]
    tolerance: Tolerance
    longest: float = FAR
    most_steps: float = FAR


class _Work:
    """Lanes on their way through time."""

    kernel: TransientKernel

    def __init__(self, task: _Task, watch: Watch | None, announce: Announce | None) -> None:
        self.task = task
        self.watch = watch
        self.announce = announce
        self.rows: dict[Name, Array] = {}
        self.reports = np.zeros((len(_REPORT), task.count))
        self.strays = np.zeros(task.count, bool)
        self.iterations = 0

    def ended(self, *status: int) -> NDArray[np.intp]:
        """Lanes that ended in one of these ways."""
        return np.flatnonzero(np.isin(self.reports[_REPORT.index("status")], status))

    def attempt(self, model: Model, which: NDArray[np.intp]) -> None:
        """Follow these lanes, and those with doubtful pivots once more with a new order."""
        doubts = self._follow(model, which, None)
        if doubts:
            self._follow(model, self.ended(DOUBTFUL), Doubts.together(doubts))

    def course(self) -> Course:
        """What became of all lanes."""
        ended = dict(zip(_REPORT, self.reports, strict=True))
        return Course(
            self.task.model,
            self.task.times,
            tuple(OUTCOMES[int(s)] for s in ended["status"]),
            ended["start"],
            ended["steps"],
            ended["rejected"],
            ended["trust"],
            self.strays,
            self.iterations,
            self.rows,
        )

    def _follow(self, model: Model, which: NDArray[np.intp], doubts: Doubts | None) -> list[Doubts]:
        task = self.task
        purpose = Purpose(tuple(task.stimuli), width=course_width(which.size))
        self.kernel = transient_kernel(
            model, purpose, task.lanes, task.start, self.announce, doubts
        )
        memory = self.kernel.memory
        _refuse_unread(memory, task.stimuli)
        self.places = places_of(task.model.topology, memory)
        driven = {n: c.value(float(task.times[0]), task.count) for n, c in task.stimuli.items()}
        self.parameters = task.model.parameters(memory.parameters, {**task.lanes, **driven})
        if not self.rows:
            shape = (task.count, task.times.size)
            self.rows = {name: np.empty(shape) for name in wanted_of(self.watch, self.places)}
        firsts = range(0, which.size, memory.width)
        blocks = [which[first : first + memory.width] for first in firsts]
        found = list(threads().map(self._block, blocks)) if len(blocks) > 1 else []
        found = found or [self._block(block) for block in blocks]
        self.iterations += sum(ticks for ticks, _ in found)
        return [doubts for _, doubts in found if doubts is not None]

    def _block(self, lanes: NDArray[np.intp]) -> tuple[int, Doubts | None]:
        """Follow up to W lanes; the number of iterations, and what is doubtful."""
        memory = self.kernel.memory
        # The last lane fills the last block.
        which = lanes[np.minimum(np.arange(memory.width), lanes.size - 1)]
        block = self.kernel.block()
        self._fill(block, which)
        outputs = np.full((self.task.times.size, memory.recorded, memory.width), np.nan)
        ticks = self._run(block, which, outputs)
        self._read(block, outputs, lanes)
        report = np.array([memory.rows(block, name)[0, : lanes.size] for name in _REPORT])
        self.reports[:, lanes] = report
        return ticks, Doubts.of(memory, block)

    def _fill(self, block: Array, which: NDArray[np.intp]) -> None:
        task, memory = self.task, self.kernel.memory
        found = chosen(self.parameters, which)
        begin, end = float(task.times[0]), float(task.times[-1])
        for place, name in enumerate(memory.parameters):
            memory.rows(block, "parameter")[place] = found[name]
        start = task.start
        memory.rows(block, "x")[:] = start[:, which] if start.shape[1] > 1 else start
        for row, value in {
            "start": begin,
            "time": begin,
            "due": FAR,
            "ahead": FAR,
            "wish": 1e-4 * min(task.longest, end - begin),
            "longest": task.longest,
            "relative": task.tolerance.relative,
            "absolute": task.tolerance.absolute,
            "restart": 1.0,
            "span": 1.0,
            "laps": FAR,
            "trust": 1.0,
        }.items():
            memory.rows(block, row)[:] = value
        self.kernel.prepare(block)

    def _run(self, block: Array, which: NDArray[np.intp], outputs: Array) -> int:
        memory = self.kernel.memory
        ticks = 0
        corners = self._corners(which)
        for begin, end in pairwise(corners):
            self._drive(block, which, begin)
            status = memory.rows(block, "status")
            status[status == PAUSED] = RUNNING
            memory.rows(block, "until")[:] = end
            memory.rows(block, "final")[:] = float(end == corners[-1])
            if begin != corners[0]:
                memory.rows(block, "restart")[:] = 1.0
                memory.rows(block, "before")[:] = 0.0
            ticks += self.kernel.run(block, self.task.times, outputs, self.task.most_steps)
        return ticks

    def _corners(self, which: NDArray[np.intp]) -> Sequence[float]:
        """Start, corners of the lanes of a block, and end [s]."""
        begin, end = float(self.task.times[0]), float(self.task.times[-1])
        inner = {float(c) for course in self.task.stimuli.values() for c in course.corners(which)}
        return [begin, *sorted(c for c in inner if begin < c < end), end]

    def _drive(self, block: Array, which: NDArray[np.intp], after: float) -> None:
        memory = self.kernel.memory
        for place, name in enumerate(memory.driven):
            lines = self.task.stimuli[name].lines(after, self.task.count)
            for row, line in zip(("drive", "drive slope", "drive since"), lines, strict=True):
                memory.rows(block, row)[place] = line[which]

    def _read(self, block: Array, outputs: Array, lanes: NDArray[np.intp]) -> None:
        recorded = self.kernel.memory.recorded
        seen = None
        if any(self.places[name] >= recorded for name in self.rows):
            seen = self.kernel.observe(block, self.task.times, outputs)
        for name, row in self.rows.items():
            place = self.places[name]
            source = outputs[:, place] if place < recorded else _known(seen)[:, place - recorded]
            row[lanes] = source[:, : lanes.size].T


def _known(seen: Array | None) -> Array:
    assert seen is not None
    return seen


_REPORT = ("status", "start", "steps", "rejected", "trust")
