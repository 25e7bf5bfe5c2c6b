"""Compiled code of one topology: made once, kept on disk, run on blocks of lanes by threads."""

from __future__ import annotations

import ctypes
import hashlib
import json
import os
import threading
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from railwright.engine import processor, storage
from railwright.engine.blocks import blocks as in_blocks
from railwright.engine.blocks import padded
from railwright.engine.compiling import loaded, object_code, packed, unpacked
from railwright.engine.elimination import pivot_order
from railwright.engine.kernel_code import REPORT_ROWS, kernel_module
from railwright.engine.reduction import at_rest
from railwright.engine.system import Name, System, slope_matrices, trace
from railwright.engine.topology import Topology

Array = NDArray[np.float64]
Samples = Callable[[System], tuple[Array, Array]]
"""Unknowns and parameters (row, lane) on which the order of elimination is chosen."""
Announce = Callable[[str], None]
"""Told before a compilation starts."""
BLOCKS_A_TASK = 32
FEW_BLOCKS = 16
"""Rows of so few blocks cost more one by one than all at once."""


@dataclass(frozen=True)
class Layout:
    """What the rows of the compiled code mean."""

    parameters: tuple[Name, ...]
    observables: tuple[Name, ...]
    width: int
    unread: tuple[Name, ...] = ()
    """Parameters that the equations name and no residual depends on: any number will do."""


class _Scratch:
    """Memory for parameters: fresh memory is slow, and most of what is alike stays what it was."""

    def __init__(self, rows: int, width: int) -> None:
        self.memory = np.empty((0, rows, width))
        self.numbers = [np.nan] * rows
        """What stands in a row of all lanes alike, as far as `reach`; not-a-number elsewhere."""
        self.reach = [0] * rows

    def filled(self, values: Iterable[Array | float], blocks: int) -> Array:
        """Parameters (block, row, W)."""
        if self.memory.shape[0] < blocks:
            self.memory = np.empty((blocks, *self.memory.shape[1:]))
            self.numbers = [np.nan] * len(self.numbers)
        p = self.memory[:blocks]
        varied: dict[int, Array] = {}
        for row, value in enumerate(values):
            if isinstance(value, np.ndarray) and value.ndim:
                varied[row] = value
                self.numbers[row] = np.nan
            elif self.numbers[row] != value or self.reach[row] < blocks:
                p[:, row] = value
                self.numbers[row], self.reach[row] = float(value), blocks
        if varied and blocks <= FEW_BLOCKS:
            p[:, list(varied)] = in_blocks(np.array(list(varied.values())).T, p.shape[2])
        else:
            for row, value in varied.items():
                p[:, row] = padded(value, p.shape[2])
        return p


