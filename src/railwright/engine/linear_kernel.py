"""Compiled code of one linearised topology: made once, kept on disk, run by threads."""

from __future__ import annotations

import ctypes
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from railwright.engine import processor, storage
from railwright.engine.compiling import loaded, object_code
from railwright.engine.elimination import pivot_order
from railwright.engine.kernel import Announce, addresses, key_of, making, threads
from railwright.engine.linear_code import linear_module
from railwright.engine.linear_system import LinearSystem
from railwright.engine.system import System
from railwright.engine.topology import Topology

Array = NDArray[np.float64]
Complex = NDArray[np.complex128]
Samples = Callable[[System], tuple[Array, Array]]
"""Unknowns and parameters (row, lane) on which the order of elimination is chosen."""
LANES_A_TASK = 16
SAMPLE_OMEGAS = 10.0 ** np.arange(-1.0, 10.0)
"""Frequencies of those samples in turn [rad/s]: from where nothing is stored to where all is."""


class LinearKernel:
    """Compiled `linearise` and `transfer` of one topology."""

    def __init__(self, linear: LinearSystem, code: bytes) -> None:
        self.linear = linear
        self.width = processor.lane_width()
        self._engine = loaded(code)
        address = self._engine.get_function_address
        pointer, number = ctypes.c_void_p, ctypes.c_int64
        self._linearise = ctypes.CFUNCTYPE(None, *[pointer] * 3, number)(address("linearise"))
        self._transfer = ctypes.CFUNCTYPE(None, *[pointer] * 6, *[number] * 4)(address("transfer"))

    def entries(self, x: Array, p: Array) -> Array:
        """Slopes (lane, entry) at unknowns and parameters, both (block, row, W)."""
        found = np.empty((len(x), len(self.linear.entries), self.width))
        _spread(lambda i, n: self._linearise(*addresses(i, x, p, found), n), len(x))
        return np.ascontiguousarray(found.transpose(0, 2, 1)).reshape(-1, found.shape[1])

    def transfer(
        self, entries: Array, outputs: Array, rights: Array, omegas: Array
    ) -> tuple[Complex, NDArray[np.bool_]]:
        """-output^T (G + jω C)^-1 right, and where it is sure.

        entries (lane, entry); outputs (lane, row); rights (lane, right, row); omegas [rad/s]
        (lane or 1, frequency). Results are (lane, right, frequency) and (lane, frequency).
        """
        lanes, many, wanted = len(entries), rights.shape[1], omegas.shape[1]
        omegas = np.pad(omegas, ((0, 0), (0, -wanted % self.width)), mode="edge")
        padded = omegas.shape[1]
        stride = 0 if len(omegas) == 1 else padded
        results = np.empty((lanes, many, padded), complex)
        verdicts = np.empty((lanes, padded))
        whole = [np.ascontiguousarray(a, float) for a in (entries, outputs, rights)]
        blocks = padded // self.width

        def work(lane: int, count: int) -> None:
            own = [*addresses(lane, *whole), omegas.ctypes.data + lane * stride * 8]
            own += addresses(lane, results, verdicts)
            self._transfer(*own, count, blocks, many, stride)

        _spread(work, lanes)
        return results[..., :wanted], verdicts[:, :wanted] > 0.0


def _spread(work: Callable[[int, int], None], count: int) -> None:
    starts = range(0, count, LANES_A_TASK)
    list(threads().map(work, starts, [min(LANES_A_TASK, count - s) for s in starts]))


_loaded: dict[str, LinearKernel] = {}


def linear_kernel_for(
    topology: Topology, samples: Samples, announce: Announce | None = None
) -> LinearKernel:
    """The kernel of a topology: from memory, from disk, or compiled now.

    samples are asked for only when compiling; announce is told before that starts.
    """
    key = key_of(topology, "linear")
    with making:
        if key not in _loaded:
            linear = LinearSystem.of(topology)
            code = storage.fetch(key)
            if code is None:
                if announce is not None:
                    parts = len(topology.elements)
                    announce(f"compiling the linearised equations of {parts} parts")
                code = _compiled(linear, samples)
                storage.keep(key, code)
            _loaded[key] = LinearKernel(linear, code)
        return _loaded[key]


def _compiled(linear: LinearSystem, samples: Samples) -> bytes:
    x, p = samples(linear.system)
    values = np.array(linear.system.graph.evaluate(linear.entries, x, p)).T
    conductive, storing = dense(linear, values.reshape(x.shape[1], len(linear.entries)))
    omegas = np.resize(SAMPLE_OMEGAS, x.shape[1])[:, None, None]
    transposed = (conductive + 1j * omegas * storing).transpose(0, 2, 1)
    order = pivot_order([(j, i) for i, j in linear.pattern], transposed)
    return object_code(linear_module(linear, order, processor.lane_width()))


def dense(linear: LinearSystem, entries: Array) -> tuple[Array, Array]:
    """G and C (lane, row, column) from slopes (lane, entry)."""
    rows = {entry.id: i for i, entry in enumerate(linear.entries)}
    found = []
    for places in (linear.slopes, linear.storing):
        matrices = np.zeros((len(entries), linear.size, linear.size))
        for (row, column), slope in places.items():
            known = slope.value
            matrices[:, row, column] = entries[:, rows[slope.id]] if known is None else known
        found.append(matrices)
    return found[0], found[1]
