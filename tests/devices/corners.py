"""Corners and jumps of a part's curves, looked for along random lines.

On each line the piece over which a curve's slope changes most is cut again and again. The change
vanishes with the piece, however sharp a rounded bend is; over a corner it stays, and over a jump
the secant's slope grows without bound.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from devices.placing import between, stated
from devices.terms import Array, LonePart

from railwright.engine.dual import Dual

WALKED = ("flows", "zeros", "fluxes", "heats", "charges")
"""What solvers walk along; what is only reported may have corners."""
PIECES = 32
ROUNDS = 8
"""Lines are cut so often into so many pieces, to a 10^12th of their length."""
NEAR = 30.0  # V or A; greatest size of the states at the ends of lines
ROUNDING = 1e-12
"""Of a curve's greatest value: a jump of no more is not told from rounding."""
FLAT = 1e-6
"""Of a curve's steepest slope on any line: a line that is flatter still is counted as this."""
SHRUNK = 0.3
"""What the last two cuts leave at most of a change of slope in a bend; of a corner's, all."""


def sharpest(shape: LonePart, lines: int) -> dict[str, float]:
    """By curve, the greatest change of slope that stays in what is left of a line.

    Relative to the greatest slope that was met on that line; nil where all changes shrink.
    """
    found = _along(shape, np.zeros((1, 1, lines)))
    names = [name for name, x in found.items() if name.startswith(WALKED) and isinstance(x, Dual)]
    flows = np.array([name.startswith("flows") for name in names], bool)
    begin, length = np.zeros((len(names), lines)), 1.0
    steepest, greatest = np.full_like(begin, 1e-300), np.zeros((len(names), 1))
    changes = []
    for _ in range(ROUNDS):
        length /= PIECES
        places = begin + length * np.arange(PIECES + 1)[:, None, None]
        found = _along(shape, places)
        own = [found[name] for name in names]
        values = _rows(own, places, lambda x: x.value)
        slopes = _rows(own, places, lambda x: x.slopes.get(0, 0.0))
        greatest = np.maximum(greatest, np.abs(values).max(axis=(0, 2))[:, None])
        # One flow is what others leave: of a small one their digits are missing.
        greatest[flows] = greatest[flows].max(initial=0.0)
        steepest = np.maximum(steepest, np.abs(slopes).max(axis=0))
        secants = np.diff(values, axis=0) / length
        astray = np.abs(secants - 0.5 * (slopes[1:] + slopes[:-1]))
        change = np.abs(np.diff(slopes, axis=0))
        worst = np.maximum(change, astray - ROUNDING * greatest / length)
        begin += length * worst.argmax(axis=0)
        changes.append(worst.max(axis=0))
    steepest = np.maximum(steepest, FLAT * steepest.max(axis=1, keepdims=True))
    left = np.where(changes[-1] > SHRUNK * changes[-3], changes[-1] / steepest, 0.0)
    return dict(zip(names, left.max(axis=1), strict=True))


def _along(shape: LonePart, places: Array) -> dict[str, Dual]:
    """What a part states at places of its lines; the last axis counts the lines."""
    lines = places.shape[-1]
    copies = places.size // lines

    def carry(start: Array, end: Array) -> Dual:
        start, way = np.tile(start, copies), np.tile(end - start, copies)
        return Dual(start + places.ravel() * way, {0: way})

    part = between(shape, carry, lines, NEAR, fixed=True)
    part.gain = np.tile(part.gain, copies)
    return dict(stated(part.run()))


def _rows(curves: list[Dual], places: Array, what: Callable[[Dual], Array]) -> Array:
    """Of each curve what belongs to its own places."""
    whole = (np.broadcast_to(what(curve), places.size) for curve in curves)
    return np.stack([x.reshape(places.shape)[:, n] for n, x in enumerate(whole)], axis=1)
