"""The periodic steady state of switching circuits, found directly.

Newton iteration on the map over one period (shooting): the sensitivities of all charges and
fluxes are carried along through steps and events, so that the derivative of the map is exact for
the steps taken. Source: Aprille and Trick (1972), Steady-state analysis of nonlinear circuits
with periodic inputs. The eigenvalues of that derivative are the multipliers of the cycle: what
is left of a small disturbance after one period. Beyond 1 in magnitude the cycle does not last.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import repeat

import numpy as np
from numpy.typing import NDArray

from railwright.engine.kernel import Announce, threads
from railwright.engine.model import Lanes, Model, Name
from railwright.engine.processor import course_width
from railwright.engine.recording import Recording, record
from railwright.engine.rows import PAUSED, RUNNING
from railwright.engine.stepping import FAR, PARASITIC
from railwright.engine.transient import OUTCOMES, Tolerance
from railwright.engine.transient_kernel import Doubts, Purpose, TransientKernel, transient_kernel
from railwright.engine.waveforms import Watch, Waveforms, places_of, wanted_of

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

UNDECIDED = 0.005
"""A multiplier this near to the unit circle tells nothing about what lasts."""
SETTLING, ITERATIONS = 2, 20
"""Periods before the first iteration, and iterations."""
LONG = 60
"""Periods that a lane without a cycle is followed before the next attempt."""
COMING_TO_REST = 3000
"""Periods until a lane that does not repeat goes on in the same way all the time."""
PRECISE = Tolerance(1e-4, 1e-7)
NOISE, ROUNDING, CLOSE = 20.0, 1e-12, 1e-3
"""A cycle is found where a period brings less change than the errors of some steps, where the
last move was small too."""
STEPS = 12.0
"""Least number of steps in a period."""
BUDGET = 5000
"""Steps that a period may take."""
FORGET = 0.3
"""What is kept of a charge's swing from one iteration to the next: the first ones go far."""
LARGEST_MOVE = 1.0
"""Largest change of a charge or flux in one iteration, as a share of its largest value."""


@dataclass(frozen=True)
class Cycle(Waveforms):
    """Periodic steady states over lanes.

    phase: shares of the period at which waveforms are read. period [s], multipliers (lane,
    mode) complex, `laps`: ticks of the clock in the period (2 where the period has doubled).
    outcomes: per lane a sentence, empty where a cycle was found.
    """

    model: Model
    phase: Array
    period: Array
    laps: NDArray[np.intp]
    multipliers: NDArray[np.complex128]
    modes: NDArray[np.complex128]
    """What each multiplier belongs to (lane, storage, mode), over each charge's or flux's swing."""
    outcomes: tuple[str, ...]
    iterations: NDArray[np.intp]
    _rows: Mapping[Name, Array] = field(repr=False)
    _work: _Work = field(repr=False)

    @cached_property
    def solved(self) -> Mask:
        """Lanes in which a cycle was found."""
        return np.array([not outcome for outcome in self.outcomes])

    @property
    def largest(self) -> Array:
        """Magnitude of the largest multiplier (lane)."""
        found: Array = np.abs(self.multipliers).max(axis=1, initial=0.0)
        return np.where(self.solved, found, np.nan)

    @property
    def lasts(self) -> Mask:
        """Lanes whose cycle lasts: every disturbance dies away."""
        found: Mask = self.solved & (self.laps == 1) & (self.largest < 1.0 - UNDECIDED)
        return found

    @property
    def decays(self) -> Mask:
        """Lanes whose cycle of one period does not last, or that have none."""
        doubled = self.solved & (self.laps > 1)
        found: Mask = doubled | (self.solved & (self.largest > 1.0 + UNDECIDED))
        return found

    @property
    def _shape(self) -> tuple[int, int]:
        return len(self.outcomes), self.phase.size

    def share(self, ref: str) -> Array:
        """How much a part takes part in each mode, of what takes part most (lane, mode).

        By how far it swings in the cycle: a mode that hardly moves it has nothing to do with it.
        """
        own = np.array([owner == ref for owner in self._work.memory.owners], bool)
        sizes = np.abs(self.modes)
        largest = sizes.max(axis=1, initial=0.0)
        mine = sizes[:, own].max(axis=1, initial=0.0)
        shares: Array = np.divide(mine, largest, out=np.zeros_like(mine), where=largest > 0)
        return shares

    def followed(self, ticks: int, watch: Watch | None) -> Iterator[Stretch]:
        """Lanes that go on without repeating, some at a time, over a number of ticks.

        What is slow has come to rest before.
        """
        return self._work.followed(ticks, self.phase.size - 1, watch)

    @property
    def clocked(self) -> bool:
        """Whether a clock of the circuit's own sets the period."""
        return self._work.period is None

    def recorded(self) -> Iterator[tuple[NDArray[np.intp], Recording]]:
        """Lanes and the steps of their cycle, some lanes at a time; of those that were found."""
        return self._work.recorded()

    def spectrum(self, row: Array) -> NDArray[np.complex128]:
        """Amplitudes of a row's harmonics (lane, harmonic), the mean first; peak values."""
        found: NDArray[np.complex128] = np.fft.rfft(row[:, :-1], axis=1) / (row.shape[1] - 1)
        found[:, 1:] *= 2.0
        return found


