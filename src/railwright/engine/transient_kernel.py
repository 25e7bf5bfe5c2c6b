"""The compiled transient of one topology: made once, kept on disk, run block by block."""

from __future__ import annotations

import ctypes
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from railwright.engine import storage
from railwright.engine.assembly import TIME
from railwright.engine.columns import Columns
from railwright.engine.compiling import loaded, object_code, packed, unpacked
from railwright.engine.elimination import Place, pivot_order
from railwright.engine.faults import faulty_samples, sampled
from railwright.engine.kernel import Announce, as_names, key_of, making
from railwright.engine.model import Lanes, Model
from railwright.engine.reduction import reduced
from railwright.engine.rows import DOUBTFUL, Rows
from railwright.engine.stepping import Step
from railwright.engine.system import Name, System, trace
from railwright.engine.topology import SPREAD, Topology
from railwright.engine.transient_code import transient_module

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Memory:
    """What the rows of a block mean to those who fill and read them."""

    sizes: Mapping[str, int]
    parameters: tuple[Name, ...]
    holds: tuple[Name, ...]
    driven: tuple[Name, ...]
    observables: tuple[Name, ...]
    recorded: int
    width: int
    column: Mapping[str, int]
    """Rows of a column of sensitivities, none where there are no columns."""
    starting: tuple[tuple[tuple[int, float], ...], ...]
    """Column -> (place among the stored rows, change at the start)."""
    parasitic: tuple[bool, ...]
    """Column -> whether its charge need not be followed exactly."""
    owners: tuple[str, ...]
    """Column -> whose charge or flux it is."""

    @cached_property
    def starts(self) -> Mapping[str, int]:
        """Number of each name's first row."""
        starts, total = {}, 0
        for name, size in self.sizes.items():
            starts[name] = total
            total += size
        return starts

    def rows(self, block: Array, name: str) -> Array:
        """The rows of a name in a block's memory (row, W), to read and to write."""
        first = self.starts[name]
        return block[first : first + self.sizes[name]]

    def columns(self, blocks: Array, name: str) -> Array:
        """Rows of a name in all columns (block, column, row, W), to read and to write."""
        first, size = self.starts["columns"], sum(self.column.values())
        shape = (len(blocks), len(self.starting), size, self.width)
        whole = blocks[:, first : first + self.sizes["columns"]].reshape(shape)
        names = list(self.column)
        start = sum(self.column[n] for n in names[: names.index(name)])
        return whole[:, :, start : start + self.column[name]]

    @property
    def count(self) -> int:
        """Number of rows of a block."""
        return sum(self.sizes.values())


@dataclass(frozen=True)
class Doubts:
    """States in which pivots could not be trusted: unknowns and parameters (row, lane)."""

    x: Array
    parameters: Array
    inverse: Array

    @classmethod
    def of(cls, memory: Memory, block: Array) -> Doubts | None:
        """The doubtful lanes of a block, None where it has none."""
        which = memory.rows(block, "status")[0] == DOUBTFUL
        if not which.any():
            return None
        parameters = memory.rows(block, "parameter")[:, which].copy()
        if TIME in memory.parameters:
            parameters[memory.parameters.index(TIME)] = memory.rows(block, "time")[0, which]
        inverse = memory.rows(block, "inverse")[0, which].copy()
        return cls(memory.rows(block, "first")[:, which].copy(), parameters, inverse)

    @classmethod
    def together(cls, some: Sequence[Doubts], most: int = 32) -> Doubts:
        """Doubts of several blocks, as many as are of use."""
        return cls(
            np.hstack([d.x for d in some])[:, :most],
            np.hstack([d.parameters for d in some])[:, :most],
            np.hstack([d.inverse for d in some])[:most],
        )


