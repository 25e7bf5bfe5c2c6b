"""What counts as ripple of a waveform: its harmonics up to a band, and no drift of what wanders."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from railwright.engine.cycle import Stretch
from railwright.surveys.cycles import BAND, _within_band

INSTANTS = 128
PERIOD = 1.0 / 150e3
PHASE = np.linspace(0.0, 1.0, INSTANTS + 1)


def cycle_like() -> Any:
    return SimpleNamespace(phase=PHASE, period=np.array([PERIOD]))


def stretch_like() -> Any:
    found = object.__new__(Stretch)
    for name, value in vars(cycle_like()).items():
        object.__setattr__(found, name, value)
    return found


def harmonics(row: np.ndarray) -> np.ndarray:
    """The same by its definition: a sum of sines and cosines up to the band."""
    count = int(BAND * PERIOD)
    turns = np.outer(np.arange(1, count + 1), 2.0 * np.pi * PHASE[:-1])
    samples = row[:-1]
    found = np.full(INSTANTS, samples.mean())
    for turn in turns:
        found += 2.0 / INSTANTS * (samples @ np.cos(turn)) * np.cos(turn)
        found += 2.0 / INSTANTS * (samples @ np.sin(turn)) * np.sin(turn)
    return found


def test_an_edge_at_the_end_of_a_cycle_is_no_drift() -> None:
    # Down a ramp and up again at the tick, which lies between the last instant and the first.
    row = np.where(PHASE < 0.4, 1.0, 0.0)
    row[-1] = 0.0
    found = _within_band(cycle_like(), row[None])
    np.testing.assert_allclose(found[0], harmonics(row), atol=1e-12)


def test_a_drift_of_what_wanders_is_left_out() -> None:
    wave = 1e-3 * np.sin(2.0 * np.pi * PHASE)
    found = _within_band(stretch_like(), (wave + 0.1 * PHASE)[None])
    np.testing.assert_allclose(np.ptp(found), 2e-3, rtol=1e-3)
