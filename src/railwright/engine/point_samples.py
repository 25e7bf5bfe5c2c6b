"""Samples on which the order of elimination of operating points is chosen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from railwright.engine import reference
from railwright.engine.assembly import GAIN
from railwright.engine.faults import faulty_samples, sampled
from railwright.engine.model import Lanes, Model, Name, solve_name, weight_name
from railwright.engine.system import System, trace
from railwright.engine.topology import SPREAD

Array = NDArray[np.float64]

SAMPLES, COLD = 24, 4
"""Samples for the order of elimination; one in so many lies at or around the cold start."""


def point_samples(model: Model, system: System, lanes: Lanes) -> tuple[Array, Array]:
    """Unknowns and parameters on which the order of elimination is chosen.

    Around the cold start and around solutions of the reference path, over amplifier gains,
    with inputs solved and given, and with the faults that the topology names, so that no pivot is
    chosen that only sometimes exists.
    """
    rng = np.random.default_rng(1)
    count = SAMPLES + faulty_samples(model.topology)
    cold = model.cold_start(count)
    given: dict[Name, Array | float] = {**sampled(model.topology, lanes, count)}
    given |= _sampled_wishes(model, rng, count)
    for element in model.topology.elements:
        if element.device.two_state:
            given[element.ref, "free"] = rng.integers(0, 2, count).astype(float)
    given[GAIN] = np.where(rng.random(count) < 0.3, 1e-3, 1.0)
    found = model.parameters(system.parameters, given)
    # What no residual depends on may not be known, and any number will do.
    whole = dict.fromkeys(trace(model.topology).parameters, 1.0) | found
    x, _ = reference.newton(model.topology, cold, whole, 60)
    x = np.where(np.isfinite(x), x, cold)
    x[:, ::COLD] = cold[:, ::COLD]
    units = [u.unit for u in model.topology.unknowns]
    width = np.array([SPREAD[u] for u in units])[:, None]
    around = slice(SAMPLES // 2, SAMPLES)
    x[:, around] += width * rng.standard_normal((len(units), SAMPLES - SAMPLES // 2))
    x = np.where(np.array(units)[:, None] == "K", np.maximum(x, 250.0), x)
    p = np.array([np.broadcast_to(found[n], count) for n in system.parameters])
    return x, p


def _sampled_wishes(
    model: Model, rng: np.random.Generator, samples: int
) -> dict[Name, Array | float]:
    """Which inputs are solved for in each sample, and of which observable a crossing makes use.

    Where a crossing's input is given its weights are nil, so none of them may be a pivot.
    """
    given: dict[Name, Array | float] = {}
    for aim in model.topology.aims:
        given[solve_name(aim.ref, aim.input)] = rng.integers(0, 2, samples).astype(float)
    for crossing in model.topology.crossings:
        count = len(crossing.observables)
        solved = rng.integers(0, 2, samples) * (count > 0)
        used = rng.integers(0, max(count, 1), samples)
        given[solve_name(crossing.ref, crossing.input)] = solved.astype(float)
        for place, observable in enumerate(crossing.observables):
            name = weight_name(crossing.ref, crossing.input, observable)
            given[name] = np.where(used == place, solved, 0).astype(float)
    return given
