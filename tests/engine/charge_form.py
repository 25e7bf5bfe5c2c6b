"""A circuit's equations as other people's integrators want them: G(t, x, x') = 0, compiled.

F(x) + d/dt Q(x) = 0 is what the engine traces. Here the rate of change of the charges is written
out, (dQ/dx) x' + dQ/dt, and differentiated once more, so that a general integrator for implicit
equations gets residuals and exact slopes, each by one call of compiled code.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable, Mapping, Sequence
from functools import cached_property
from typing import Any

import llvmlite.binding as llvm
import numpy as np
from llvmlite import ir
from numpy.typing import NDArray

from railwright.engine import processor
from railwright.engine.assembly import TIME
from railwright.engine.expression import Expression, Graph, gradient
from railwright.engine.system import Name, trace
from railwright.engine.topology import Topology
from railwright.engine.vector_code import DOUBLE, LONG, VectorCode

Array = NDArray[np.float64]
POINTER = ir.PointerType(DOUBLE)


class ChargeForm:
    """Residuals and slopes of one topology, of which some parameters run with time.

    Numbers are read from and written to one block of memory: unknowns `x`, their rates `rates`,
    parameters `p` as they are at the time `origin`, the slopes `ramps` of those that run.
    """

    def __init__(self, topology: Topology, running: Sequence[Name]) -> None:
        self.topology = topology
        self.system = trace(topology)
        self.parameters = self.system.parameters
        self.running = tuple(n for n in (*running, TIME) if n in self.parameters)
        self.size = len(self.system.residuals)
        counts = {
            "x": self.size,
            "rates": self.size,
            "p": len(self.parameters),
            "ramps": len(self.running),
            "origin": 1,
            "out": max(self.size, len(self.system.events)),
            "square": self.size**2,
        }
        ends = np.cumsum([0, *counts.values()])
        self.places = dict(zip(counts, map(int, ends[:-1]), strict=True))
        self.memory = np.zeros(int(ends[-1]))
        for name, count in counts.items():
            first = self.places[name]
            setattr(self, name, self.memory[first : first + count])
        self._compile()

    x: Array
    rates: Array
    p: Array
    ramps: Array
    origin: Array
    out: Array
    square: Array

    @cached_property
    def row(self) -> Mapping[Name, int]:
        """Parameter -> its row in `p`."""
        return {name: i for i, name in enumerate(self.parameters)}

    def hold(self, values: Array, t: float) -> None:
        """Set all parameters to values that do not run, time included."""
        self.p[:] = values
        self.ramps[:] = 0.0
        self.origin[0] = t

    def run(self, values: Array, t: float, ramps: Mapping[Name, float]) -> None:
        """Set all parameters to values at t, and how fast they change from then on."""
        self.hold(values, t)
        for i, name in enumerate(self.running):
            self.ramps[i] = 1.0 if name == TIME else ramps.get(name, 0.0)

    def residual(self, t: float, x: Array, rates: Array, out: Array) -> None:
        """G(t, x, x') into `out`."""
        self.x[:] = x
        self.rates[:] = rates
        self._residual(t, 0.0, self._address)
        out[:] = self._rows

    def slopes(self, t: float, x: Array, rates: Array, res: Array, cj: float, out: Array) -> None:
        """dG/dx + cj dG/dx' into `out` (row, column)."""
        self.x[:] = x
        self.rates[:] = rates
        self._slopes(t, cj, self._address)
        out[:] = self._square

    def stored(self, t: float, x: Array) -> Array:
        """Charges and fluxes by row."""
        self.x[:] = x
        self._stored(t, 0.0, self._address)
        return self._rows.copy()

    def guards(self, t: float, x: Array) -> Array:
        """Guards of all events, in the order in which they are stated."""
        self.x[:] = x
        self._guards(t, 0.0, self._address)
        return self.out[: len(self.system.events)].copy()

    def _compile(self) -> None:
        module = ir.Module("charge_form")
        roots = _Roots(self)
        for name, outputs in roots.functions().items():
            self._write(module, name, outputs)
        self._engine = _executable(module)
        kind = ctypes.CFUNCTYPE(None, ctypes.c_double, ctypes.c_double, ctypes.c_void_p)
        address = self._engine.get_function_address
        self._residual, self._slopes, self._stored, self._guards = (
            kind(address(name)) for name in roots.functions()
        )
        self._address = self.memory.ctypes.data
        self._rows = self.out[: self.size]
        self._square = self.square.reshape(self.size, self.size)

    def _write(
        self, module: ir.Module, name: str, outputs: Mapping[int, tuple[Expression, Any]]
    ) -> None:
        kind = ir.FunctionType(ir.VoidType(), [DOUBLE, DOUBLE, POINTER])
        function = ir.Function(module, kind, name)
        builder = ir.IRBuilder(function.append_basic_block("entry"))
        code = VectorCode(builder, 1)
        t, cj, block = function.args

        def at(place: int) -> Any:
            pointer = builder.gep(block, [LONG(place)])
            return builder.bitcast(pointer, ir.PointerType(code.vector))

        def load(name: str, i: int) -> Any:
            return builder.load(at(self.places[name] + i), align=8)

        passed = code.sub(code.everywhere(t), load("origin", 0))

        def variable(i: int) -> Any:
            if i < self.size:
                return load("x", i)
            i -= self.size
            if self.parameters[i] not in self.running:
                return load("p", i)
            ramp = load("ramps", self.running.index(self.parameters[i]))
            return code.add(load("p", i), code.mul(ramp, passed))

        def fixed(i: int) -> Any:
            return load("rates", i) if i < self.size else load("ramps", i - self.size)

        first = self.places["square" if name == "slopes" else "out"]
        if outputs:
            pairs = [e for pair in outputs.values() for e in pair if e is not None]
            values = iter(code.write(pairs, variable, fixed))
            for place, (_, weighted) in outputs.items():
                value = next(values)
                if weighted is not None:
                    value = code.add(value, code.mul(code.everywhere(cj), next(values)))
                builder.store(value, at(first + place), align=8)
        builder.ret_void()


class _Roots:
    """Expressions in which parameters are variables too, and rates of change the parameters."""

    def __init__(self, form: ChargeForm) -> None:
        self.form = form
        system = form.system
        n = self.size = form.size
        self.graph = Graph()
        self.copy = _copier(system.graph, self.graph, n)
        self.stored = {row: self.copy(q) for row, q in system.stored.items()}
        self.gradients = {row: gradient(q) for row, q in self.stored.items()}
        rates = {i: self.graph.parameter(i) for i in range(n)}
        for i, name in enumerate(form.running):
            rates[n + form.parameters.index(name)] = self.graph.parameter(n + i)
        self.residuals = [self.copy(r) for r in system.residuals]
        for row, slopes in self.gradients.items():
            for variable, slope in slopes.items():
                if variable in rates:
                    self.residuals[row] = self.residuals[row] + slope * rates[variable]

    def functions(self) -> dict[str, Mapping[int, tuple[Expression, Expression | None]]]:
        """Function -> place in its output -> what goes there, and what is added cj times."""
        nil = self.graph.constant(0.0)
        slopes = {}
        for row, residual in enumerate(self.residuals):
            plain, stored = gradient(residual), self.gradients.get(row, {})
            for column in sorted({*plain, *stored}):
                if column < self.size:
                    pair = plain.get(column, nil), stored.get(column)
                    slopes[row * self.size + column] = pair
        return {
            "residual": {row: (r, None) for row, r in enumerate(self.residuals)},
            "slopes": slopes,
            "stored": {r: (self.stored.get(r, nil), None) for r in range(self.size)},
            "guards": {
                i: (self.copy(event.guard), None) for i, event in enumerate(self.form.system.events)
            },
        }


def _copier(old: Graph, new: Graph, size: int) -> Callable[[Expression], Expression]:
    """Carries expressions over, with parameter i as the variable size + i."""
    copies: dict[int, Expression] = {}

    def copy(root: Expression) -> Expression:
        for number in old.needed([root]):
            if number not in copies:
                op, *rest = old.nodes[number]
                if op == "const":
                    copies[number] = new.constant(rest[0])
                elif op in ("x", "p"):
                    copies[number] = new.unknown(rest[0] + (size if op == "p" else 0))
                else:
                    copies[number] = new.make(op, *(copies[r] for r in rest))
        return copies[root.id]

    return copy


def _executable(module: ir.Module) -> llvm.ExecutionEngine:
    machine = processor.target_machine()
    parsed = llvm.parse_assembly(str(module))
    parsed.verify()
    options = llvm.create_pipeline_tuning_options(speed_level=1)
    llvm.create_pass_builder(machine, options).getModulePassManager().run(
        parsed, llvm.create_pass_builder(machine, options)
    )
    engine = llvm.create_mcjit_compiler(parsed, machine)
    engine.finalize_object()
    return engine
