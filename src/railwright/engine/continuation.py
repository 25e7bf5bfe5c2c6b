"""From one steady state to others: along the curve on which currents into the nets change.

Where currents t·push flow into the nets, the solutions of F(x) + t push = 0 form a curve. It
turns round in its folds, and each time that it comes back to t = 0 it is at a steady state: the
driving-point characteristic, with all of its branches. Steps are taken along its tangent and
corrected across it (pseudo-arclength). Source: Allgower and Georg, Introduction to Numerical
Continuation Methods, chapters 2 and 6; for circuits: Ushida and Chua (1984), Tracing solution
curves of non-linear equations with sharp turning points (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.engine import reference
from railwright.engine.linear import solved_each
from railwright.engine.model import Name, chosen
from railwright.engine.topology import Topology

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]
WIDTHS = {"V": 1.0, "A": 0.3, "K": 20.0, "1": 0.3}
"""What counts as one length of way, by unit."""
STEPS = 400
CORRECTIONS = 5
FIRST, LEAST, LONGEST = 0.05, 1e-9, 3.0
"""Lengths of steps; the longest is one of the unknowns alone."""
GROWTH, SHRINKAGE, QUICK = 2.5, 0.2, 3
"""A step that was corrected quickly lets the next one be longer; a refused one is tried shorter."""
CLOSE = 1e-8
"""Corrections below this length are the last."""
BEND = 0.3
"""Least cosine between tangents from one step to the next."""
ASTRAY = 0.5
"""Most that a step may be corrected by, as a share of its length."""
FAR, BEYOND = 30.0, 3.0
"""A curve is left where an unknown is farther off than this, and than this multiple of the
largest one at its start."""
CLOSED = 0.05
"""A curve that comes back this close to its start, without a push, is closed."""
STRONGEST = 1e6
"""Largest push that a curve is followed to, where 1 moves some unknown by a length at first."""


@dataclass
class _Curves:
    """Curves on their way: scaled unknowns and, last, t, in z (place, curve)."""

    topology: Topology
    parameters: Mapping[Name, Array | float]
    widths: Array
    push: Array
    z: Array
    tangent: Array
    length: Array
    origin: Array
    bound: Array

    def take(self, which: NDArray[np.intp]) -> _Curves:
        """Chosen curves."""
        return replace(
            self,
            parameters=chosen(self.parameters, which),
            push=self.push[:, which],
            z=self.z[:, which],
            tangent=self.tangent[:, which],
            length=self.length[which],
            origin=self.origin[:, which],
            bound=self.bound[which],
        )

    def linearised(self, z: Array) -> tuple[Array, Array]:
        """Residuals (curve, row) and their slopes by z (curve, row, place)."""
        values, slopes = reference.linearised(
            self.topology, z[:-1] * self.widths[:, None], self.parameters
        )
        slopes = slopes * self.widths
        whole = np.concatenate([slopes, self.push.T[..., None]], axis=2)
        return (values + z[-1] * self.push).T, whole

    def ahead(self, slopes: Array) -> Array:
        """Unit tangents that go on in the direction of the last ones."""
        right = np.zeros((slopes.shape[0], slopes.shape[2]))
        right[:, -1] = 1.0
        along = _bordered(slopes, self.tangent, right)
        unit: Array = along / np.linalg.norm(along, axis=0)
        return unit

    def stepped(self) -> tuple[Array, Array, Mask, Mask]:
        """z and tangents one step on, which are good, and which were found quickly."""
        begin = self.z + self.length * self.tangent
        z = begin.copy()
        needed = np.full(z.shape[1], CORRECTIONS + 1)
        for done in range(CORRECTIONS):
            values, slopes = self.linearised(z)
            across = np.einsum("pc,pc->c", self.tangent, z - begin)
            move = _bordered(slopes, self.tangent, -np.column_stack([values, across]))
            z = z + move
            small = np.abs(move).max(axis=0) < CLOSE
            needed = np.where(small & (needed > CORRECTIONS), done, needed)
            if not (needed > CORRECTIONS).any():
                break
        tangent = self.ahead(slopes)
        straight = np.einsum("pc,pc->c", tangent, self.tangent) > BEND
        off = np.linalg.norm(z - begin, axis=0) < ASTRAY * self.length + CLOSE
        good = (needed <= CORRECTIONS) & straight & off & np.isfinite(z).all(axis=0)
        return z, tangent, good, needed < QUICK


def crossings(
    topology: Topology,
    x: Array,
    parameters: Mapping[Name, Array | float],
    push: Array,
    steps: int = STEPS,
) -> tuple[NDArray[np.intp], Array]:
    """Where the curves through solutions x (row, lane) come back to no push at all.

    push (row, lane) [A]: its direction counts, not its size. Each curve is followed both ways.
    Returns the lane that each crossing was reached from, and the unknowns (row, crossing) there,
    between two steps: starts for a search, no solutions.
    """
    with np.errstate(all="ignore"):
        return _followed(topology, x, parameters, push, steps)


def _followed(
    topology: Topology,
    x: Array,
    parameters: Mapping[Name, Array | float],
    push: Array,
    steps: int,
) -> tuple[NDArray[np.intp], Array]:
    lanes = np.tile(np.arange(x.shape[1]), 2)
    curves = _through(topology, x, parameters, push).take(lanes)
    curves.tangent[:, x.shape[1] :] *= -1.0
    index = np.arange(lanes.size)
    whence, found = [np.zeros(0, np.intp)], [np.zeros((len(x), 0))]
    for _ in range(steps):
        longest = LONGEST / np.maximum(np.abs(curves.tangent[:-1]).max(axis=0), LEAST)
        curves.length = np.minimum(curves.length, longest)
        z, tangent, good, quick = curves.stepped()
        before, after = curves.z[-1], z[-1]
        back = np.flatnonzero(good & (before * after < 0.0))
        share = before[back] / (before[back] - after[back])
        between = (1.0 - share) * curves.z[:-1, back] + share * z[:-1, back]
        whence.append(lanes[index[back]])
        found.append(between * curves.widths[:, None])
        closed = np.zeros(index.size, bool)
        closed[back] = np.abs(between - curves.origin[:, back]).max(axis=0) < CLOSED
        curves.z = np.where(good, z, curves.z)
        curves.tangent = np.where(good, tangent, curves.tangent)
        curves.length *= np.where(good, np.where(quick, GROWTH, 1.0), SHRINKAGE)
        going = ~closed & (np.abs(curves.z[:-1]).max(axis=0) < curves.bound)
        going &= (np.abs(curves.z[-1]) < STRONGEST) & (curves.length > LEAST)
        if not going.any():
            break
        keep = np.flatnonzero(going)
        curves, index = curves.take(keep), index[keep]
    return np.concatenate(whence), np.hstack(found)


def _through(
    topology: Topology, x: Array, parameters: Mapping[Name, Array | float], push: Array
) -> _Curves:
    """Curves that begin at solutions in the direction of a growing push."""
    widths = np.array([WIDTHS[u.unit] for u in topology.unknowns])
    y = x / widths[:, None]
    bound = FAR + BEYOND * np.abs(y).max(axis=0)
    z = np.vstack([y, np.zeros(x.shape[1])])
    length = np.full(x.shape[1], FIRST)
    curves = _Curves(topology, parameters, widths, push, z, np.zeros_like(z), length, y, bound)
    _, slopes = curves.linearised(z)
    answer = -solved_each(slopes[..., :-1], push.T[..., None])[..., 0].T
    size = np.abs(answer).max(axis=0)
    curves.push = push / size
    tangent = np.vstack([answer / size, np.ones(x.shape[1])])
    curves.tangent = tangent / np.linalg.norm(tangent, axis=0)
    return curves


def _bordered(slopes: Array, tangent: Array, right: Array) -> Array:
    """Solutions (place, curve) of slopes·u = right, last row: tangent·u = right."""
    whole = np.concatenate([slopes, tangent.T[:, None, :]], axis=1)
    # Rows in volts, amperes and watts: evened, so that row exchanges compare like with like.
    largest = np.abs(whole).max(axis=2, keepdims=True)
    factor = 1.0 / np.where(largest > 0.0, largest, 1.0)
    found: Array = solved_each(whole * factor, right[..., None] * factor)[..., 0].T
    return found
