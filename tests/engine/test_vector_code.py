"""Compiled vector arithmetic against numpy, at every vector width."""

from __future__ import annotations

import ctypes
import math
from collections.abc import Callable
from functools import cache
from typing import Any

import llvmlite.binding as llvm
import numpy as np
import pytest
from engine.formulas import UNKNOWNS, random_formula
from llvmlite import ir
from numpy.typing import NDArray

from railwright.engine import processor
from railwright.engine.expression import EXP_LIMIT, Expression, Graph
from railwright.engine.vector_code import DOUBLE, LONG, VectorCode

Array = NDArray[np.float64]
WIDTHS = (2, 4, 8)
ULPS = 2.0
"""What the module promises of its written-out functions."""

_alive: list[llvm.ExecutionEngine] = []


def compiled(root: Expression, width: int) -> Callable[[Array], Array]:
    """The root as machine code: unknowns (row, lane) in, values (lane) out."""
    module = ir.Module("test")
    pointer = ir.PointerType(DOUBLE)
    function = ir.Function(module, ir.FunctionType(ir.VoidType(), [pointer, pointer]), "run")
    builder = ir.IRBuilder(function.append_basic_block())
    code = VectorCode(builder, width)

    def place(argument: int, row: int) -> Any:
        number = builder.gep(function.args[argument], [LONG(row * width)])
        return builder.bitcast(number, ir.PointerType(code.vector))

    def load(row: int) -> Any:
        return builder.load(place(0, row), align=8)

    (value,) = code.write([root], load, load)
    builder.store(value, place(1, 0), align=8)
    builder.ret_void()
    parsed = llvm.parse_assembly(str(module))
    parsed.verify()
    engine = llvm.create_mcjit_compiler(parsed, processor.target_machine())
    engine.finalize_object()
    _alive.append(engine)
    run = ctypes.CFUNCTYPE(None, ctypes.c_void_p, ctypes.c_void_p)(
        engine.get_function_address("run")
    )

    def on_lanes(x: Array) -> Array:
        lanes = x.shape[1]
        missing = -lanes % width
        padded = np.concatenate([x, np.repeat(x[:, -1:], missing, axis=1)], axis=1)
        out = np.empty(padded.shape[1])
        for first in range(0, out.size, width):
            block = np.ascontiguousarray(padded[:, first : first + width])
            part = np.empty(width)
            run(block.ctypes.data, part.ctypes.data)
            out[first : first + width] = part
        return out[:lanes]

    return on_lanes


@cache
def compiled_function(name: str, width: int) -> Callable[[Array], Array]:
    x = Graph().unknown(0)
    run = compiled(getattr(x, name)(), width)
    return lambda row: run(row[None, :])


def ulps(found: Array, exact: Any) -> Array:
    """Distance in units of the last place; exact: of higher precision."""
    assert np.finfo(exact.dtype).nmant > 60, "this machine has no number wide enough to compare"
    return np.asarray(np.abs(found - exact) / np.spacing(np.abs(exact).astype(float)), float)


@pytest.mark.parametrize("width", WIDTHS)
class TestExponential:
    def test_whole_range(self, width: int) -> None:
        x = np.linspace(-EXP_LIMIT, EXP_LIMIT, 20001)
        found = compiled_function("exp", width)(x)
        assert ulps(found, np.exp(x.astype(np.longdouble))).max() <= ULPS

    def test_near_nil(self, width: int) -> None:
        size = np.logspace(-20, 1, 4000)
        x = np.concatenate([-size, size])
        found = compiled_function("exp", width)(x)
        assert ulps(found, np.exp(x.astype(np.longdouble))).max() <= ULPS

    def test_limits_and_odd_numbers(self, width: int) -> None:
        x = np.array([1e300, np.inf, -1e300, -np.inf, 0.0, -0.0, np.nan])
        found = compiled_function("exp", width)(x)
        high, low = math.exp(EXP_LIMIT), math.exp(-EXP_LIMIT)
        assert found[:6] == pytest.approx([high, high, low, low, 1.0, 1.0], rel=1e-15)
        assert np.isnan(found[6])


