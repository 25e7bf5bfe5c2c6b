"""One order of elimination for many lanes: chosen on samples, then written as arithmetic.

Pivots are chosen for little fill-in (Markowitz) among those that are large enough in every
sample matrix (threshold pivoting); Duff, Erisman, Reid, Direct Methods for Sparse Matrices,
chapters 5 and 7.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import nan
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from railwright.engine.complex_pair import ComplexPair
from railwright.engine.expression import Expression

Array = NDArray[Any]
"""Real or complex."""
Entry = TypeVar("Entry", Expression, ComplexPair)
Place = tuple[int, int]
THRESHOLD = 1e-3
"""A pivot is at least this share of the largest entry left in its column, in every sample."""
LOST = 1e-12
"""An entry below this share of the largest term that was added up to it is all rounding."""
VANISHED = 1e-30
"""A pivot below this share of its row's largest entry counts as this."""


def pivot_order(pattern: Sequence[Place], samples: Array) -> tuple[Place, ...]:
    """Pivots (row, column) in order of elimination.

    pattern: places that can differ from nil. samples: matrices (sample, row, column).
    """
    size = samples.shape[1]
    scale = np.abs(samples).max(axis=2, keepdims=True)
    a = samples / np.where(scale > 0, scale, 1.0)
    terms = np.abs(a)
    filled = np.zeros((size, size), bool)
    filled[tuple(np.array(pattern).T)] = True
    rows, columns = np.ones(size, bool), np.ones(size, bool)
    order: list[Place] = []
    for _ in range(size):
        row, column = _next_pivot(a, terms, filled, rows, columns)
        order.append((row, column))
        rows[row], columns[column] = False, False
        _eliminate(a, terms, filled, rows, columns, row, column)
    return tuple(order)


def _next_pivot(
    a: Array,
    terms: Array,
    filled: NDArray[np.bool_],
    rows: NDArray[np.bool_],
    columns: NDArray[np.bool_],
) -> Place:
    # What is left of large matrices is looked at alone: most of the time goes by here.
    left, over = np.flatnonzero(rows), np.flatnonzero(columns)
    live = filled[np.ix_(left, over)]
    size = np.abs(a[:, left[:, None], over]) * live
    worst = _over(size, size.max(axis=1, keepdims=True)).min(axis=0)
    if not (live & (worst >= THRESHOLD)).any():
        # The largest entries of some rows are gone by now: what is left counts within its row.
        known = np.where(size > LOST * terms[:, left[:, None], over], size, 0.0)
        share = _over(known, known.max(axis=2, keepdims=True))
        top = share.max(axis=1, keepdims=True)
        # A sample of which a column has nothing left tells nothing about it.
        worst = np.where(top > 0, _over(share, top), 1.0).min(axis=0)
    fill = np.outer(live.sum(axis=1) - 1, live.sum(axis=0) - 1)
    good = live & (worst >= THRESHOLD)
    if good.any():
        cost = np.where(good, fill - np.minimum(worst, 1.0) * 0.5, np.inf)
        best = int(np.argmin(cost))
    else:
        best = int(np.argmax(np.where(live, worst, -1.0)))
    row, column = divmod(best, over.size)
    return int(left[row]), int(over[column])


def _over(size: Array, top: Array) -> Array:
    """Sizes as shares of the largest; nil where there is none."""
    share: Array = np.where(top > 0, size / np.where(top > 0, top, 1.0), 0.0)
    return share


def _eliminate(
    a: Array,
    terms: Array,
    filled: NDArray[np.bool_],
    rows: NDArray[np.bool_],
    columns: NDArray[np.bool_],
    row: int,
    column: int,
) -> None:
    below = np.flatnonzero(filled[:, column] & rows)
    right = np.flatnonzero(filled[row] & columns)
    if not below.size or not right.size:
        return
    pivot = a[:, row, column]
    # In a sample in which the pivot has all but vanished nothing is left to learn.
    pivot = np.where(np.abs(pivot) < VANISHED, VANISHED, pivot)
    factor = a[:, below, column] / pivot[:, None]
    term = factor[:, :, None] * a[:, row, right][:, None, :]
    a[:, below[:, None], right] -= term
    terms[:, below[:, None], right] = np.maximum(terms[:, below[:, None], right], np.abs(term))
    filled[np.ix_(below, right)] = True


def solve_symbolically(
    slopes: Mapping[Place, Entry],
    residuals: Sequence[Entry],
    order: Sequence[Place],
    chain: float = 1.0,
) -> tuple[list[Entry], Expression]:
    """Expressions for the Newton step (minus slopes^-1 residuals) and for its trustworthiness.

    The second is the smallest ratio of a pivot to the largest term that was added up to it, times
    those of the pivots that these terms came through: as many digits as it has nils are lost of
    some unknown (`tests/engine/test_elimination.py` holds errors against it, which are those of
    row exchanges too). chain: weight of the losses of several pivots in a row. These are bounds,
    far from reached where charges hide all that conducts beside them; a pivot's own loss counts
    whole all the same.
    """
    graph = residuals[0].graph
    a = dict(slopes)
    largest: dict[Place, Expression] = {}
    b = [-r for r in residuals]
    inverse: list[Entry] = []
    left_rows = set(range(len(b)))
    left_columns = set(range(len(b)))
    loss = graph.constant(1.0)
    largest_alone: dict[Place, Expression] = {}
    pivots = set(order)
    for row, column in order:
        left_rows.discard(row)
        left_columns.discard(column)
        pivot = a[row, column] if (row, column) in a else _none(b[row])
        inverse.append(1.0 / pivot)
        lost: Expression | None = None
        if (row, column) in largest:
            lost = largest[row, column] * abs(inverse[-1])
            alone = largest_alone[row, column] * abs(inverse[-1])
            loss = _larger(loss, lost if chain == 1.0 else _larger(alone, chain * lost))
        right = [j for j in sorted(left_columns) if (row, j) in a]
        for i in [i for i in sorted(left_rows) if (i, column) in a]:
            factor = a[i, column] * inverse[-1]
            b[i] = b[i] - factor * b[row]
            for j in right:
                term = factor * a[row, j]
                if (i, j) in pivots:
                    _note(largest, (i, j), a.get((i, j)), term, lost)
                    _note(largest_alone, (i, j), a.get((i, j)), term, None)
                a[i, j] = a[i, j] - term if (i, j) in a else -term
    steps = list(b)
    done: list[int] = []
    for (row, column), inv in zip(reversed(order), reversed(inverse), strict=True):
        total = b[row]
        for j in done:
            if (row, j) in a:
                total = total - a[row, j] * steps[j]
        steps[column] = total * inv
        done.append(column)
    return steps, graph.constant(1.0) / loss


def _none(like: Entry) -> Entry:
    """The pivot of a matrix that has none left whatever its values (a loop of coils at rest):
    not-a-number, so that no lane counts as solved."""
    nothing = like.graph.constant(nan)
    return ComplexPair(nothing, nothing) if isinstance(like, ComplexPair) else nothing


def _note(
    largest: dict[Place, Expression],
    place: Place,
    old: Entry | None,
    term: Entry,
    lost: Expression | None,
) -> None:
    """Keep the largest term of a pivot; lost: what the pivot that it comes from has lost."""
    top = largest.get(place)
    if top is None and old is not None:
        top = abs(old)
    size = abs(term) if lost is None else abs(term) * _larger(lost, lost.graph.constant(1.0))
    largest[place] = size if top is None else _larger(top, size)


def _larger(a: Expression, b: Expression) -> Expression:
    return a.graph.make("max", a, b)
