"""Lanes in blocks of W side by side, (block, row, W), as the compiled code reads them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def padded(row: Any, width: int) -> Array:
    """A row of lanes as (block, W); the last lane fills the last block."""
    lanes: Array = np.asarray(row, float)
    missing = -lanes.size % width
    if missing:
        lanes = np.concatenate([lanes, np.repeat(lanes[-1:], missing)])
    return lanes.reshape(-1, width)


def blocks(lanes: Array, width: int) -> Array:
    """(lane, row) as (block, row, W), contiguous; the last lane fills the last block."""
    missing = -lanes.shape[0] % width
    if missing:
        lanes = np.concatenate([lanes, np.repeat(lanes[-1:], missing, axis=0)])
    return np.ascontiguousarray(lanes.reshape(-1, width, lanes.shape[1]).transpose(0, 2, 1))


def gathered(blocks: Array, lanes: NDArray[np.intp]) -> Array:
    """Lanes (lane, row) of blocks (block, row, W)."""
    block, lane = np.divmod(lanes, blocks.shape[2])
    found: Array = blocks[block, :, lane]
    return found


def flat(blocks: Array, row: int) -> Array:
    """One row of blocks over all their lanes."""
    return blocks[:, row].reshape(-1)
