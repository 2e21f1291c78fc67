"""One number for each brew: how far its worst figure is off, in tolerances.

A brew is inside on every stage exactly when its worst figure is: when that number is at most 1. So the joint
distribution of all figures, however they hang together, is in the distribution of this one number, and the
probability that the next cup is inside is the probability that the next such number is below 1. No matrix of
correlations has to be known, which five brews could not give.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from logger.compare.practice.estimates import (
    Floats,
)

LEAST_OFF = 1e-3
"""A brew that is off by less is taken for off by so much: the power below would run away."""

SAME = 1e-9
"""Figures that differ by less differ by arithmetic."""

LEAST_POWER, MOST_POWER = -1.0, 2.5
_DRAWS = 1000
_SEED = 1

_DEVIATES = np.arange(-2.0, 2.01, 0.5)
_RANKS = np.array([NormalDist().cdf(deviate) for deviate in _DEVIATES])


@dataclass(frozen=True, slots=True)
class Shape:
    """What a normal model of the figures says of the shape of the worst one's distribution.

    :param power: that makes it even-sided
    :param count: how many figures can be the worst, see ``figures_apart``
    :param drawn: worst figures as the model draws them, in tolerances, shape (draws,)
    """

    power: float
    count: float
    drawn: Floats

    @property
    def knots(self) -> Floats | None:
        """Quantiles of the draws, made even-sided and of deviation 1, at whole and half normal deviates.

        What is left of their shape when the power has made them even-sided: where one figure is wild and the
        others steady, none of the powers makes a normal distribution. None where the draws do not vary.
        """
        even = powered(self.drawn, self.power)
        sd = float(even.std())
        if not sd > SAME:
            return None
        quantiles = np.quantile((even - even.mean()) / sd, _RANKS)
        return quantiles if float(np.diff(quantiles).min()) > SAME else None


def straightened(deviates: Floats, knots: Floats) -> tuple[Floats, Floats]:
    """Bend what the power made even-sided until the model's own draws are normally spread.

    :param deviates: in deviations of the draws from their mean
    :param knots: see ``Shape.knots``; beyond them it goes on straight
    :return: the normal deviates, and the slope at each
    """
    slopes = np.diff(_DEVIATES) / np.diff(knots)
    at = np.clip(np.searchsorted(knots, deviates) - 1, 0, slopes.size - 1)
    return _DEVIATES[at] + (deviates - knots[at]) * slopes[at], slopes[at]


def off_in_tolerances(values: Floats, limits: Floats) -> Floats:
    """How far each figure is off the middle of its limits, 1 being the limits themselves.

    :param values: shape (n, k)
    :param limits: least and most, shape (k, 2), the one below the other
    """
    middle, half = limits.mean(axis=1), np.ptp(limits, axis=1) / 2
    return np.asarray((values - middle) / half, dtype=np.float64)


def worst(off: Floats) -> Floats:
    """The largest distance of each brew.

    :param off: in tolerances, shape (n, k), k at least 1; NaN makes a brew's NaN
    """
    return np.asarray(np.maximum(np.abs(off).max(axis=1), LEAST_OFF), dtype=np.float64)


def shape_of(off: Floats) -> Shape:
    """The power that makes the worst figure's distribution even-sided, by Box and Cox, and how many matter.

    It follows from how many figures there are, how they hang together and which of them matter, so it is
    taken from a normal distribution with the brews' own means, deviations and shrunk correlations. That model
    only gives the shape; where and how wide the numbers lie the brews say themselves.

    :param off: in tolerances, NaN-free, shape (n, k), n at least 2
    """
    from scipy.optimize import brentq

    figures = _model_draws(off)
    drawn, count = worst(figures), figures_apart(off, figures)
    if np.ptp(drawn) < SAME:
        return Shape(1.0, count, drawn)
    distance = drawn / np.median(drawn)

    def leaning(power: float) -> float:
        return skewness(powered(distance, power))

    if leaning(LEAST_POWER) > 0:
        return Shape(LEAST_POWER, count, drawn)
    if leaning(MOST_POWER) < 0:
        return Shape(MOST_POWER, count, drawn)
    return Shape(float(brentq(leaning, LEAST_POWER, MOST_POWER, xtol=0.02)), count, drawn)


def powered(distance: Floats, power: float) -> Floats:
    """Box and Cox's transform: rising, 0 at the limit itself."""
    if abs(power) < 1e-6:
        return np.log(distance)
    return np.asarray((distance**power - 1.0) / power, dtype=np.float64)


def skewness(values: Floats) -> float:
    """Third central moment by the cube of the standard deviation; 0 where nothing varies."""
    since = values - values.mean()
    sd = math.sqrt(float((since**2).mean()))
    return float((since**3).mean()) / sd**3 if sd > 0 else 0.0


def _model_draws(off: Floats) -> Floats:
    """Brews as they might come, shape (draws, k)."""
    draws = np.random.default_rng(_SEED).standard_normal((_DRAWS, off.shape[1]))
    mean, sd = off.mean(axis=0), off.std(axis=0, ddof=1)
    moving = np.flatnonzero(sd > SAME)
    drawn = np.tile(mean, (_DRAWS, 1))
    if moving.size:
        root = np.linalg.cholesky(shrunk_correlations(off[:, moving]) + 1e-9 * np.eye(moving.size))
        drawn[:, moving] += draws[:, : moving.size] @ root.T * sd[moving]
    return drawn


def figures_apart(off: Floats, drawn: Floats) -> float:
    """How many figures may be the worst: those that hang together, or seldom are the worst, counted as few.

    The smaller of two effective numbers: the square of their number by the sum of their squared correlations,
    and the inverse of Simpson's index of how often each is the worst.

    :param drawn: brews as they might come, shape (draws, k)
    """
    moving = off[:, off.std(axis=0, ddof=1) > SAME]
    count = moving.shape[1]
    if not count:
        return 1.0
    together: float = count**2 / float((shrunk_correlations(moving) ** 2).sum())
    often = np.bincount(np.abs(drawn).argmax(axis=1), minlength=drawn.shape[1]) / len(drawn)
    return float(min(together, 1.0 / (often**2).sum()))


def shrunk_correlations(values: Floats) -> Floats:
    """Correlations drawn towards none by as much as chance makes them (Schaefer and Strimmer 2005).

    :param values: shape (n, k), every column varying
    """
    n, count = values.shape
    if count == 1:
        return np.ones((1, 1))
    found = np.asarray(np.corrcoef(values, rowvar=False), dtype=np.float64)
    besides = found[~np.eye(count, dtype=bool)]
    chance = ((1.0 - besides**2) ** 2 / (n - 1)).sum()
    kept = 1.0 - min(1.0, float(chance) / max(float((besides**2).sum()), 1e-12))
    shrunk = np.asarray(kept * found, dtype=np.float64)
    np.fill_diagonal(shrunk, 1.0)
    return shrunk