@dataclass(frozen=True)
class Stretch(Waveforms):
    """Several ticks of lanes whose waveform does not repeat, one after the other.

    lanes: their places among all; period: what all of it takes [s].
    """

    model: Model
    lanes: NDArray[np.intp]
    phase: Array
    period: Array
    _rows: Mapping[Name, Array] = field(repr=False)

    @property
    def _shape(self) -> tuple[int, int]:
        return self.lanes.size, self.phase.size


def cycle(
    model: Model,
    lanes: Lanes,
    count: int,
    start: Array,
    clock: Name | None = None,
    period: Array | float | None = None,
    phases: int = 256,
    tolerance: Tolerance = PRECISE,
    watch: Watch | None = None,
    announce: Announce | None = None,
) -> Cycle:
    """Periodic steady states of `count` lanes.

    model: of an isothermal topology. start: unknowns (row, lane) near the cycle, such as those of
    the averaged circuit. clock: the held quantity (ref, name) that an event sets once in each
    period; or else period: the time in which everything set from outside repeats [s]. watch: as
    for `transient`.
    """
    if (clock is None) == (period is None):
        raise ValueError("a cycle needs a clock or a period: state one of them")
    doubts: Doubts | None = None
    for _ in range(2):
        purpose = Purpose((), True, clock, course_width(count))
        kernel = transient_kernel(model, purpose, lanes, start, announce, doubts)
        work = _Work(model, kernel, lanes, count, tolerance)
        if period is not None:
            work.period = np.broadcast_to(np.asarray(period, float), (count,))
        work.begin(start)
        found = work.find(phases, watch)
        some = [d for d in (Doubts.of(kernel.memory, b) for b in work.blocks) if d is not None]
        if not some:
            break
        doubts = Doubts.together(some)
    return found


