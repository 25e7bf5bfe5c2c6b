"""What keeps a part switched off that should work.

Where the state in which a part works is none that the circuit keeps, some gate or comparator
leaves it. Of all such states those are taken that fewest leave by themselves; who leaves them is
told, since it is what drives that one which looks wrong.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from railwright.engine.solutions import OperatingPoints
from railwright.engine.two_state import combinations, held, two_state_parts
from railwright.prove.proof import Cause, Finding, Looked
from railwright.surveys.states import level
from railwright.surveys.survey import Survey

Array = NDArray[np.float64]
LEAVES = 0.5
"""A part that goes farther than this from the state it was held in leaves it."""


def findings(
    survey: Survey, off: Sequence[str], depth: str, assumed: Sequence[str]
) -> list[Finding]:
    """One finding for each gate or comparator that by itself keeps a part switched off.

    off: refs of the parts that are switched off when they should work.
    """
    return [
        _finding(part, ref, depth, assumed)
        for ref in off
        for part in sorted(kept_off_by(survey, ref))
    ]


def kept_off_by(survey: Survey, ref: str) -> Collection[str]:
    """The two-state parts that leave a state in which a part works and all others stay.

    None where it works in some state that lasts.
    """
    parts = two_state_parts(survey.model)
    trials = combinations(parts)
    if not parts or len(trials) < len(parts):
        return ()  # or more than are tried in every combination
    at = _held(survey, trials, np.zeros_like(trials))
    works = np.flatnonzero(at.solved & (at.of(ref, "enabled") > LEAVES))
    each = np.repeat(works, len(parts))
    free = np.tile(np.eye(len(parts)), works.size)
    alone = _held(survey, trials[:, each], free, at.take(each))
    stays = (
        np.array([np.abs(level(alone, p) - s) for p, s in zip(parts, trials[:, each], strict=True)])
        < LEAVES
    )
    leaves = ~stays.all(axis=0).reshape(works.size, len(parts))
    if (leaves.sum(axis=1) == 0).any():
        return ()  # it works in a state that lasts: its sense is wrong
    by_one = leaves[leaves.sum(axis=1) == 1]
    return {parts[number] for number in np.flatnonzero(by_one.any(axis=0))}


def _held(
    survey: Survey, states: Array, free: Array, start: OperatingPoints | None = None
) -> OperatingPoints:
    """Two-state parts held in states, or free, (part, lane)."""
    parts, count = two_state_parts(survey.model), states.shape[1]
    points = survey.range.middle().take(np.zeros(count, np.intp))
    lanes = survey.lanes(points, survey.typical(count), trim=False)
    lanes |= held(parts, dict(zip(parts, states, strict=True)))
    lanes |= {(part, "free"): row for part, row in zip(parts, free, strict=True)}
    return survey.engine(lanes, count, start)


def _finding(part: str, ref: str, depth: str, assumed: Sequence[str]) -> Finding:
    words = f"{part} in its other state"
    return Finding(
        "design.drive",
        part,
        "Is there a gate or a comparator that keeps a part switched off?",
        "falls short",
        f"With {words} all others would stay as they are, and {ref} would work: what drives "
        f"{part}, or {part} itself, looks wrong.",
        "every combination of states of gates and comparators, with typical parts",
        looked=Looked(1, 0, 0, depth),
        causes=[Cause(part, "", 1.0, words)],
        assumed=list(assumed),
    )
