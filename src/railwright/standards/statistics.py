"""What a count of good samples says about the yield."""

from typing import NamedTuple


class Yield(NamedTuple):
    """Share of good ones: best estimate and the ends of its interval."""

    estimate: float
    low: float
    high: float


def yield_interval(good: int, samples: int, confidence: float = 0.95) -> Yield:
    """Estimate and exact two-sided interval of the share of good ones, from independent samples.

    Sources: interval: C. J. Clopper and E. S. Pearson, "The use of confidence or fiducial limits
    illustrated in the case of the binomial", Biometrika 26 (1934). Estimate: mean of Jeffreys'
    posterior, (good + 1/2) / (samples + 1), because the plain share would call 1000 good ones of
    1000 a yield of 100 %. ValueError where the counts or the confidence make no sense.

    >>> all_good = yield_interval(1000, 1000)
    >>> round(all_good.estimate, 4), round(all_good.low, 4), all_good.high
    (0.9995, 0.9963, 1.0)
    """
    from scipy.special import betaincinv  # takes long to import

    if not (samples > 0 and 0 <= good <= samples):
        raise ValueError(f"{good} good of {samples} samples: wanted are 0 to all of at least 1")
    if not 0 < confidence < 1:
        raise ValueError(f"a confidence of {confidence!r}: wanted is one between 0 and 1")
    tail = (1 - confidence) / 2
    low = float(betaincinv(good, samples - good + 1, tail)) if good > 0 else 0.0
    high = float(betaincinv(good + 1, samples - good, 1 - tail)) if good < samples else 1.0
    return Yield((good + 0.5) / (samples + 1), low, high)
