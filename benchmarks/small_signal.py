"""How long frequency responses of a thousand variants take, against numpy on the same equations.

    python benchmarks/small_signal.py [--quick] [--json FILE]

The demo's output impedance. All lanes differ, as in `prove.py`. numpy gets the same linearised
equations and solves them densely, as a stack.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from _report import arguments, commit, machine, write
from numpy.typing import NDArray
from prove import DEMO, SEED, drawn, fastest

from railwright.circuit.design import read
from railwright.engine.linear import Linear, linearise
from railwright.engine.poles import poles
from railwright.engine.ports import Potential, row
from railwright.engine.quiescent import quiescent
from railwright.engine.response import output_impedance
from railwright.surveys.fixture import Fixture, terminals
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
FREQUENCIES = np.geomspace(10.0, 1e7, 200)


@dataclass(frozen=True)
class Size:
    """How much is measured."""

    lanes: int
    repeats: int
    by_numpy: int


QUICK, FULL = Size(1000, 5, 5), Size(1000, 25, 50)


@dataclass(frozen=True)
class Figures:
    """What was measured; times in milliseconds or nanoseconds, as named."""

    unknowns: int
    lanes: int
    frequencies: int
    linearise_ms: float
    response_ms: float
    response_solved: float
    response_ns_a_solution: float
    numpy_ns_a_solution: float
    response_vs_numpy: float
    furthest_apart: float
    poles_ms: float
    machine: dict[str, Any]
    seed: int
    commit: str


def by_numpy(linear: Linear, between: Array) -> Array:
    """The same impedances by dense solving (lane, frequency); between: 1 and -1 at the nets."""
    conductive, storing = linear.matrices
    s = 2j * np.pi * FREQUENCIES[None, :, None, None]
    whole = conductive[:, None] + s * storing[:, None]
    return np.asarray(np.linalg.solve(whole, between[None, None, :, None])[..., 0] @ between)


def measured(size: Size) -> Figures:
    """All figures, in one run. What is compiled is compiled beforehand."""
    design = read(DEMO)
    survey = Survey(Fixture.of(design), announce=lambda text: print(text, flush=True))
    points = survey.solve(drawn(survey, size.lanes), size.lanes, survey.states.start)
    rest = quiescent(points)
    linear = linearise(rest, lambda text: print(text, flush=True))
    nets = terminals(design.need.output[0])
    found = output_impedance(linear, nets.plus, nets.minus, FREQUENCIES)
    seconds = fastest(
        lambda: output_impedance(linear, nets.plus, nets.minus, FREQUENCIES), size.repeats
    )
    few = linear.take(np.flatnonzero(linear.solved)[: size.by_numpy])
    between = row(few, Potential(nets.plus, nets.minus))[0]
    dense = fastest(lambda: by_numpy(few, between), 3)
    ours = output_impedance(few, nets.plus, nets.minus, FREQUENCIES).value
    apart = np.abs(ours / by_numpy(few, between) - 1.0).max()
    ns, dense_ns = (
        seconds_ / (lanes * FREQUENCIES.size) * 1e9
        for seconds_, lanes in ((seconds, size.lanes), (dense, few.count))
    )
    return Figures(
        unknowns=linear.system.size,
        lanes=size.lanes,
        frequencies=FREQUENCIES.size,
        linearise_ms=fastest(lambda: linearise(rest), size.repeats) * 1e3,
        response_ms=seconds * 1e3,
        response_solved=float(found.solved.mean()),
        response_ns_a_solution=ns,
        numpy_ns_a_solution=dense_ns,
        response_vs_numpy=dense_ns / ns,
        furthest_apart=float(apart),
        poles_ms=fastest(lambda: poles(linear), 1) * 1e3,
        machine=machine(),
        seed=SEED,
        commit=commit(),
    )


def told(figures: Figures) -> str:
    """The figures in words."""
    return (
        f"linearise       {figures.linearise_ms:8.2f} ms   {figures.lanes} different lanes, "
        f"{figures.unknowns} unknowns\n"
        f"response        {figures.response_ms:8.2f} ms   at {figures.frequencies} frequencies, "
        f"{figures.response_ns_a_solution:.0f} ns a solution, "
        f"{figures.response_solved:.2%} solved\n"
        f"numpy           {figures.numpy_ns_a_solution:8.0f} ns   a solution, apart by at most "
        f"{figures.furthest_apart:.0e}\n"
        f"ratio           {figures.response_vs_numpy:8.0f}      times faster than numpy\n"
        f"poles           {figures.poles_ms:8.0f} ms   of all lanes"
    )


def main() -> None:
    """Measure, print, and write JSON where asked for."""
    asked = arguments(__doc__, "fewer repeats").parse_args()
    figures = measured(QUICK if asked.quick else FULL)
    print(told(figures))
    write(asdict(figures), asked.json)


if __name__ == "__main__":
    main()
