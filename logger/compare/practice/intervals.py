"""Mean, spread, trend and capability of one figure, each with its interval.

Brews are taken for independent and normally spread. ``n`` is the number of values; NaN stands where there are
too few of them.
"""

from __future__ import annotations

import math

import numpy as np

from logger.compare.practice.estimates import (
    CONFIDENCE,
    Estimate,
    Floats,
)

FEWEST = 3
"""Fewer values than this get no interval: from two of them one reaches 6 standard deviations and more."""

_SHARES = 400
"""So many equal shares of the chi-squared distribution stand for all of it in an integral."""

Span = tuple[float, float]
NO_SPAN = (math.nan, math.nan)


def c4(n: int) -> float:
    """What a sample's standard deviation is of the true one, on average.

    ``sqrt(2 / (n - 1)) gamma(n / 2) / gamma((n - 1) / 2)``, NIST/SEMATECH e-Handbook, 6.3.2.
    """
    return math.sqrt(2.0 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))


def sample_sd(values: Floats) -> float:
    """Standard deviation of a sample; NaN below 2 values."""
    return float(values.std(ddof=1)) if values.size > 1 else math.nan


def mean_estimate(values: Floats, unit: str, confidence: float = CONFIDENCE) -> Estimate:
    """The mean with Student's interval, NIST/SEMATECH e-Handbook, 1.3.5.2."""
    n = values.size
    mean = float(values.mean()) if n else math.nan
    if n < FEWEST:
        return Estimate(mean, *NO_SPAN, n, unit, confidence)
    reach = students_t(n - 1, confidence) * sample_sd(values) / math.sqrt(n)
    return Estimate(mean, mean - reach, mean + reach, n, unit, confidence)


def sd_estimate(values: Floats, unit: str, confidence: float = CONFIDENCE) -> Estimate:
    """The standard deviation over c4, with its chi-squared interval, NIST/SEMATECH e-Handbook, 7.2.3.1."""
    n = values.size
    if n < 2:
        return Estimate(math.nan, *NO_SPAN, n, unit, confidence)
    sd = sample_sd(values)
    low, high = _sd_span(sd, n, confidence) if n >= FEWEST else NO_SPAN
    return Estimate(sd / c4(n), low, high, n, unit, confidence)


def _sd_span(sd: float, n: int, confidence: float) -> Span:
    from scipy.special import chdtri  # of the upper tail

    tail = (1.0 - confidence) / 2
    sum_of_squares = (n - 1) * sd**2
    return (
        math.sqrt(sum_of_squares / float(chdtri(n - 1, tail))),
        math.sqrt(sum_of_squares / float(chdtri(n - 1, 1.0 - tail))),
    )


def likely_next(mean: float, sd: float, n: int, confidence: float = CONFIDENCE) -> Span:
    """Where the next value falls nine times in ten: a prediction interval.

    :param sd: standard deviation of the sample
    :return: NaN below 3 values: two say next to nothing
    """
    if n < FEWEST:
        return NO_SPAN
    reach = students_t(n - 1, confidence) * sd * math.sqrt(1 + 1 / n)
    return mean - reach, mean + reach


def trend_estimate(values: Floats, order: Floats, unit: str) -> tuple[Estimate, float]:
    """The slope of a least-squares line over the order of the brews, and how likely chance makes it so steep.

    :param order: place of each value in practice, rising, shape (n,)
    :return: the slope with Student's interval (NIST/SEMATECH e-Handbook, 4.4.3), two-sided p; NaN below 4
    """
    from scipy.special import stdtr

    n = values.size
    if n < FEWEST + 1:
        return Estimate(math.nan, *NO_SPAN, n, unit), math.nan
    since = order - order.mean()
    slope = float(since @ values / (since @ since))
    rest = values - values.mean() - slope * since
    error = math.sqrt(float(rest @ rest) / (n - 2) / float(since @ since))
    reach = students_t(n - 2, CONFIDENCE) * error
    p = 2.0 * float(stdtr(n - 2, -abs(slope) / error)) if error > 0 else float(slope == 0)
    return Estimate(slope, slope - reach, slope + reach, n, unit), p


def capability(values: Floats, limits: Span, confidence: float = CONFIDENCE) -> tuple[Estimate, Estimate]:
    """Cp and Cpk, NIST/SEMATECH e-Handbook, 6.1.6, with intervals that hold for few brews.

    Cp's interval is exact (chi-squared). Cpk's is generalized (Weerahandi 1993): of mean and deviation all
    pairs that could have given this sample, weighted as they would.

    :return: NaN where there are no limits, below 2 values, or where nothing varies
    """
    n = values.size
    nothing = Estimate(math.nan, *NO_SPAN, n, "", confidence)
    sd = sample_sd(values)
    width = limits[1] - limits[0]
    if not (math.isfinite(width) and sd > 0):
        return nothing, nothing
    mean = float(values.mean())
    cp = width / (6 * sd)
    cpk = min(limits[1] - mean, mean - limits[0]) / (3 * sd)
    if n < FEWEST:
        return Estimate(cp, *NO_SPAN, n, "", confidence), Estimate(cpk, *NO_SPAN, n, "", confidence)
    low_sd, high_sd = _sd_span(sd, n, confidence)
    over, under = (limits[1] - mean) / sd, (mean - limits[0]) / sd
    return (
        Estimate(cp, width / (6 * high_sd), width / (6 * low_sd), n, "", confidence),
        Estimate(cpk, *_cpk_span(over, under, n, confidence), n, "", confidence),
    )


def _cpk_span(over: float, under: float, n: int, confidence: float) -> Span:
    """Lower and upper bound of Cpk.

    The lower one is the generalized bound. The upper one cannot be: Cpk has a kink where the mean lies in the
    middle, and all those means that could have been make it look worse than it is. It is the Cpk with which a
    sample's would be as low as this one with the probability left, the mean being as far off as was seen,
    less what chance alone puts it off.

    :param over: sample standard deviations from the mean up to the upper limit; ``under``: down to the lower
    """
    from scipy.optimize import brentq
    from scipy.special import chdtri, ndtr

    root = math.sqrt(n)
    scale = np.sqrt(chdtri(n - 1, (np.arange(_SHARES) + 0.5) / _SHARES) / (n - 1))
    off = math.sqrt(max(((over - under) / 2) ** 2 - 1 / n, 0.0))

    def share_below(cpk: float) -> float:
        """Of all means and deviations that could have given this sample, those with less."""
        least, most = root * (3 * cpk - over * scale), root * (under * scale - 3 * cpk)
        return float(1.0 - np.clip(ndtr(most) - ndtr(least), 0.0, 1.0).mean())

    def as_low(cpk: float) -> float:
        """How often a sample's would be as low as this one's."""
        room = 3 * cpk + off - min(over, under) * scale
        return float(
            1.0 - np.where(room > 0, ndtr((room - off) * root) - ndtr(-(room + off) * root), 0.0).mean()
        )

    far = 10.0 + 10.0 * (abs(over) + abs(under)) + 3.0 * root
    tail = (1.0 - confidence) / 2
    low = float(brentq(lambda cpk: share_below(cpk) - tail, -far, far))
    return low, max(low, float(brentq(lambda cpk: as_low(cpk) - tail, -far, far)))


def students_t(degrees_of_freedom: int, confidence: float) -> float:
    """Student's t that is exceeded, either way, in all but this share of cases."""
    from scipy.special import stdtrit

    return float(stdtrit(degrees_of_freedom, (1.0 + confidence) / 2))