class TransientKernel:
    """Compiled `prepare`, `run` and `observe` of one topology."""

    def __init__(self, memory: Memory, code: bytes) -> None:
        self.memory = memory
        self._engine = loaded(code)
        address = self._engine.get_function_address
        pointer, number = ctypes.c_void_p, ctypes.c_int64
        self._prepare = ctypes.CFUNCTYPE(None, pointer)(address("prepare"))
        self._run = ctypes.CFUNCTYPE(
            None, pointer, pointer, number, pointer, ctypes.c_double, pointer
        )(address("run"))
        self._finish = None
        if memory.starting:
            self._finish = ctypes.CFUNCTYPE(None, pointer)(address("finish"))
        self._observe = ctypes.CFUNCTYPE(None, pointer, pointer, number, pointer, pointer)(
            address("observe")
        )

    def block(self) -> Array:
        """Fresh memory of a block (row, W)."""
        return np.zeros((self.memory.count, self.memory.width))

    def prepare(self, block: Array) -> None:
        """Compute what stays, and start from the unknowns in the block."""
        self._prepare(block.ctypes.data)

    def run(self, block: Array, times: Array, outputs: Array, budget: float) -> int:
        """Go on until every lane pauses; the number of Newton iterations.

        times: instants of outputs (time), rising. outputs: (time, row, W), filled in.
        """
        ticks = ctypes.c_int64(0)
        self._run(
            block.ctypes.data,
            times.ctypes.data,
            times.size,
            outputs.ctypes.data,
            budget,
            ctypes.addressof(ticks),
        )
        return ticks.value

    def finish(self, block: Array) -> None:
        """Compute charges and fluxes, and their columns, where the lanes paused."""
        assert self._finish is not None
        self._finish(block.ctypes.data)

    def observe(self, block: Array, times: Array, outputs: Array) -> Array:
        """Observables (time, row, W) at outputs (time, row, W)."""
        seen = np.empty((times.size, len(self.memory.observables), self.memory.width))
        self._observe(
            block.ctypes.data, times.ctypes.data, times.size, outputs.ctypes.data, seen.ctypes.data
        )
        return seen


@dataclass(frozen=True)
class Purpose:
    """What a transient is compiled for."""

    driven: tuple[Name, ...] = ()
    """Inputs that follow a course in time."""
    sensitive: bool = False
    """Whether sensitivities are carried along."""
    clock: Name | None = None
    """The held quantity whose event counts laps."""
    width: int = 2
    """Lanes side by side."""


_loaded: dict[str, TransientKernel] = {}


def transient_kernel(
    model: Model,
    purpose: Purpose,
    lanes: Lanes,
    start: Array,
    announce: Announce | None = None,
    doubts: Doubts | None = None,
) -> TransientKernel:
    """The kernel of a model's topology: from memory, from disk, or compiled now.

    The order of elimination is chosen around the lanes' values and their start (row, lane).
    doubts: states in which the pivots could not be trusted; they call for a new order.
    """
    topology = model.topology
    key = key_of(topology, "transient", repr(purpose))
    with making:
        if key not in _loaded or doubts is not None:
            found = None if doubts is not None else unpacked(storage.fetch(key))
            if found is None:
                if announce is not None:
                    announce(f"compiling the equations of {len(topology.elements)} parts in time")
                memory, code = _compiled(model, purpose, lanes, start, doubts)
                storage.keep(key, packed(_as_json(memory), code))
            else:
                memory, code = _from_json(found[0]), found[1]
            _loaded[key] = TransientKernel(memory, code)
        return _loaded[key]


def _compiled(
    model: Model, purpose: Purpose, lanes: Lanes, start: Array, doubts: Doubts | None
) -> tuple[Memory, bytes]:
    step = step_of(model, purpose, lanes, start, doubts)
    system = step.system
    columns = Columns(step) if purpose.sensitive else None
    rows = Rows.of(step, columns)
    memory = Memory(
        rows.sizes,
        system.parameters,
        step.holds,
        step.driven,
        tuple(system.observed),
        len(rows.recorded),
        purpose.width,
        rows.in_column if columns else {},
        tuple(tuple(start.items()) for start in columns.start) if columns else (),
        tuple(s.parasitic for s in system.storages),
        tuple(s.owner for s in system.storages),
    )
    return memory, object_code(transient_module(rows, memory.width))


