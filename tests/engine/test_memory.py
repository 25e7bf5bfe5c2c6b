"""Memory that courses of many lanes take."""

from __future__ import annotations

import pytest
from engine.memory import STATUS, WATCHED, measured

SLACK_MB = 12.0
"""Blocks on their way, and what the allocator keeps."""


@pytest.mark.skipif(not STATUS.exists(), reason="the peak of memory is read as Linux tells it")
def test_more_lanes_take_no_more_than_their_results() -> None:
    # Results of three signals take 24 MB; all that is recorded would take nearly six times that.
    found = measured(lanes=512, span=2e-4, instants=2000, seed=3)
    assert found["solved"] == 1.0
    assert found["results_mb"] == pytest.approx(512 * 2000 * len(WATCHED) * 8 / 2**20)
    assert found["peak_mb"] - found["before_mb"] < found["results_mb"] + SLACK_MB
    # The results were really filled in: a peak that did not move would tell nothing.
    assert found["peak_mb"] - found["before_mb"] > 0.5 * found["results_mb"]
