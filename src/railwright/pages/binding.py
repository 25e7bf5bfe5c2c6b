"""Which question binds where: the lowest reserve over the operating range, and whose it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from railwright.pages.plane import Plane, plane_of
from railwright.prove.proof import Array, Finding

FINE = 301
"""Places along each axis at which reserves are compared; between computed ones they are straight
lines."""
LEAST = 0.01
"""A question that binds in less than this share of the range is not told."""


BINDING_CAPTION = (
    "Of {count} questions that were put to the whole range, the one with the lowest reserve at "
    "each place, with the worst parts and at the worst of what the axes do not show. Lines: that "
    "reserve. Hatched: beyond the limit."
)


@dataclass(frozen=True)
class Binding:
    """Who has the lowest reserve where."""

    axes: Mapping[str, Array]
    """Across first, `FINE` places each, in V, A or K."""
    reserve: Array
    """The lowest of all, in the order of `axes`; not-a-number where none is known."""
    findings: Sequence[Finding]
    """Those that bind somewhere, the one that binds in most places first."""
    which: NDArray[np.intp]
    """Place in `findings` of who binds; -1 where nobody is known to."""
    compared: int
    """How many findings were compared."""


def bindings(findings: Sequence[Finding]) -> Mapping[str, Binding]:
    """Rails of which something varies, in the order of the need -> who binds where."""
    axes = (name for finding in findings if finding.map for name in finding.map.axes)
    rails = dict.fromkeys(rail for name in axes if (rail := name.partition(" ")[2]))
    found = {rail: binding(findings, rail) for rail in rails}
    return {rail: each for rail, each in found.items() if each is not None}


def binding(findings: Sequence[Finding], rail: str) -> Binding | None:
    """Who binds where, over the output and load of a rail (or what else varies).

    None where no finding was looked at over two axes. A reserve is a margin on the scale that
    its finding has at its worst place.
    """
    planes = list(_planes(findings, rail))
    if not planes:
        return None
    ((names, _),) = Counter(tuple(p.axes) for _, p in planes).most_common(1)
    same = [(f, p) for f, p in planes if tuple(p.axes) == names]
    axes = {
        name: np.linspace(places[0], places[-1], FINE) for name, places in same[0][1].axes.items()
    }
    lowest, first = np.full((FINE, FINE), np.inf), np.zeros((FINE, FINE), np.intp)
    for number, (finding, plane) in enumerate(same):
        reserve = _fine(finding, plane, axes)
        lower = reserve < lowest  # never where it is not a number
        lowest[lower], first[lower] = reserve[lower], number
    somebody = np.isfinite(lowest)
    tally = np.bincount(first[somebody], minlength=len(same))
    told = [i for i in np.argsort(-tally) if tally[i] >= LEAST * first.size]
    place = np.full(len(same), -1)
    place[told] = np.arange(len(told))
    return Binding(
        axes,
        np.where(somebody, lowest, np.nan),
        [same[i][0] for i in told],
        np.where(somebody, place[first], -1),
        len(same),
    )


def _planes(findings: Sequence[Finding], rail: str) -> Iterator[tuple[Finding, Plane]]:
    for finding in findings:
        if not finding.margin or not finding.reserve or not np.isfinite(finding.reserve):
            continue
        plane = plane_of(replace(finding, subject=rail))
        if plane is not None and len(plane.axes) == 2 and np.isfinite(plane.margins).any():
            yield finding, plane


def _fine(finding: Finding, plane: Plane, axes: Mapping[str, Array]) -> Array:
    """The reserve at all fine places; infinite margins leave the question out there."""
    assert finding.margin
    assert finding.reserve
    reserve = plane.margins * (finding.reserve / finding.margin)
    (across, up), (x, y) = plane.axes.values(), axes.values()
    # Where a neighbour has no margin there is nothing to lay a line to.
    finite = np.where(np.isfinite(reserve), reserve, np.nan)
    rows = np.array([np.interp(x, across, column) for column in finite.T]).T
    return np.array([np.interp(y, up, row) for row in rows])
