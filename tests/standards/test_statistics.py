"""The interval of a yield against its defining equations and an independent computation."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from railwright.standards.statistics import yield_interval


def test_worked_example() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.2: 4 of 20, confidence 90 %. Its
    # equations: at the upper end a count of 4 or less has 5 %, at the lower end one of 3 or less
    # 95 %. The ends 0.0714 and 0.4010 from memory.
    found = yield_interval(4, 20, confidence=0.9)
    assert binom.cdf(4, 20, found.high) == pytest.approx(0.05, rel=1e-9)
    assert binom.cdf(3, 20, found.low) == pytest.approx(0.95, rel=1e-9)
    assert (found.low, found.high) == pytest.approx((0.0714, 0.4010), abs=1e-4)


@given(st.integers(1, 3000), st.floats(0, 1), st.floats(0.5, 0.999))
def test_agrees_with_an_independent_computation(
    samples: int, share: float, confidence: float
) -> None:
    good = round(share * samples)
    found = yield_interval(good, samples, confidence)
    other = binomtest(good, samples).proportion_ci(confidence, method="exact")
    assert (found.low, found.high) == pytest.approx((other.low, other.high), rel=1e-9, abs=1e-12)
    assert found.low <= found.estimate <= found.high


@given(st.integers(1, 100_000))
def test_all_good_is_never_certain(samples: int) -> None:
    found = yield_interval(samples, samples)
    # Closed form: the share whose power of all samples is the tail.
    assert found.low == pytest.approx(0.025 ** (1 / samples), rel=1e-9)
    assert found.low < found.estimate < 1


@pytest.mark.parametrize(
    ("good", "samples", "confidence"),
    [(0, 0, 0.95), (-1, 10, 0.95), (11, 10, 0.95), (5, 10, 0.0), (5, 10, 1.0), (5, 10, 95)],
)
def test_impossible_questions_are_refused(good: int, samples: int, confidence: float) -> None:
    with pytest.raises(ValueError, match="wanted"):
        yield_interval(good, samples, confidence)
