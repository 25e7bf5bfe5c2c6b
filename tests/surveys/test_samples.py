"""Sets of uniform numbers: even, independent of each other, and the same for the same seed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from railwright.surveys.samples import SETS, distinct_rows, quasi_random

QUANTITIES, SAMPLES = 7, 2000


def sets(seed: int = 1) -> np.ndarray:
    return quasi_random(QUANTITIES, SAMPLES, seed).reshape(QUANTITIES, SETS, -1)


@pytest.mark.parametrize("samples", [4, 8, 1000, 2000])
def test_there_are_as_many_as_asked_for(samples: int) -> None:
    assert quasi_random(3, samples, 1).shape == (3, samples)
    assert quasi_random(0, samples, 1).shape == (0, samples)


def test_every_marginal_is_uniform_in_every_set() -> None:
    for row in sets().reshape(-1, SAMPLES // SETS):
        assert stats.kstest(row, "uniform").statistic < 0.02  # a random set of 250: about 0.055


def test_a_mean_is_closer_than_that_of_random_numbers() -> None:
    # Random: 1 / sqrt(12 * 2000) = 6.5e-3.
    assert np.abs(quasi_random(QUANTITIES, SAMPLES, 1).mean(axis=1) - 0.5).max() < 1e-3


def test_the_spread_between_sets_shows_the_error_of_a_mean() -> None:
    # So it does only if the sets are randomised independently of each other.
    means = np.array([np.prod(2.0 * sets(seed), axis=0).mean(axis=1) for seed in range(80)])
    expected = means.var(axis=1, ddof=1).mean() / SETS
    assert means.mean(axis=1).var(ddof=1) == pytest.approx(expected, rel=0.5)
    assert means.mean() == pytest.approx(1.0, abs=5 * np.sqrt(expected / 80))


def test_quantities_are_not_correlated() -> None:
    correlations = np.corrcoef(quasi_random(QUANTITIES, SAMPLES, 1))
    assert np.abs(correlations[~np.eye(QUANTITIES, dtype=bool)]).max() < 0.02


def test_one_seed_gives_one_set_of_numbers() -> None:
    assert np.array_equal(sets(1), sets(1))
    assert not np.array_equal(sets(1), sets(2))


def test_equal_rows_are_found_and_led_back_to() -> None:
    rows = np.array([[1.0, 2.0], [3.0, 2.0], [1.0, 2.0], [1.0, 2.5]])
    first, kind = distinct_rows(rows)
    assert sorted(first) == [0, 1, 3]
    assert np.array_equal(rows[first][kind], rows)
    first, kind = distinct_rows(np.empty((3, 0)))
    assert (list(first), list(kind)) == ([0], [0, 0, 0])
