"""Parts that can rest in either of two states (gates, thyristors, relays), held or free."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from railwright.engine.model import Model, Name

Array = NDArray[np.float64]
State = Mapping[str, float]
"""Ref of a two-state part -> 0 (inactive) or 1 (active)."""
MOST_PARTS = 10
"""Parts whose states are tried in every combination; beyond that the search is not complete."""


def two_state_parts(model: Model) -> tuple[str, ...]:
    """Refs of the parts that can rest in either of two states."""
    return tuple(e.ref for e in model.topology.elements if e.device.two_state)


def combinations(parts: Sequence[str]) -> Array:
    """Every combination of states of the first MOST_PARTS parts, (part, combination)."""
    tried = parts[:MOST_PARTS]
    rows = np.array(list(itertools.product((0.0, 1.0), repeat=len(tried))))
    return rows.T


def held(parts: Sequence[str], state: Mapping[str, Array | float]) -> dict[Name, Array | float]:
    """Inputs that hold parts at a state."""
    lanes: dict[Name, Array | float] = {(ref, "free"): 0.0 for ref in parts}
    return lanes | {(ref, "forced"): firmly(state[ref]) for ref in parts}


def firmly(state: Array | float) -> Array | float:
    """Where a part is held for a state: well beyond the bend, so that it is let go smoothly."""
    return 3.0 * state - 1.0
