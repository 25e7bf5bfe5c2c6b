"""A sample of `benchmarks/mutated_files.py`: spoilt files give a clear error or a verdict."""

from __future__ import annotations

import pytest

from benchmarks.mutated_files import VERDICTS, mutated, outcome


@pytest.mark.parametrize("seed", range(200_000, 200_040))
def test_a_spoilt_file_gives_an_error_or_a_verdict(seed: int) -> None:
    assert outcome(mutated(seed)) in (*VERDICTS, "refused")


def test_the_sample_holds_files_that_are_proved_and_files_that_are_refused() -> None:
    found = {outcome(mutated(seed)) for seed in range(200_000, 200_012)}
    assert "refused" in found
    assert found & set(VERDICTS)
