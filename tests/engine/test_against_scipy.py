"""The engine's operating points against other people's solvers on the same equations."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pytest
from circuits import GROUND, Board
from engine.example_circuits import EXAMPLES, adjustable_regulator, zener_shunt
from numpy.typing import NDArray
from scipy.optimize import root
from sksundae.ida import IDA

from railwright.circuit.design import read
from railwright.engine import reference
from railwright.engine.assembly import Assembly
from railwright.engine.dual import Dual
from railwright.engine.model import Model, Name
from railwright.engine.operating_point import operating_point
from railwright.engine.reduction import reduced
from railwright.engine.system import trace
from railwright.surveys.fixture import SOURCE, Fixture, load_ref

Array = NDArray[np.float64]
AGREEMENT = 1e-8
NEAR = {"V": 0.1, "A": 0.01, "K": 5.0, "1": 0.05}
"""How far from the engine's answer the other solver starts, and the least that counts as whole
in a relative difference."""
SPREAD = (0.9, 1.0, 1.1)


@dataclass
class Plain:
    """A circuit at one set of values: its equations as a function of numbers only."""

    model: Model
    values: dict[Name, float]

    @cached_property
    def parameters(self) -> dict[Name, float]:
        wanted = reduced(trace(self.model.topology), "storages").parameters
        found = self.model.parameters(wanted, self.values)
        return {name: float(value) for name, value in found.items()}

    @cached_property
    def near(self) -> Array:
        return np.array([NEAR[u.unit] for u in self.model.topology.unknowns])

    def scales(self, x: Array) -> Array:
        """What makes balances of amperes and watts comparable with equations in volts."""
        assembly = reference.assemble(self.model.topology, x[:, None], self.parameters)
        sums = [sum(float(np.abs(term).max()) for term in terms) for terms in assembly.terms]
        rows = zip(sums, self.model.topology.unknowns, strict=True)
        return np.array([1.0 / max(s, 1e-6) if u.balanced else 1.0 for s, u in rows])

    def by_scipy(self, found: Array, away: float) -> Array:
        """Solution of the same equations from a start that lies away from the engine's."""
        scales = self.scales(found)

        def residuals(x: Array) -> Array:
            rows = reference.residuals(self.model.topology, x[:, None], self.parameters)
            return np.asarray(rows[:, 0] * scales)

        push = np.random.default_rng(1).uniform(-1.0, 1.0, found.size)
        start = found + away * self.near * push
        assert self.difference(found, start) > 1e-3
        other = root(residuals, start, method="lm", tol=1e-14)
        assert np.abs(other.fun).max() < 1e-7
        return np.asarray(other.x)

    def difference(self, found: Array, other: Array) -> float:
        whole = np.maximum(np.abs(found), self.near)
        return float((np.abs(found - other) / whole).max())


@pytest.mark.parametrize("spread", SPREAD)
@pytest.mark.parametrize("name", EXAMPLES)
def test_same_solution_as_scipy(name: str, spread: float) -> None:
    board = EXAMPLES[name]()
    values = {n: v * spread for n, v in board.nominal.items() if n[1] in ("resistance", "current")}
    found = board.solve(values).unknowns[:, 0]
    plain = Plain(board.model, values)
    assert plain.difference(found, plain.by_scipy(found, 1.0)) < AGREEMENT


DEMO = Path(__file__).parents[2] / "examples" / "radio-bench-rail.toml"


@pytest.mark.parametrize(("setting", "amperes"), [(4.0, 0.1), (12.0, 1.0)])
def test_same_solution_of_the_demo(setting: float, amperes: float) -> None:
    """The whole supply, at work, as set by its knob."""
    model = Fixture.of(read(DEMO)).model
    load = load_ref("main")
    values: dict[Name, float] = {
        (SOURCE, "voltage"): 19.0,
        ("", f"given {load}.current"): amperes,
        (load, "voltage"): setting,
        ("", "solve RV1.position"): 1.0,
        ("", "target RV1.position"): setting,
        ("", "slope RV1.position"): -1.0,
    }
    # The latch is held as it is at work: of all its states, the one that lets the output live.
    latch = [e.ref for e in model.topology.elements if e.device.kind == "logic-gate"]
    for states in itertools.product((0.0, 1.0), repeat=len(latch)):
        held = {(ref, "free"): 0.0 for ref in latch} | {
            (ref, "forced"): state for ref, state in zip(latch, states, strict=True)
        }
        points = operating_point(model, values | held, 1)
        if abs(points.potential("OUT")[0] - points.potential("RETURN")[0] - setting) < 1e-3:
            break
    else:
        raise AssertionError("in no state of its latch does the supply work")
    found = points.unknowns[:, 0]
    plain = Plain(model, values | held)
    assert plain.difference(found, plain.by_scipy(found, 0.1)) < AGREEMENT


@pytest.mark.parametrize("make", [zener_shunt, adjustable_regulator])
def test_a_transient_comes_to_rest_there(make: Callable[[], Board]) -> None:
    """IDA of SUNDIALS integrates the same circuit with a capacitor after its input has risen."""
    board = make().part("C", "capacitor", {"plus": "OUT", "minus": GROUND})
    name = ("V", "voltage")
    plain, full = Plain(board.model, {}), board.nominal[name]

    def residuals(t: float, x: Array, rate: Array, rows: Array) -> None:
        share = 0.925 - 0.075 * np.cos(np.pi * min(t / 1e-3, 1.0))
        known = plain.parameters | {name: share * full}
        moving = [Dual(np.array([v]), {0: np.array([r])}) for v, r in zip(x, rate, strict=True)]
        assembly = Assembly(board.topology, moving, lambda *which: known[which])
        rows[:] = [
            float(np.ravel(r.value if isinstance(r, Dual) else r)[0]) for r in assembly.residuals
        ]
        for storage in assembly.storages:
            for row, sign in ((storage.plus, 1.0), (storage.minus, -1.0)):
                if row is not None:
                    rows[row] += sign * storage.amount.slopes[0][0]

    before = board.solve({name: 0.85 * full}).unknowns[:, 0]
    ida = IDA(residuals, rtol=1e-8, atol=1e-9)
    course = ida.solve(np.array([0.0, 1e-3, 0.1]), before, np.zeros_like(before))
    assert course.success
    after = board.solve().unknowns[:, 0]
    assert plain.difference(before, after) > 1e-3
    assert plain.difference(after, course.y[-1]) < AGREEMENT
