"""Courses in time of many lanes, each with its own steps.

The step length follows the error of what is stored (charges and fluxes). Corners of what is set
from outside and clock ticks are exact ends of steps; other events are located within the step.
A lane that cannot go on is reported with the instant and the reason; the others are not
disturbed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
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


@dataclass(frozen=True)
class Tolerance:
    """How exact each step must be.

    relative: share of the largest value so far of each charge or flux. absolute: in V, A or K
    of what stores it.
    """

    relative: float = 1e-4
    absolute: float = 1e-6


@dataclass(frozen=True)
class Course(Waveforms):
    """Courses over lanes and `times`.

    outcomes: per lane a sentence, empty where the course is whole. ended: instant reached [s].
    steps, rejected: how many were made and how many tried in vain; trust: in the pivots of the
    last step, see `solve_symbolically`; iterations: of all blocks of lanes together.

    Between the ends of steps values lie on parabolas. Where a quantity that stores nothing bends
    sharply (the current of a diode that turns off) these overshoot by what the tolerance lets
    pass. A current that is nothing but the slope of a charge, as of a capacitor across a source
    without resistance, follows the steps and is not held to a tolerance: set `longest` for it.
    """

    model: Model
    times: Array
    outcomes: tuple[str, ...]
    ended: Array
    steps: Array
    rejected: Array
    trust: Array
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
    work = _Work(model, lanes, count, np.ascontiguousarray(times, float), start, stimuli or {})
    work.tolerance = tolerance
    work.longest = longest or 0.02 * (work.times[-1] - work.times[0])
    work.most_steps = most_steps
    purpose = Purpose(tuple(work.stimuli), width=course_width(count))
    work.kernel = transient_kernel(model, purpose, lanes, work.start, announce)
    _refuse_unread(work.kernel.memory, work.stimuli)
    course = work.course(watch)
    if work.doubts:
        doubts = Doubts.together(work.doubts)
        work.kernel = transient_kernel(model, purpose, lanes, work.start, announce, doubts)
        course = work.course(watch)
    return course


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


class _Work:
    """Lanes on their way through time."""

    kernel: TransientKernel
    tolerance: Tolerance
    longest: float
    most_steps: float

    def __init__(
        self,
        model: Model,
        lanes: Lanes,
        count: int,
        times: Array,
        start: Array | None,
        stimuli: Mapping[Name, PiecewiseLinear],
    ) -> None:
        self.model = model
        self.lanes = lanes
        self.count = count
        self.times = times
        self.start = np.zeros((len(model.topology.unknowns), 1)) if start is None else start
        self.stimuli = stimuli
        self.doubts: list[Doubts] = []

    @cached_property
    def places(self) -> Mapping[Name, int]:
        """What can be watched, see `places_of`."""
        return places_of(self.model.topology, self.kernel.memory)

    def course(self, watch: Watch | None) -> Course:
        wanted = wanted_of(watch, self.places)
        width = self.kernel.memory.width
        rows = {name: np.empty((self.count, self.times.size)) for name in wanted}
        reports = np.empty((len(_REPORT), self.count))
        ticks = 0
        firsts = range(0, self.count, width)
        for first, (report, spent) in zip(firsts, self._spread(firsts, rows), strict=True):
            reports[:, first : first + width] = report
            ticks += spent
        ended = dict(zip(_REPORT, reports, strict=True))
        return Course(
            self.model,
            self.times,
            tuple(OUTCOMES[int(s)] for s in ended["status"]),
            ended["start"],
            ended["steps"],
            ended["rejected"],
            ended["trust"],
            ticks,
            rows,
        )

    def _spread(self, firsts: range, rows: Mapping[Name, Array]) -> Iterator[tuple[Array, int]]:
        def work(first: int) -> tuple[Array, int]:
            return self._block(first, rows)

        if len(firsts) < 2:
            return iter([work(first) for first in firsts])
        return threads().map(work, firsts)

    def _block(self, first: int, rows: Mapping[Name, Array]) -> tuple[Array, int]:
        memory = self.kernel.memory
        # The last lane fills the last block.
        which = np.minimum(np.arange(first, first + memory.width), self.count - 1)
        real = min(memory.width, self.count - first)
        block = self.kernel.block()
        self._fill(block, which)
        outputs = np.full((self.times.size, memory.recorded, memory.width), np.nan)
        ticks = self._run(block, which, outputs)
        self._read(block, outputs, slice(first, first + real), rows)
        doubts = Doubts.of(memory, block)
        if doubts is not None:
            self.doubts.append(doubts)
        report = np.array([memory.rows(block, name)[0, :real] for name in _REPORT])
        return report, ticks

    def _fill(self, block: Array, which: NDArray[np.intp]) -> None:
        memory = self.kernel.memory
        lanes = chosen(self.lanes, which)
        begin, end = float(self.times[0]), float(self.times[-1])
        driven = {n: c.value(begin, self.count)[which] for n, c in self.stimuli.items()}
        found = self.model.parameters(memory.parameters, {**lanes, **driven})
        for place, name in enumerate(memory.parameters):
            memory.rows(block, "parameter")[place] = found[name]
        start = self.start
        memory.rows(block, "x")[:] = start[:, which] if start.shape[1] > 1 else start
        for row, value in {
            "start": begin,
            "time": begin,
            "due": FAR,
            "ahead": FAR,
            "wish": 1e-4 * min(self.longest, end - begin),
            "longest": self.longest,
            "relative": self.tolerance.relative,
            "absolute": self.tolerance.absolute,
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
            ticks += self.kernel.run(block, self.times, outputs, self.most_steps)
        return ticks

    def _corners(self, which: NDArray[np.intp]) -> Sequence[float]:
        """Start, corners of the lanes of a block, and end [s]."""
        begin, end = float(self.times[0]), float(self.times[-1])
        inner = {float(c) for course in self.stimuli.values() for c in course.corners(which)}
        return [begin, *sorted(c for c in inner if begin < c < end), end]

    def _drive(self, block: Array, which: NDArray[np.intp], after: float) -> None:
        memory = self.kernel.memory
        for place, name in enumerate(memory.driven):
            lines = self.stimuli[name].lines(after, self.count)
            for row, line in zip(("drive", "drive slope", "drive since"), lines, strict=True):
                memory.rows(block, row)[place] = line[which]

    def _read(self, block: Array, outputs: Array, lanes: slice, rows: Mapping[Name, Array]) -> None:
        real = lanes.stop - lanes.start
        recorded = self.kernel.memory.recorded
        seen = None
        if any(self.places[name] >= recorded for name in rows):
            seen = self.kernel.observe(block, self.times, outputs)
        for name, row in rows.items():
            place = self.places[name]
            source = outputs[:, place] if place < recorded else _known(seen)[:, place - recorded]
            row[lanes] = source[:, :real].T


def _known(seen: Array | None) -> Array:
    assert seen is not None
    return seen


_REPORT = ("status", "start", "steps", "rejected", "trust")