class _Work:
    """Lanes on their way to their cycles; block k holds lanes k W to (k + 1) W."""

    period: Array | None = None

    def __init__(
        self, model: Model, kernel: TransientKernel, lanes: Lanes, count: int, tolerance: Tolerance
    ) -> None:
        self.model = model
        self.kernel = kernel
        self.memory = kernel.memory
        self.count = count
        self.width = self.memory.width
        self.tolerance = tolerance
        self.lanes = lanes
        number = -(-count // self.width)
        self.blocks = np.zeros((number, self.memory.count, self.width))
        self.which = np.minimum(np.arange(number * self.width), count - 1)
        self.found = np.zeros(count, bool)
        self.wanders = np.zeros(count, bool)
        """Lanes that go on without repeating after one or two periods."""
        self.laps = np.ones(count, np.intp)
        self.rounds = np.zeros(count, np.intp)
        self.length = np.zeros(count)
        """Time that the last period took [s]."""
        self.map = np.zeros((count, len(self.memory.starting), len(self.memory.starting)))
        signs = np.zeros((self.memory.sizes["begun"], len(self.memory.starting)))
        for column, places in enumerate(self.memory.starting):
            for place, sign in places:
                signs[place, column] = sign
        self.signs = signs

    def rows(self, name: str) -> Array:
        """Rows of a name in all blocks (block, row, W), to read and to write."""
        first = self.memory.starts[name]
        return self.blocks[:, first : first + self.memory.sizes[name]]

    def flat(self, name: str) -> Array:
        """The same as (row, lane), copied."""
        found: Array = self.rows(name).transpose(1, 0, 2).reshape(self.memory.sizes[name], -1)
        return found[:, : self.count]

    def spread(self, name: str, values: Array) -> None:
        """Write (row, lane) into the blocks; the last lane fills the last block."""
        padded = values[:, self.which].reshape(values.shape[0], -1, self.width)
        self.rows(name)[:] = padded.transpose(1, 0, 2)

    def begin(self, start: Array) -> None:
        """Fill the blocks and go to the first tick."""
        found = self.model.parameters(self.memory.parameters, self.lanes)
        for place, name in enumerate(self.memory.parameters):
            value = np.broadcast_to(np.asarray(found[name], float), (self.count,))
            self.rows("parameter")[:, place] = value[self.which].reshape(-1, self.width)
        self.spread("x", np.broadcast_to(start, (start.shape[0], self.count)))
        for row, number in {
            "due": FAR,
            "ahead": FAR,
            "until": FAR,
            "longest": 1.0,
            "wish": 1e-9,
            "relative": self.tolerance.relative,
            "absolute": self.tolerance.absolute,
            "trust": 1.0,
            "span": 1.0,
            "restart": 1.0,
        }.items():
            self.rows(row)[:] = number
        for block in self.blocks:
            self.kernel.prepare(block)
        if self.period is None:
            self.run(np.ones(self.count, bool), 0)
        else:
            self.rows("laps")[:] = FAR
            self.rows("status")[:] = PAUSED
            length = self.period[self.which].reshape(-1, 1, self.width)
            self.rows("longest")[:] = length / STEPS
            self.rows("wish")[:] = 1e-3 * length

    def set_off(self, active: Mask, laps: int, carry: Mask | None = None) -> None:
        """Make lanes ready to run for a number of periods.

        carry: lanes that carry their sensitivities along.
        """
        chosen_lanes = self._in_blocks(active)
        self.rows("status")[chosen_lanes] = RUNNING
        if self.period is None:
            self.rows("laps")[chosen_lanes] = laps
        else:
            length = self.period[self.which].reshape(-1, 1, self.width)
            until = self.rows("start") + laps * length
            self.rows("until")[chosen_lanes] = until[chosen_lanes]
        for row, value in (("restart", 1.0), ("before", 0.0), ("steps", 0.0), ("next", 0.0)):
            self.rows(row)[chosen_lanes] = value
        carried = np.zeros(self.count) if carry is None else carry.astype(float)
        self.spread("carry", carried[None])

    def _in_blocks(self, active: Mask) -> Mask:
        """Lanes as (block, 1, W); none of those that merely fill the last block."""
        mask = np.zeros(self.which.size, bool)
        mask[: self.count] = active
        return mask.reshape(-1, 1, self.width)

    def run(
        self, active: Mask, laps: int, phases: Array | None = None, carry: Mask | None = None
    ) -> Array | None:
        """Let lanes run for a number of periods; outputs (block, phase, row, W) if asked for."""
        self.set_off(active, laps, carry)
        begin = self.rows("start").copy()
        busy = np.flatnonzero(self._in_blocks(active).any(axis=(1, 2)))
        outputs = None
        if phases is not None:
            shape = (len(self.blocks), phases.size, self.memory.recorded, self.width)
            outputs = np.full(shape, np.nan)
        instants = np.zeros(0) if phases is None else phases
        budget = float(BUDGET * max(laps, 1))

        def work(number: int) -> None:
            out = np.zeros(0) if outputs is None else outputs[number]
            self.kernel.run(self.blocks[number], instants, out, budget)
            self.kernel.finish(self.blocks[number])

        if busy.size < 2:
            for number in busy:
                work(int(number))
        else:
            list(threads().map(work, (int(n) for n in busy)))
        took = (self.rows("start") - begin).reshape(-1)[: self.count]
        self.length[active] = took[active] / max(laps, 1)
        return outputs

    def recorded(self) -> Iterator[tuple[NDArray[np.intp], Recording]]:
        """Lanes of a block and the steps of their cycle, block by block."""
        for laps in np.unique(self.laps):
            self.set_off(self.found & (self.laps == laps), int(laps))
        busy = self._in_blocks(self.found)[:, 0]
        for number in np.flatnonzero(busy.any(axis=1)):
            block = self.blocks[number].copy()
            steps, arrived = record(self.kernel, block, BUDGET * int(self.laps.max()))
            there = arrived & busy[number]
            yield number * self.width + np.flatnonzero(there), steps.take(there)

    def _sound(self) -> Mask:
        paused: Mask = self.flat("status")[0] == PAUSED
        return paused

    def find(self, phases: int, watch: Watch | None) -> Cycle:
        """Iterate, follow those that do not come to rest, look for doubled periods."""
        everything = np.ones(self.count, bool)
        self._shorten()
        self._measure_by_swing()
        sound, settled = self._sound(), self.blocks.copy()
        self._iterate(everything, 1)
        for wait, laps in enumerate((1, 1, 2), start=1):
            left = ~self.found & sound
            if left.any():
                # What an iteration in vain has done (tripped a latch, say) is forgotten.
                self.blocks = np.where(self._in_blocks(left), settled, self.blocks)
                self.run(left, wait * LONG)
                went_on = self.blocks.copy()
                self._iterate(left & self._sound(), laps)
        left = ~self.found & sound
        if left.any():
            self.blocks = np.where(self._in_blocks(left), went_on, self.blocks)
            self.wanders = left & self._sound()
        self._halve()
        return self._result(phases, watch)

    def _halve(self) -> None:
        """Tell cycles that repeat after one period already, although two were allowed for."""
        doubled = self.found & (self.laps > 1)
        if not doubled.any():
            return
        before = self.flat("size").copy()
        self._reset_columns()
        self.run(doubled, 1, carry=doubled)
        same = doubled & np.all(self._alike(before, self.flat("size")), axis=0)
        self.map[same] = self._maps()[same]
        self.laps[same] = 1

    def _shorten(self) -> None:
        """Keep steps so short that the map is exact even where the waveform is straight."""
        self.run(self._sound(), SETTLING)
        length = np.where(self.length > 0.0, self.length / STEPS, 1.0)
        self.spread("longest", length[None])

    def _measure_by_swing(self) -> None:
        """Let errors count by how far charges and fluxes move within a period.

        Measured by their whole size, an error too small to notice would add up over the many
        periods that a large capacitor remembers.
        """
        self.rows("datum")[:] = self.rows("size")
        self.rows("largest")[:] = 0.0

    def _iterate(self, active: Mask, laps: int) -> None:
        active = active.copy()
        for _ in range(ITERATIONS):
            if not active.any():
                return
            before = self.flat("size").copy()
            self._reset_columns()
            self.run(active, laps, carry=active)
            active &= self._sound()
            after = self.flat("size")
            self.map[active] = self._maps()[active]
            move = _newton(self.map, (after - before).T, active)
            size, done = self._judged(before, after, move)
            ok = active & np.isfinite(size)
            done &= ok
            cut = np.minimum(1.0, LARGEST_MOVE / np.maximum(size, 1e-30))
            self.rounds[active] += 1
            shares = np.where(self._followers(), 1.0, cut[:, None])
            new = np.where(ok[:, None], before.T + shares * move, after.T)
            self._start_from(new.T, active)
            self.rows("datum")[:] = self.rows("size")
            self.rows("largest")[:] *= FORGET
            self.found |= done
            self.laps[done] = laps
            active &= ~done

    def _maps(self) -> Array:
        """Derivatives of the map (lane, storage behind, storage before)."""
        ends = self.memory.columns(self.blocks, "end")  # (block, column, storage, W)
        found: Array = ends.transpose(0, 3, 2, 1).reshape(-1, *ends.shape[2:0:-1])
        return found[: self.count]

    def _judged(self, before: Array, after: Array, move: Array) -> tuple[Array, Mask]:
        """Largest move, as a share of its charge or flux, and lanes that have arrived (lane).

        The last move is made as well: what is left is the error of the steps themselves. What
        nothing else follows may move as far as it wants.
        """
        scale = np.maximum(np.maximum(self.flat("largest"), np.abs(after)), 1e-30).T
        away = np.abs(move / scale)
        near = away < CLOSE * self._looseness()
        arrived: Mask = np.all(self._alike(before, after).T & near, axis=1)
        away = np.where(self._followers(), 0.0, away)
        return away.max(axis=1, initial=0.0), arrived

    def _followers(self) -> Mask:
        """Charges and fluxes (lane, storage) that no other one follows: the heat of a fuse, say."""
        others = np.abs(self.map).sum(axis=1) - np.abs(np.diagonal(self.map, axis1=1, axis2=2))
        found: Mask = others == 0.0
        return found

    def _alike(self, before: Array, after: Array) -> Mask:
        """Charges and fluxes (storage, lane) that differ by no more than the errors of steps."""
        noise = NOISE * self.tolerance.relative * self._looseness()[:, None] * self.flat("largest")
        # Of what hardly swings a single step may leave more than that.
        step = self.tolerance.absolute * self.flat("capacity")
        small: Mask = np.abs(after - before) <= np.maximum(noise, step) + ROUNDING * np.abs(after)
        return small

    def _looseness(self) -> Array:
        # Parasitic charges are followed more loosely, and no more is to be had of them.
        return np.where(self.memory.parasitic, PARASITIC[0], 1.0)

    def _reset_columns(self) -> None:
        for name in ("rate", "middle", "x", "held", "delay"):
            self.memory.columns(self.blocks, name)[:] = 0.0
        begun = self.memory.columns(self.blocks, "begun")
        # What can hold no charge cannot be changed: its column stays nil.
        holds = self.rows("capacity") > 0.0
        begun[:] = self.signs.T[None, :, :, None] * holds[:, :, None, :]

    def _start_from(self, amounts: Array, active: Mask) -> None:
        """Charges and fluxes (storage, lane) from which the active lanes go on."""
        begun = self.signs @ amounts
        old = self.flat("begun")
        self.spread("begun", np.where(active, begun, old))
        self.spread("size", np.where(active, amounts, self.flat("size")))

    def _result(self, phases: int, watch: Watch | None) -> Cycle:
        grid = np.linspace(0.0, 1.0, phases + 1)
        status = self.flat("status")[0].copy()
        lengths = self.length * self.laps
        # To begin from once more; without the columns, which come last.
        begin = self.blocks[:, : self.memory.starts["columns"]].copy()
        self.spread("origin", self.flat("start"))
        self.spread("span", lengths[None])
        self.rows("final")[:] = 1.0
        outputs = self.run(self.found, 1, grid)
        for laps in np.unique(self.laps[self.found & (self.laps > 1)]):
            self.spread("origin", self.flat("start"))
            again = self.run(self.found & (self.laps == laps), int(laps), grid)
            assert again is not None
            assert outputs is not None
            lanes = (self.laps == laps)[self.which].reshape(-1, self.width)
            outputs = np.where(lanes[:, None, None, :], again, outputs)
        assert outputs is not None
        multipliers, modes = (e.astype(complex) for e in np.linalg.eig(np.nan_to_num(self.map)))
        swing = np.maximum(self.flat("largest"), 1e-30).T
        outcomes = [
            "" if found else OUTCOMES[int(s)] or NO_CYCLE
            for found, s in zip(self.found, status, strict=True)
        ]
        waveforms = self._watched(self.blocks, outputs, grid, watch)
        self.blocks = begin
        return Cycle(
            self.model,
            grid,
            lengths,
            self.laps,
            multipliers,
            modes / swing[:, :, None],
            tuple(outcomes),
            self.rounds,
            waveforms,
            self,
        )

    def followed(self, ticks: int, phases: int, watch: Watch | None) -> Iterator[Stretch]:
        """Lanes of a block that wander and their next ticks, block by block."""
        grid = np.linspace(0.0, 1.0, ticks * phases + 1)
        self._widen()
        self.run(self.wanders, COMING_TO_REST)
        self.wanders &= self._sound()
        self.set_off(self.wanders, ticks)
        self.spread("origin", self.flat("start"))
        self.spread("span", ticks * self.length[None])
        self.rows("final")[:] = 1.0
        busy = self._in_blocks(self.wanders)[:, 0]
        for number in np.flatnonzero(busy.any(axis=1)):
            block = self.blocks[number].copy()
            out = np.full((grid.size, self.memory.recorded, self.width), np.nan)
            self.kernel.run(block, grid, out, float(BUDGET * ticks))
            self.kernel.finish(block)
            within = np.flatnonzero(busy[number])
            lanes = number * self.width + within
            rows = self._watched(block[None], out[None], grid, watch)
            yield Stretch(
                self.model,
                lanes,
                grid,
                ticks * self.length[lanes],
                {name: row[within] for name, row in rows.items()},
            )

    def _widen(self) -> None:
        """Give the blocks back the columns that were left away when all was found."""
        short = self.blocks.shape[1]
        whole = np.zeros((len(self.blocks), self.memory.count, self.width))
        whole[:, :short] = self.blocks
        self.blocks = whole

    def _watched(
        self, blocks: Array, outputs: Array, grid: Array, watch: Watch | None
    ) -> dict[Name, Array]:
        places = places_of(self.model.topology, self.memory)
        wanted = wanted_of(watch, places)
        recorded = self.memory.recorded
        whole = outputs
        if any(places[name] >= recorded for name in wanted):
            seen = map(self.kernel.observe, blocks, repeat(grid), outputs)
            whole = np.concatenate([outputs, np.array(list(seen))], axis=2)
        rows = {}
        for name in wanted:
            row = whole[:, :, places[name]].transpose(0, 2, 1)
            rows[name] = row.reshape(-1, grid.size)[: self.count]
        return rows


NO_CYCLE = "no cycle was found: the waveform does not repeat after one or two periods"


def _newton(maps: Array, residual: Array, active: Mask) -> Array:
    """Moves (lane, storage) that bring the map's residual to nil; not-a-number where singular."""
    usable = active & np.isfinite(maps).all(axis=(1, 2)) & np.isfinite(residual).all(axis=1)
    move = np.full(residual.shape, np.nan)
    matrices = np.eye(maps.shape[1]) - maps[usable]
    try:
        move[usable] = np.linalg.solve(matrices, residual[usable][..., None])[..., 0]
    except np.linalg.LinAlgError:
        for lane, matrix in zip(np.flatnonzero(usable), matrices, strict=True):
            with contextlib.suppress(np.linalg.LinAlgError):
                move[lane] = np.linalg.solve(matrix, residual[lane])
    return move
