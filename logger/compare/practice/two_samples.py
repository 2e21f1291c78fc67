"""Two samples of one figure: does the mean differ, does the spread, and by how much?"""

from __future__ import annotations

import math

import numpy as np

from logger.compare.practice.estimates import (
    CONFIDENCE,
    Estimate,
    Floats,
)
from logger.compare.practice.intervals import FEWEST, NO_SPAN, sample_sd

SHUFFLES = 4999
_SEED = 4


def difference(first: Floats, second: Floats, unit: str, confidence: float = CONFIDENCE) -> Estimate:
    """Second mean less first, with Welch's interval (Welch 1947; NIST/SEMATECH e-Handbook, 1.3.5.3)."""
    from scipy.special import stdtrit

    n = first.size + second.size
    if min(first.size, second.size) < 1:
        return Estimate(math.nan, *NO_SPAN, n, unit, confidence)
    off = float(second.mean() - first.mean())
    if min(first.size, second.size) < FEWEST:
        return Estimate(off, *NO_SPAN, n, unit, confidence)
    parts = [sample_sd(first) ** 2 / first.size, sample_sd(second) ** 2 / second.size]
    if sum(parts) == 0:
        return Estimate(off, off, off, n, unit, confidence)
    degrees = sum(parts) ** 2 / (parts[0] ** 2 / (first.size - 1) + parts[1] ** 2 / (second.size - 1))
    reach = float(stdtrit(degrees, (1 + confidence) / 2)) * math.sqrt(sum(parts))
    return Estimate(off, off - reach, off + reach, n, unit, confidence)


def effect_size(first: Floats, second: Floats, confidence: float = CONFIDENCE) -> Estimate:
    """Hedges' g, second less first, in pooled standard deviations; interval by the noncentral t.

    Hedges (1981): Cohen's d by ``1 - 3 / (4 df - 1)``.
    """
    from scipy.special import nctdtrinc, ndtri

    n, degrees = first.size + second.size, first.size + second.size - 2
    if min(first.size, second.size) < FEWEST:
        return Estimate(math.nan, *NO_SPAN, n, "", confidence)
    squares = (first.size - 1) * sample_sd(first) ** 2 + (second.size - 1) * sample_sd(second) ** 2
    if squares <= 0:
        return Estimate(math.nan, *NO_SPAN, n, "", confidence)
    small = 1.0 - 3.0 / (4.0 * degrees - 1.0)
    d = float(second.mean() - first.mean()) / math.sqrt(squares / degrees)
    root = math.sqrt(first.size * second.size / n)
    shares = np.array([(1 + confidence) / 2, (1 - confidence) / 2])
    away = nctdtrinc(degrees, shares, d * root) if abs(d * root) > 1e-6 else -ndtri(shares)
    low, high = (float(edge) / root * small for edge in away)
    return Estimate(d * small, low, high, n, "", confidence)


def mean_p(first: Floats, second: Floats) -> float:
    """How likely brews shuffled between the sets differ as much in the mean: permutation test, two-sided."""
    return _shuffled_p(first, second)


def spread_p(first: Floats, second: Floats) -> float:
    """The same for the spread, on the distances from the sets' medians (Brown and Forsythe 1974)."""
    return _shuffled_p(np.abs(first - np.median(first)), np.abs(second - np.median(second)))


def _shuffled_p(first: Floats, second: Floats) -> float:
    if min(first.size, second.size) < FEWEST:
        return math.nan
    if np.ptp(np.concatenate((first, second))) == 0:
        return 1.0
    from scipy.stats import permutation_test

    test = permutation_test(
        (first, second),
        _mean_apart,
        permutation_type="independent",
        vectorized=True,
        n_resamples=SHUFFLES,
        rng=np.random.default_rng(_SEED),
    )
    return float(test.pvalue)


def _mean_apart(first: Floats, second: Floats, axis: int = 0) -> Floats:
    return np.asarray(second.mean(axis=axis) - first.mean(axis=axis), dtype=np.float64)


def spread_ratio(first: Floats, second: Floats, confidence: float = CONFIDENCE) -> Estimate:
    """Standard deviation of the second by that of the first, with the F interval (NIST/SEMATECH, 1.3.5.9)."""
    from scipy.special import fdtri

    n = first.size + second.size
    if min(first.size, second.size) < FEWEST or min(sample_sd(first), sample_sd(second)) <= 0:
        return Estimate(math.nan, *NO_SPAN, n, "", confidence)
    ratio = sample_sd(second) / sample_sd(first)
    upper = float(fdtri(second.size - 1, first.size - 1, (1 + confidence) / 2))
    lower = float(fdtri(second.size - 1, first.size - 1, (1 - confidence) / 2))
    return Estimate(ratio, ratio / math.sqrt(upper), ratio / math.sqrt(lower), n, "", confidence)
