"""By how much the probability of an even cup would rise if one cause were put right.

Brews are drawn as they would come: every figure's own rest normally spread, carried over to what follows from
it. Then, with the same draws, one mean is put where it is wanted, or one spread is brought down to where the
figure is capable (Cp = 1), and the brews inside are counted again. No spread is taken away altogether: nobody
pours without any, and a mean at the edge of its limits would look like a fault of the spread.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.compare.practice.causes import Causes, find_causes
from logger.compare.practice.estimates import (
    Floats,
)
from logger.compare.practice.table import Column
from logger.compare.practice.worst_figure import shrunk_correlations

_DRAWS, _DRAWS_AGAIN = 4000, 300
_RESAMPLED = 40
_SEED = 2


@dataclass(frozen=True, slots=True)
class Gains:
    """Probabilities that a brew is inside, by the model of causes.

    :param now: as it is
    :param mean: with one figure's own mean put right, all else as it is, shape (k,)
    :param spread: with one figure's own spread made capable, shape (k,)
    """

    now: float
    mean: Floats
    spread: Floats

    @property
    def best(self) -> int:
        """The best fix: a column for its mean, or that and k for its spread."""
        return int(np.argmax(np.concatenate((self.mean, self.spread))))


def gains_of(
    causes: Causes, off: Floats, half: Floats, counts: NDArray[np.bool_], draws: int = _DRAWS
) -> Gains:
    """Put each cause right in turn.

    :param off: how far each figure's mean is off the middle of its limits, its own unit, shape (k,)
    :param half: half the width of its limits, shape (k,)
    :param counts: which figures have limits; the others only cause, shape (k,)
    :param draws: so many brews
    """
    own = _own_draws(causes, draws)
    scale = 1.0 / half[counts]
    passed = causes.total[counts] * scale[:, np.newaxis]
    brews = off[counts] * scale + own @ passed.T
    now = inside(brews)
    taken = 1.0 - np.minimum(1.0, capable_sd(causes, half, counts) / np.maximum(causes.own_sd, 1e-12))
    mean, spread = np.full(half.size, now), np.full(half.size, now)
    for one in np.flatnonzero(causes.own_mean):
        mean[one] = inside(brews - passed[:, one] * causes.own_mean[one])
    for one in np.flatnonzero(taken):
        spread[one] = inside(brews - np.outer(own[:, one] * taken[one], passed[:, one]))
    return Gains(now, mean, spread)


def capable_sd(causes: Causes, half: Floats, counts: NDArray[np.bool_]) -> Floats:
    """The standard deviation with which a figure, and all that follows from it, is capable: Cp = 1.

    :return: shape (k,); infinite where nothing that counts follows
    """
    with np.errstate(divide="ignore"):
        room = half[counts, np.newaxis] / np.abs(causes.total[counts])
    return np.asarray(room.min(axis=0, initial=np.inf) / 3.0, dtype=np.float64)


def inside(brews: Floats) -> float:
    """The share of brews that are inside in all figures, kept off 0 and 1 by half a brew.

    :param brews: in tolerances, shape (n, k)
    """
    n = len(brews)
    share = float((np.abs(brews).max(axis=1) <= 1.0).mean()) if brews.shape[1] else 1.0
    return min(max(share, 0.5 / n), 1.0 - 0.5 / n)


def _own_draws(causes: Causes, draws: int) -> Floats:
    """Own rests of brews as they might come, shape (draws, k)."""
    sd = causes.own_sd
    made = np.zeros((draws, sd.size))
    moving = np.flatnonzero(sd > 1e-9)
    if moving.size:
        together = shrunk_correlations(causes.own[:, moving]) + 1e-9 * np.eye(moving.size)
        normal = np.random.default_rng(_SEED).standard_normal((draws, moving.size))
        made[:, moving] = normal @ np.linalg.cholesky(together).T * sd[moving]
    return made


def first_shares(
    columns: tuple[Column, ...], values: Floats, middle: Floats, half: Floats, counts: NDArray[np.bool_]
) -> Floats:
    """How often each fix comes first when the brews are drawn anew from themselves (Efron 1979).

    :param middle: of the limits, shape (k,)
    :return: shape (2 k,): means, then spreads; NaN below 4 brews
    """
    n, count = values.shape
    if n < 4:
        return np.full(2 * count, math.nan)
    generator = np.random.default_rng(_SEED)
    first = np.zeros(2 * count)
    for _ in range(_RESAMPLED):
        drawn = values[generator.integers(0, n, n)]
        causes = find_causes(columns, drawn)
        first[gains_of(causes, drawn.mean(axis=0) - middle, half, counts, _DRAWS_AGAIN).best] += 1
    return np.asarray(first / _RESAMPLED, dtype=np.float64)


def moved(probability: float, now: float, then: float) -> float:
    """Move a probability by as much, on the scale of normal deviates, as the model's moves."""
    from scipy.special import ndtr, ndtri

    kept = min(max(probability, 1e-6), 1.0 - 1e-6)
    return float(ndtr(ndtri(kept) + ndtri(then) - ndtri(now)))