class Kernel:
    """Compiled `newton` and `inspect` of one topology."""

    def __init__(self, topology: Topology, layout: Layout, code: bytes) -> None:
        self.topology = topology
        self.layout = layout
        self.renewals = 0
        """How often another order of elimination was asked for."""
        self._engine = loaded(code)
        self._own = threading.local()
        pointer = ctypes.c_void_p
        address = self._engine.get_function_address
        self._newton = ctypes.CFUNCTYPE(
            None, *[pointer] * 3, ctypes.c_int64, ctypes.c_int64, ctypes.c_double
        )(address("newton"))
        self._inspect = ctypes.CFUNCTYPE(None, *[pointer] * 3, ctypes.c_int64)(address("inspect"))

    def filled(self, values: Iterable[Array | float], count: int) -> Array:
        """Parameters (block, row, W) of lanes, in memory that a thread's next call uses again."""
        if not hasattr(self._own, "scratch"):
            self._own.scratch = _Scratch(len(self.layout.parameters), self.layout.width)
        scratch: _Scratch = self._own.scratch
        return scratch.filled(values, -(-count // self.layout.width))

    def newton(self, x: Array, p: Array, iterations: int, damping: float = 1.0) -> Array:
        """Iterate x (block, row, W) in place; the report (block, REPORT_ROWS, W)."""
        report = np.empty((x.shape[0], REPORT_ROWS, self.layout.width))
        self._spread(
            lambda i, n: self._newton(*addresses(i, x, p, report), n, iterations, damping), len(x)
        )
        return report

    def inspect(self, x: Array, p: Array) -> Array:
        """Observables and, last, the largest relative imbalance (block, row, W)."""
        out = np.empty((x.shape[0], len(self.layout.observables) + 1, self.layout.width))
        self._spread(lambda i, n: self._inspect(*addresses(i, x, p, out), n), len(x))
        return out

    def _spread(self, work: Callable[[int, int], None], blocks: int) -> None:
        starts = range(0, blocks, BLOCKS_A_TASK)
        sizes = [min(BLOCKS_A_TASK, blocks - s) for s in starts]
        if len(sizes) < 2:
            for start, size in zip(starts, sizes, strict=True):
                work(start, size)
        else:
            list(threads().map(work, starts, sizes))


def addresses(block: int, *arrays: Array) -> list[int]:
    """Addresses of a block in contiguous arrays (block, row, W)."""
    return [a.ctypes.data + block * a.strides[0] for a in arrays]


@cache
def threads() -> ThreadPoolExecutor:
    """The threads that blocks of lanes are spread over."""
    return ThreadPoolExecutor(os.cpu_count() or 1, thread_name_prefix="lanes")


def key_of(topology: Topology, *more: str) -> str:
    """Name under which a topology's code is kept, and what else tells it from others."""
    known = [topology.signature(), storage.source_fingerprint(), processor.fingerprint()]
    text = "\n".join([*known, *more])
    return hashlib.sha256(text.encode()).hexdigest()


making = threading.RLock()
"""Held while code is loaded or compiled: what two threads want is made once."""
_loaded: dict[str, Kernel] = {}


def kernel_for(
    topology: Topology,
    samples: Samples,
    announce: Announce | None = None,
    renew: bool = False,
) -> Kernel:
    """The kernel of a topology: from memory, from disk, or compiled now.

    samples are asked for only when compiling. announce is told before a compilation starts.
    renew compiles again although code exists (a new order of elimination is wanted).
    """
    key = key_of(topology)
    with making:
        if not renew and key in _loaded:
            return _loaded[key]
        found = None if renew else unpacked(storage.fetch(key))
        if found is None:
            if announce is not None:
                announce(f"compiling the equations of {len(topology.elements)} parts")
            layout, code = compiled(topology, samples)
            storage.keep(key, packed(_as_json(layout), code))
        else:
            layout, code = _from_json(found[0]), found[1]
        fresh = Kernel(topology, layout, code)
        if renew and key in _loaded:
            fresh.renewals = _loaded[key].renewals + 1
        _loaded[key] = fresh
        return fresh


def compiled(topology: Topology, samples: Samples) -> tuple[Layout, bytes]:
    """Layout and object code of a topology."""
    whole = trace(topology)
    system = at_rest(whole)
    x, p = samples(system)
    order = pivot_order(list(system.slopes), slope_matrices(system, x, p))
    unread = tuple(name for name in whole.parameters if name not in system.parameters)
    observables = tuple(system.observed)
    layout = Layout(system.parameters, observables, processor.lane_width(), unread)
    module = kernel_module(system, order, layout.observables, layout.width)
    return layout, object_code(module)


def _as_json(layout: Layout) -> str:
    return json.dumps([layout.parameters, layout.observables, layout.width, layout.unread])


def _from_json(text: str) -> Layout:
    parameters, observables, width, unread = json.loads(text)
    return Layout(as_names(parameters), as_names(observables), width, as_names(unread))


def as_names(pairs: Sequence[Sequence[str]]) -> tuple[Name, ...]:
    """Names as they come out of JSON."""
    return tuple((owner, name) for owner, name in pairs)
