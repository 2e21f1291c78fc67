"""The probability that the next cup is inside, with an interval that holds for few brews.

The worst figure of a brew (``worst_figure``), raised to a power that makes it even-sided, is taken for
normally spread with unknown mean and deviation. That it lies below the limit is then a normal tail, whose
exact bounds are those of the noncentral t (Owen 1968; the tables for sampling by variables rest on the same).
Which power that is the brews themselves have a say in: powers around the model's are weighed by how well the
worst figures fit them (Box and Cox 1964, section 3), each once as it is and once bent until the model's draws
are normal to the tails, and the bounds are those of all of them together.
``docs/evenness.md`` says what was tried and how well the intervals hold.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from logger.compare.practice.estimates import (
    CONFIDENCE,
    Estimate,
    Floats,
)
from logger.compare.practice.intervals import FEWEST, NO_SPAN
from logger.compare.practice.worst_figure import Shape, powered, shape_of, straightened, worst

_SHARES = (np.arange(200) + 0.5) / 200
_WANTED = np.array([(1 - CONFIDENCE) / 2, 0.5, (1 + CONFIDENCE) / 2])

_POWER_SD = 0.6
"""How far the true power may lie from the model's where many figures come together."""

_NODES = np.arange(-2.5, 2.51, 0.5)

_BENT = 2.0
"""How much likelier than the powers alone they are bent, where several figures can be the worst."""


def next_inside(off: Floats, resolved: Floats, skipped: int = 0) -> Estimate:
    """The probability that the next brew is inside in all figures.

    :param off: of brews of which all is known, in tolerances, shape (n, k)
    :param resolved: what the instrument resolves in each figure, in tolerances, shape (k,): no figure is
        taken to vary by less than such a step does, step / sqrt(12) (JCGM 100:2008, F.2.2.1)
    :param skipped: further brews, outside because a pour was skipped or ran into another
    :return: NaN where there are fewer than 3 brews, or none of the figures counts
    """
    n = len(off) + skipped
    if n < FEWEST or off.shape[1] == 0:
        return Estimate(math.nan, *NO_SPAN, n, "")
    distance = worst(off)
    if len(off) < FEWEST:
        return counted(int((distance <= 1.0).sum()), n)
    step = float(np.median(resolved[np.abs(off).argmax(axis=1)])) / math.sqrt(12.0)
    sds_below, weights = _by_powers(distance, shape_of(off), step)
    if not sds_below.size:
        return counted(int((distance <= 1.0).sum()), n)
    if skipped:
        return _thinned(below(sds_below, weights, len(off), _SHARES), skipped, n)
    low, value, high = (float(share) for share in below(sds_below, weights, len(off), _WANTED))
    return Estimate(value, low, high, n, "")


def _by_powers(distance: Floats, shape: Shape, step: float) -> tuple[Floats, Floats]:
    """For each shape that may be the right one, how far the brews lie below the limit, and its weight.

    Of one figure alone the shape is known, and of many less so.

    :param step: the deviation that the instruments cannot resolve
    :return: in sample deviations, and weights that add up to 1; empty where nothing varies
    """
    several = shape.count > 1
    bends = (None, shape.knots) if several and shape.knots is not None else (None,)
    found = [
        (one[0], one[1] - node**2 / 2 + (math.log(_BENT) if knots is not None else 0.0))
        for node in (_NODES if several else (0.0,))
        for knots in bends
        if (one := _seen_as(distance, shape, node, knots, step)) is not None
    ]
    if not found:
        return np.zeros(0), np.zeros(0)
    sds_below, weights = np.array([one[0] for one in found]), np.array([one[1] for one in found])
    weighed = np.exp(weights - weights.max())
    kept = weighed > 1e-4 * weighed.sum()
    return sds_below[kept], weighed[kept] / weighed[kept].sum()


def _seen_as(
    distance: Floats, shape: Shape, node: float, knots: Floats | None, step: float
) -> tuple[float, float] | None:
    """Take the brews for one shape.

    :param node: the power, in deviations from the model's
    :param knots: how it is bent, or None
    :return: how many sample deviations the brews lie below the limit, and the log of how well they fit; None
        where nothing varies
    """
    n, usual = distance.size, float(np.median(distance))
    power = shape.power + node * _POWER_SD * (1 - 1 / shape.count)
    drawn = powered(shape.drawn, power)
    middle, scale = (float(drawn.mean()), float(drawn.std())) if knots is not None else (0.0, 1.0)
    # The brews, then the limit itself and the usual brew.
    deviates = (powered(np.append(distance, (1.0, usual)), power) - middle) / scale
    slopes = np.ones(n + 2)
    if knots is not None:
        deviates, slopes = straightened(deviates, knots)
    even, limit = deviates[:n], float(deviates[n])
    sd = max(float(even.std(ddof=1)), step * usual ** (power - 1.0) * float(slopes[-1]) / scale)
    if sd <= 1e-12:
        return None
    stretched = (power - 1) * float(np.log(distance).mean()) + float(np.log(slopes[:n] / scale).mean())
    return (limit - float(even.mean())) / sd, (n - 1) * (stretched - math.log(sd))


def below(sds_below: Floats, weights: Floats, n: int, confidences: Floats) -> Floats:
    """Bounds for the share of a normal distribution that lies below a limit.

    Of one sample they are those of the noncentral t, worked out as the mean over all deviations that could
    have given it; of several, weighted, those of all together.

    :param sds_below: how many sample deviations the sample's mean lies below the limit
    :param confidences: for each wanted bound, how often the true share is below it
    :return: the bounds, rising with the confidences
    """
    from scipy.optimize import brentq
    from scipy.special import ndtr

    root = math.sqrt(n)
    away = np.outer(sds_below * root, _scales(n))

    def confidence(deviate: float) -> float:
        return float(weights @ ndtr(deviate * root - away).mean(axis=1))

    least, most = (float(away.min()) - 6.0) / root, (float(away.max()) + 6.0) / root
    deviates = [brentq(lambda z, at=at: confidence(z) - at, least, most, xtol=1e-4) for at in confidences]
    return np.asarray(ndtr(np.array(deviates)), dtype=np.float64)


@lru_cache(maxsize=64)
def _scales(n: int) -> Floats:
    """True deviations, by the sample's, that could have given a sample, each as likely: inverse chi."""
    from scipy.special import chdtri

    return np.asarray(np.sqrt(chdtri(n - 1, _SHARES) / (n - 1)), dtype=np.float64)


def counted(inside: int, n: int) -> Estimate:
    """The share of brews inside by counting alone, with Jeffreys' interval (Brown, Cai and DasGupta 2001)."""
    from scipy.special import betaincinv

    low, value, high = (float(share) for share in betaincinv(inside + 0.5, n - inside + 0.5, _WANTED))
    return Estimate(value, 0.0 if inside == 0 else low, 1.0 if inside == n else high, n, "")


def _thinned(shares: Floats, skipped: int, n: int) -> Estimate:
    """Of brews without a skipped pour so many are inside; of all, fewer."""
    from scipy.special import betaincinv

    kept = 1.0 - betaincinv(skipped + 0.5, n - skipped + 0.5, _SHARES)
    low, value, high = np.quantile(np.outer(shares, kept), _WANTED)
    return Estimate(float(value), float(low), float(high), n, "")
