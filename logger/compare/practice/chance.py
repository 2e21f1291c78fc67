"""Beyond chance or not: tests, and how many brews a test would need."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from logger.compare.practice.estimates import (
    Floats,
)

ALPHA = 0.05
"""How often, of all that are looked at together, anything is called beyond chance that is not."""

_POWER = 0.8
_MOST_BREWS = 200


def holm(chances: Sequence[float]) -> list[float]:
    """Correct p-values for how many there are (Holm 1979); NaN stays NaN and counts for none."""
    corrected = [math.nan] * len(chances)
    known = [number for number, p in enumerate(chances) if math.isfinite(p)]
    highest = 0.0
    for rank, number in enumerate(sorted(known, key=lambda one: chances[one])):
        highest = max(highest, min(1.0, (len(known) - rank) * chances[number]))
        corrected[number] = highest
    return corrected


def mean_off_p(mean: float, sd: float, n: int) -> float:
    """How likely chance alone puts a mean so far off nought, either way: Student's t."""
    from scipy.special import stdtr

    if n < 3:
        return math.nan
    if sd <= 0:
        return 1.0 if mean == 0 else 0.0
    return 2.0 * float(stdtr(n - 1, -abs(mean) / sd * math.sqrt(n)))


def sd_over_p(sd: float, allowed: float, n: int) -> float:
    """How likely a sample varies so much where the true deviation is no more than allowed: chi-squared."""
    from scipy.special import chdtrc

    return math.nan if n < 3 else float(chdtrc(n - 1, (n - 1) * (sd / allowed) ** 2))


def brews_for_mean(mean: float, sd: float) -> int | None:
    """Brews with which a mean as far off would be told in four of five practice sets; None beyond 200."""
    from scipy.special import stdtrit

    for n in range(3, _MOST_BREWS + 1):
        reach = float(stdtrit(n - 1, 1 - ALPHA / 2) + stdtrit(n - 1, _POWER))
        if abs(mean) * math.sqrt(n) >= reach * sd:
            return n
    return None


def brews_for_sd(sd: float, allowed: float) -> int | None:
    """Brews with which so wide a spread would be told in four of five practice sets; None beyond 200."""
    from scipy.special import chdtri

    for n in range(3, _MOST_BREWS + 1):
        if float(chdtri(n - 1, _POWER)) * (sd / allowed) ** 2 >= float(chdtri(n - 1, ALPHA)):
            return n
    return None


def finite(values: Floats) -> Floats:
    """Those that were measured."""
    return np.asarray(values[np.isfinite(values)], dtype=np.float64)
