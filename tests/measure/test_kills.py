"""Killing the program at any moment loses nothing: a sample of the study in benchmarks/kills.py."""

from __future__ import annotations

import random
from pathlib import Path

from measure.kills import killed


def test_kills_at_random_moments_lose_nothing(tmp_path: Path) -> None:
    counts = killed(tmp_path, 15, random.Random(7))
    assert counts["kills"] == 15
    assert counts["readings"] > 15
    assert {counts[what] for what in ("lost", "wrong", "twice", "broken")} == {0}