def system_in_time(topology: Topology) -> System:
    """What a course in time reads of a topology's equations."""
    # Traced from the values themselves: what a part computes of an input follows its course too.
    return reduced(trace(topology, from_values=True), "storages", "events", "paces")


def step_of(
    model: Model, purpose: Purpose, lanes: Lanes, start: Array, doubts: Doubts | None = None
) -> Step:
    """The expressions of a step, with an order of elimination for these lanes."""
    system = system_in_time(model.topology)
    bare = Step(system, purpose.driven, ())
    x, p = _samples(model, bare, lanes, start)
    if doubts is not None:
        odd = np.ones((p.shape[0], doubts.x.shape[1]))
        odd[: len(system.parameters)] = doubts.parameters
        odd[bare.extras["inverse", 0]] = doubts.inverse
        x, p = np.hstack([x, doubts.x]), np.hstack([p, odd])
    return Step(system, purpose.driven, _order(bare, x, p), purpose.clock)


SAMPLES = 48


def _samples(model: Model, step: Step, lanes: Lanes, start: Array) -> tuple[Array, Array]:
    """Unknowns and parameters (row, sample) on which the order of elimination is chosen.

    Around the lanes' own values, in half of the samples drawn far apart; held quantities on
    either side, unknowns near the start and far from it, steps from picoseconds to seconds, the
    topology's faults one at a time. Only what holds over all of them is a good pivot.
    """
    rng = np.random.default_rng(1)
    names = step.system.parameters
    count = SAMPLES + faulty_samples(model.topology)
    known = model.parameters(names, sampled(model.topology, lanes, count))
    p = np.ones((len(names) + len(step.extras), count))
    for place, name in enumerate(names):
        p[place] = known[name]
        if name in step.holds:
            p[place] = rng.integers(0, 2, count)
    apart = 10.0 ** rng.uniform(-1.0, 1.0, (len(names), SAMPLES // 2))
    p[: len(names), SAMPLES // 2 : SAMPLES] *= apart
    p[step.extras["inverse", 0]] = 10.0 ** rng.uniform(0.0, 12.0, count)
    units = [u.unit for u in model.topology.unknowns]
    width = np.array([SPREAD[u] for u in units])[:, None]
    x = np.resize(start.T, (count, start.shape[0])).T.copy()
    x += width * rng.standard_normal(x.shape) * rng.choice([0.01, 1.0], count)
    hot = np.array(units)[:, None] == "K"
    return np.where(hot, np.maximum(x, 250.0), x), p


def _order(step: Step, x: Array, p: Array) -> tuple[Place, ...]:
    places = list(step.slopes)
    values = step.graph.evaluate([step.slopes[place] for place in places], x, p)
    matrices = np.zeros((x.shape[1], x.shape[0], x.shape[0]))
    for (row, column), value in zip(places, values, strict=True):
        matrices[:, row, column] = value
    # Values drawn far apart may make no part at all.
    return pivot_order(places, matrices[np.isfinite(matrices).all(axis=(1, 2))])


def _as_json(memory: Memory) -> str:
    return json.dumps([getattr(memory, f.name) for f in fields(memory)])


def _from_json(text: str) -> Memory:
    sizes, parameters, holds, driven, observables, *rest = json.loads(text)
    recorded, width, column, starting, parasitic, owners = rest
    return Memory(
        sizes,
        as_names(parameters),
        as_names(holds),
        as_names(driven),
        as_names(observables),
        recorded,
        width,
        column,
        tuple(tuple((place, sign) for place, sign in start) for start in starting),
        tuple(parasitic),
        tuple(owners),
    )
