"""Compiled code of one topology: made once, kept on disk, run on blocks of lanes by threads."""

from __future__ import annotations

import ctypes
import hashlib
import json
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache

import llvmlite.binding as llvm
import numpy as np
from numpy.typing import NDArray

from railwright.engine import processor, storage
from railwright.engine.elimination import pivot_order
from railwright.engine.kernel_code import REPORT_ROWS, kernel_module
from railwright.engine.reduction import at_rest
from railwright.engine.system import Name, System, slope_matrices, trace
from railwright.engine.topology import Topology

Array = NDArray[np.float64]
Samples = Callable[[System], tuple[Array, Array]]
"""Unknowns and parameters (row, lane) on which the order of elimination is chosen."""
BLOCKS_A_TASK = 32


@dataclass(frozen=True)
class Layout:
    """What the rows of the compiled code mean."""

    parameters: tuple[Name, ...]
    observables: tuple[Name, ...]
    width: int


class Kernel:
    """Compiled `newton` and `inspect` of one topology."""

    def __init__(self, topology: Topology, layout: Layout, code: bytes) -> None:
        self.topology = topology
        self.layout = layout
        self._engine = _execution_engine(code)
        self._scratch = np.empty((0, len(layout.parameters), layout.width))
        pointer = ctypes.c_void_p
        address = self._engine.get_function_address
        self._newton = ctypes.CFUNCTYPE(
            None, *[pointer] * 3, ctypes.c_int64, ctypes.c_int64, ctypes.c_double
        )(address("newton"))
        self._inspect = ctypes.CFUNCTYPE(None, *[pointer] * 3, ctypes.c_int64)(address("inspect"))

    def scratch(self, blocks: int) -> Array:
        """Memory for parameters (block, row, W); the same every time, since fresh is slow."""
        if self._scratch.shape[0] < blocks:
            self._scratch = np.empty((blocks, len(self.layout.parameters), self.layout.width))
        return self._scratch[:blocks]

    def newton(self, x: Array, p: Array, iterations: int, damping: float = 1.0) -> Array:
        """Iterate x (block, row, W) in place; the report (block, REPORT_ROWS, W)."""
        report = np.empty((x.shape[0], REPORT_ROWS, self.layout.width))
        self._spread(
            lambda i, n: self._newton(*_at(i, x, p, report), n, iterations, damping), len(x)
        )
        return report

    def inspect(self, x: Array, p: Array) -> Array:
        """Observables and, last, the largest relative imbalance (block, row, W)."""
        out = np.empty((x.shape[0], len(self.layout.observables) + 1, self.layout.width))
        self._spread(lambda i, n: self._inspect(*_at(i, x, p, out), n), len(x))
        return out

    def _spread(self, work: Callable[[int, int], None], blocks: int) -> None:
        starts = range(0, blocks, BLOCKS_A_TASK)
        sizes = [min(BLOCKS_A_TASK, blocks - s) for s in starts]
        if len(sizes) < 2:
            for start, size in zip(starts, sizes, strict=True):
                work(start, size)
        else:
            list(_threads().map(work, starts, sizes))


def _at(block: int, *arrays: Array) -> list[int]:
    """Addresses of a block in contiguous arrays (block, row, W)."""
    return [a.ctypes.data + block * a.strides[0] for a in arrays]


@cache
def _threads() -> ThreadPoolExecutor:
    return ThreadPoolExecutor(os.cpu_count() or 1, thread_name_prefix="lanes")


def _execution_engine(code: bytes) -> llvm.ExecutionEngine:
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), processor.target_machine())
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()
    return engine


def key_of(topology: Topology) -> str:
    """Name under which a topology's code is kept."""
    text = "\n".join([topology.signature(), storage.source_fingerprint(), processor.fingerprint()])
    return hashlib.sha256(text.encode()).hexdigest()


_loaded: dict[str, Kernel] = {}


def kernel_for(
    topology: Topology,
    samples: Samples,
    announce: Callable[[str], None] | None = None,
    renew: bool = False,
) -> Kernel:
    """The kernel of a topology: from memory, from disk, or compiled now.

    samples are asked for only when compiling. announce is told before a compilation starts.
    renew compiles again although code exists (a new order of elimination is wanted).
    """
    key = key_of(topology)
    if not renew and key in _loaded:
        return _loaded[key]
    layout, code = (None if renew else _unpacked(storage.fetch(key))) or (None, b"")
    if layout is None:
        if announce is not None:
            announce(f"compiling the equations of {len(topology.elements)} parts")
        layout, code = compiled(topology, samples)
        storage.keep(key, _packed(layout, code))
    _loaded[key] = Kernel(topology, layout, code)
    return _loaded[key]


def compiled(topology: Topology, samples: Samples) -> tuple[Layout, bytes]:
    """Layout and object code of a topology."""
    system = at_rest(trace(topology))
    x, p = samples(system)
    order = pivot_order(list(system.slopes), slope_matrices(system, x, p))
    layout = Layout(system.parameters, tuple(system.observed), processor.lane_width())
    module = kernel_module(system, order, layout.observables, layout.width)
    machine = processor.target_machine()
    parsed = llvm.parse_assembly(str(module))
    parsed.verify()
    _optimised(parsed, machine)
    return layout, machine.emit_object(parsed)


def _optimised(module: llvm.ModuleRef, machine: llvm.TargetMachine) -> None:
    options = llvm.create_pipeline_tuning_options(speed_level=1)
    options.loop_vectorization = False
    options.slp_vectorization = False
    builder = llvm.create_pass_builder(machine, options)
    builder.getModulePassManager().run(module, builder)


def _packed(layout: Layout, code: bytes) -> bytes:
    head = json.dumps([layout.parameters, layout.observables, layout.width]).encode()
    return len(head).to_bytes(8, "big") + head + code + hashlib.sha256(head + code).digest()


def _unpacked(content: bytes | None) -> tuple[Layout, bytes] | None:
    if content is None or len(content) < 40:
        return None
    length = int.from_bytes(content[:8], "big")
    body, digest = content[8:-32], content[-32:]
    if hashlib.sha256(body).digest() != digest:
        return None
    parameters, observables, width = json.loads(body[:length])
    layout = Layout(_names(parameters), _names(observables), width)
    return layout, body[length:]


def _names(pairs: Sequence[Sequence[str]]) -> tuple[Name, ...]:
    return tuple((owner, name) for owner, name in pairs)
