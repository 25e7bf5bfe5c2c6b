"""Multipliers and poles against what becomes of small disturbances."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from engine.stability import Verdicts, of_linear_supplies, of_switching_stages


@pytest.mark.parametrize("study", [of_switching_stages, of_linear_supplies])
def test_what_is_foretold_happens(study: Callable[[int, int], Verdicts]) -> None:
    found = study(32, 7)
    assert found.counts["contradict"] == found.counts["no course"] == 0
    assert found.counts["agree"] > 16
    # Both sides occur, or agreement would mean little.
    assert found.unstable.sum() >= 4
    assert (found.largest < 0.995).sum() >= 4
