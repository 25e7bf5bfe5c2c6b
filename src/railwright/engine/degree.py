"""How many steady states there must be: the signs of the slopes' determinants add up.

While a circuit changes gradually, steady states appear and vanish only in pairs of opposite
sign, as long as none runs off to infinity, which bounded sources do not let happen. A circuit
whose sources are nil, whose nets are all tied to ground and whose amplifiers have no gain has
one. With its sign as +1, those of all states of the true circuit add up to +1: there is an odd
number of them, and a lone pair tells that one is missing. Source: Chua and Wang (1977), On the
application of degree theory to the analysis of resistive nonlinear networks (from memory);
survey: Trajković (2012), DC operating points of transistor circuits.

A state of sign -1 is unstable: det(G + s C) has another sign at s = 0 than for large s, where
the storages alone decide, so it vanishes for some s > 0; that holds however small the storages
are. Source: Green and Willson (1992), How to identify unstable dc operating points (from memory).
Sign +1 tells nothing about stability.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from railwright.engine import reference
from railwright.engine.assembly import GAIN, LEAK
from railwright.engine.ladders import driving, scaled
from railwright.engine.model import Lanes, Model, Name, given_name, slope_name, solve_name
from railwright.engine.topology import Aim, Crossing, Topology

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
Index = NDArray[np.intp]
Filled = Callable[[Lanes, int], Mapping[Name, Array | float]]
"""Lanes and their number -> every parameter that the equations read, over lanes."""
TIE = 1e6
"""[S]. What ties every net to ground: far more than parts between nets conduct."""
FAINT = 1e-6
"""Gain of amplifiers and comparators, as a share of theirs: none can hold itself."""
SINGULAR = 1e-13
"""Smallest singular value of an evened matrix below which its sign is not known."""
EVENINGS = 4


def signs(topology: Topology, x: Array, parameters: Mapping[Name, Array | float]) -> Array:
    """Sign of the slopes' determinant at unknowns x (row, lane): 1, -1, or 0 where unsure."""
    _, slopes = reference.linearised(topology, x, parameters)
    return determinant_signs(slopes)


def lone_signs(model: Model, lanes: Lanes, count: int, filled: Filled) -> Array:
    """The sign over lanes in the one steady state of the circuit that nothing drives.

    filled: gives the parameters of lanes. 0 where that state was not found.
    """
    tied = {**lanes, **scaled(model, lanes, driving, 0.0), LEAK: TIE}
    tied[GAIN] = np.multiply(lanes.get(GAIN, 1.0), FAINT)
    turned = np.ones(count)
    for solved_for in model.topology.solvable:
        turned *= _turned(lanes, solved_for)
        ref, name = solved_for.ref, solved_for.input
        tied[solve_name(ref, name)] = 0.0
        if name in model.topology.element[ref].device.drives:
            tied[given_name(ref, name)] = 0.0
    found = filled(tied, count)
    x, solved = reference.newton(model.topology, model.cold_start(count), found)
    return np.where(solved, turned * signs(model.topology, x, found), 0.0)


def _turned(lanes: Lanes, solved_for: Aim | Crossing) -> Array | float:
    """How the sign changes once an input is solved for instead of given.

    Beyond its end stops an aim only leads back to them, in the direction that its slope tells.
    A crossing has no end stops: nothing is known.
    """
    ref, name = solved_for.ref, solved_for.input
    active = np.asarray(lanes.get(solve_name(ref, name), 0.0)) == 1.0
    slope = np.asarray(lanes.get(slope_name(ref, name), 1.0))
    turned = -np.sign(slope) if isinstance(solved_for, Aim) else 0.0
    return np.where(active, turned, 1.0)


def determinant_signs(matrices: Array) -> Array:
    """Signs of determinants (lane) of matrices (lane, row, column); 0 where rounding hides it.

    >>> determinant_signs(np.array([[[1e-9, 0.0], [0.0, -1e9]], [[1.0, 1.0], [1.0, 1.0]]]))
    array([-1.,  0.])
    """
    finite: Mask = np.asarray(np.isfinite(matrices).all(axis=(1, 2)), bool)
    even = np.where(finite[:, None, None], matrices, 0.0)
    # Positive factors of rows and columns change no sign, and make singular values mean something.
    for _ in range(EVENINGS):
        for axis in (1, 2):
            largest = np.abs(even).max(axis=axis, keepdims=True)
            even = even / np.sqrt(np.where(largest > 0.0, largest, 1.0))
    values = np.linalg.svd(even, compute_uv=False)
    sure = values[:, -1] > SINGULAR * values[:, 0]
    return np.where(finite & sure, np.linalg.slogdet(even).sign, 0.0)


def balance(sign: Array, lane: Index, count: int) -> Array:
    """Sum of signs over lanes; not-a-number where one is not known, nil where there is none."""
    found = np.zeros(count)
    np.add.at(found, lane, np.where(sign == 0.0, np.nan, sign))
    return found
