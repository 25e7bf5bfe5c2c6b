"""A sample of `benchmarks/mutated_files.py`: spoilt files give a clear error or a verdict."""

from __future__ import annotations

import time
from functools import cache

import numpy as np
import pytest
import spoilt_files
from spoilt_files import CLEAN, DEMO, SMALL, VERDICTS, base

from railwright.files.mistakes import FileError, Mistake

SAMPLE = range(200_000, 200_040)
outcome = cache(spoilt_files.outcome)


@pytest.mark.parametrize("seed", SAMPLE)
def test_a_spoilt_file_gives_an_error_or_a_verdict(seed: int) -> None:
    assert outcome(seed) in CLEAN


def test_the_sample_holds_files_that_are_refused_read_and_proved() -> None:
    found = {outcome(seed) for seed in SAMPLE}
    assert {"refused", "read"} <= found
    assert len(found & set(VERDICTS)) > 1


def test_the_sample_spoils_every_design() -> None:
    assert {base(seed) for seed in SAMPLE} == {*SMALL, DEMO}


def a_proved_seed() -> int:
    return next(seed for seed in SAMPLE if outcome(seed) in VERDICTS)


def test_a_crash_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    seed = a_proved_seed()
    monkeypatch.setattr("railwright.prove.run.prove", lambda *_, **__: 1 / 0)
    assert "ZeroDivisionError" in spoilt_files.outcome(seed)


def test_a_warning_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    seed = a_proved_seed()
    monkeypatch.setattr(
        "railwright.prove.run.prove", lambda *_, **__: np.array([1.0]) / np.array([0.0])
    )
    assert "RuntimeWarning" in spoilt_files.outcome(seed)


def test_a_hang_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    seed = a_proved_seed()
    monkeypatch.setattr(spoilt_files, "LONGEST", 1)
    monkeypatch.setattr("railwright.prove.run.prove", lambda *_, **__: time.sleep(30))
    assert spoilt_files.outcome(seed) == "hang"


def test_a_refusal_without_a_place_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    seed = a_proved_seed()

    def refuse(*_: object) -> None:
        raise FileError("a file", [Mistake(0, 0, "", "something is amiss.")])

    monkeypatch.setattr("railwright.circuit.design.read", refuse)
    assert spoilt_files.outcome(seed).startswith("exit status 2")