@pytest.mark.parametrize("width", WIDTHS)
class TestLogarithm:
    def test_whole_range(self, width: int) -> None:
        x = np.exp2(np.linspace(-1022.0, 1023.9, 20001))
        found = compiled_function("log", width)(x)
        assert ulps(found, np.log(x.astype(np.longdouble))).max() <= ULPS

    def test_near_one(self, width: int) -> None:
        away = np.logspace(-16, -0.4, 4000)
        x = np.concatenate([1.0 - away, 1.0 + away])
        x = x[x != 1.0]
        found = compiled_function("log", width)(x)
        assert ulps(found, np.log(x.astype(np.longdouble))).max() <= ULPS

    def test_one_and_what_has_none(self, width: int) -> None:
        found = compiled_function("log", width)(np.array([1.0, 0.0, -0.0, -1.0, -np.inf, np.nan]))
        assert found[0] == 0.0
        assert np.isnan(found[1:]).all()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["sin", "cos"])
class TestSineAndCosine:
    def exact(self, name: str, x: Array) -> Any:
        return getattr(np, name)(x.astype(np.longdouble))

    @pytest.mark.parametrize("most", [1.0, 10.0, 1e3, 1e5, 1.6e6])
    def test_up_to(self, width: int, name: str, most: float) -> None:
        x = np.random.default_rng(3).uniform(-most, most, 20001)
        found = compiled_function(name, width)(x)
        assert ulps(found, self.exact(name, x)).max() <= ULPS

    def test_near_nil(self, width: int, name: str) -> None:
        size = np.logspace(-300, 0, 4000)
        x = np.concatenate([-size, size])
        found = compiled_function(name, width)(x)
        assert ulps(found, self.exact(name, x)).max() <= ULPS

    def test_near_quarter_turns(self, width: int, name: str) -> None:
        """The doubles next to multiples of pi / 2, where a result is all cancellation."""
        x = np.arange(1, 1000) * (np.pi / 2)
        found = compiled_function(name, width)(x)
        # pi with 64 bits leaves the wide reference an error of its own.
        own = 1e-19 * np.abs(x) / np.spacing(np.abs(found))
        assert (ulps(found, self.exact(name, x)) <= ULPS + own).all()

    def test_what_is_no_angle(self, width: int, name: str) -> None:
        found = compiled_function(name, width)(np.array([np.inf, -np.inf, np.nan]))
        assert np.isnan(found).all()


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("seed", range(12))
def test_formulas_are_those_of_numpy(seed: int, width: int) -> None:
    rng = np.random.default_rng(seed)
    graph = Graph()
    formula = random_formula(rng)
    root = graph.lift(formula([graph.unknown(i) for i in range(UNKNOWNS)]))
    root = graph.make("max", root * graph.unknown(0), abs(root).sqrt())
    x = rng.normal(0.0, 2.0, (UNKNOWNS, 203))
    (wanted,) = graph.evaluate([root], x, x)
    assert compiled(root, width)(x) == pytest.approx(wanted, rel=1e-11, abs=1e-13)


@pytest.mark.parametrize("width", WIDTHS)
def test_a_number_known_at_run_time_reaches_every_lane(width: int) -> None:
    module = ir.Module("test")
    kind = ir.FunctionType(ir.VoidType(), [DOUBLE, ir.PointerType(DOUBLE)])
    function = ir.Function(module, kind, "run")
    builder = ir.IRBuilder(function.append_basic_block())
    code = VectorCode(builder, width)
    place = builder.bitcast(function.args[1], ir.PointerType(code.vector))
    builder.store(code.everywhere(function.args[0]), place, align=8)
    builder.ret_void()
    engine = llvm.create_mcjit_compiler(
        llvm.parse_assembly(str(module)), processor.target_machine()
    )
    out = np.zeros(width)
    run = ctypes.CFUNCTYPE(None, ctypes.c_double, ctypes.c_void_p)(
        engine.get_function_address("run")
    )
    run(2.5, out.ctypes.data)
    assert out.tolist() == [2.5] * width


class TestWidth:
    def test_that_of_the_processor(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.delenv(processor.WIDTH_VARIABLE, raising=False)
        assert processor.lane_width() in WIDTHS

    @pytest.mark.parametrize("width", WIDTHS)
    def test_forced(self, width: int, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setenv(processor.WIDTH_VARIABLE, str(width))
        assert processor.lane_width() == width
        assert str(width) in processor.fingerprint().splitlines()
