"""Operating points on the reference path alone: a textbook sum, and the compiled path's answers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from railwright.circuit.design import read
from railwright.engine.plainly import Plainly
from railwright.surveys.stages import Bench

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.mark.parametrize("name", ["panel-five-volts", "workshop-twelve-volts"])
def test_it_finds_what_the_compiled_path_finds(name: str) -> None:
    design = read(EXAMPLES / f"{name}.toml")
    refs = tuple(part.ref for part in design.circuit.parts)
    bench = Bench(design, refs, refs)
    uniform = np.random.default_rng(2).random((bench.spread.size, 4))
    lanes = bench.lanes(bench.spread.draw(uniform))
    plain, compiled = Plainly(bench.model)(lanes, 4), bench.engine(lanes, 4)
    assert plain.solved.all()
    assert np.allclose(plain.unknowns, compiled.unknowns, rtol=1e-6, atol=1e-9)
    source = bench.sources[0].ref
    assert plain.of(source, "current") == pytest.approx(compiled.of(source, "current"), rel=1e-6)


def test_a_start_nearby_is_enough_and_a_lane_without_solution_says_so() -> None:
    design = read(EXAMPLES / "panel-five-volts.toml")
    refs = tuple(part.ref for part in design.circuit.parts)
    bench = Bench(design, refs, refs)
    lanes = bench.lanes(np.repeat(bench.spread.typical[:, None], 2, axis=1))
    engine = Plainly(bench.model)
    first = engine(lanes, 2)
    again = engine(lanes, 2, first.take(np.array([0])), "first")
    assert np.allclose(first.unknowns, again.unknowns, rtol=1e-9, atol=1e-12)
    source = bench.sources[0].ref
    broken = engine({**lanes, (source, "voltage"): np.array([24.0, np.nan])}, 2, first, "first")
    assert broken.solved.tolist() == [True, False]
    assert np.isnan(broken.of(source, "current")[1])
