"""Statistical tolerance intervals, two-sided and exact: ISO 16269-6.

The interval ``mean +- k sd`` holds a given share of all brews with a given confidence. Given how far the mean
is off, the share holds as soon as the deviation is large enough, so k solves an integral over the mean of a
chi-squared probability (Odeh and Owen 1980; NIST/SEMATECH e-Handbook, 7.2.6.3, gives Howe's approximation).
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from logger.compare.practice.estimates import (
    Floats,
    ToleranceInterval,
)

SHARE, CONFIDENCE = 0.90, 0.95
_NODES = 61


@lru_cache(maxsize=256)
def tolerance_factor(n: int, share: float = SHARE, confidence: float = CONFIDENCE) -> float:
    """The exact factor k of a two-sided tolerance interval.

    :param n: number of values; NaN below 2
    :param share: of all values that shall lie inside
    :param confidence: how often such an interval holds that share
    """
    from scipy.optimize import brentq
    from scipy.special import chdtrc

    if n < 2:
        return math.nan
    mean_off, weight = np.polynomial.hermite_e.hermegauss(_NODES)
    weight = weight / weight.sum()
    needed = np.array([_half_width(abs(off) / math.sqrt(n), share) for off in mean_off])

    def short_of(k: float) -> float:
        return float(weight @ chdtrc(n - 1, (n - 1) * (needed / k) ** 2)) - confidence

    return float(brentq(short_of, 0.5, 5000.0, xtol=1e-10))


def _half_width(off: float, share: float) -> float:
    """Half the width around a point that far from the mean which holds a share of the standard normal."""
    from scipy.optimize import brentq
    from scipy.special import ndtr

    return float(brentq(lambda half: ndtr(off + half) - ndtr(off - half) - share, 0.0, off + 10.0))


def howe_factor(n: int, share: float = SHARE, confidence: float = CONFIDENCE) -> float:
    """Howe's approximation of k, NIST/SEMATECH e-Handbook, 7.2.6.3: a check beside the exact one."""
    from scipy.special import chdtri, ndtri

    normal = float(ndtri((1 + share) / 2))
    return math.sqrt((n - 1) * (1 + 1 / n) * normal**2 / float(chdtri(n - 1, confidence)))


def tolerance_interval(values: Floats, unit: str, enough: int) -> ToleranceInterval:
    """Where nine in ten of all brews fall.

    :param enough: below so many values the band is not printed, only how wide it would be
    """
    n = values.size
    if n < 2:
        says = "One brew says nothing of where the others fall." if n else "It was not measured."
        return ToleranceInterval(math.nan, math.nan, math.nan, SHARE, CONFIDENCE, n, unit, False, says)
    k = tolerance_factor(n)
    tight = n >= enough
    reach = k * float(values.std(ddof=1)) if tight else math.nan
    mean = float(values.mean())
    return ToleranceInterval(
        mean - reach, mean + reach, k, SHARE, CONFIDENCE, n, unit, tight, _says(n, k, tight)
    )


def _says(n: int, k: float, tight: bool) -> str:
    holds = f"nine in ten of all brews, with {CONFIDENCE:.0%} confidence, lie within the mean ±{k:.1f} sd"
    if tight:
        return f"From {n} brews: {holds}."
    return f"From {n} brews no band can be told: {holds}, which is too wide to be of use."
