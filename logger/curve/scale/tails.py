"""The scale's own response time, read off how the display settles after a hand that no step's shape fits.

A cup comes down on its rim and then flat, a hand presses, lifts a little, lets go; a dripper is lifted,
swirled and put back. But once the hand has let go the display follows the scale's filter alone, whatever came
before. What it still misses fades as ``exp(-u / T)`` through one stage, and as ``(1 + r u / T) exp(-u / T)``
through two, where ``r`` is how much of it the first stage misses as well: all of it at the most, and
``1 / (1 + v)`` of it when the hand let go ``v`` stages ago.

When it let go is not known. So every reading may be the first one after it: those before it tell nothing, and
the more of them a stage explains, the likelier it is.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from logger.curve.brew import Floats
from logger.curve.edges.shapes import Response
from logger.curve.readings.median import median
from logger.curve.readings.runs import Flags
from logger.curve.readings.timebase import Samples
from logger.curve.scale.lag import Lags
from logger.curve.taken_out.steps import Move

_STAGES_S = np.geomspace(0.04, 1.2, 35)
_TWO_STAGES = 1.0 / 3.0
"""Every third scale lags twice over. Two stages that are shorter than the time between two readings are not
seen to be two."""
_FIRST_MISSES, _FIRST_DIFFERS = 0.45, 0.15
"""How much the first of two stages misses of what the second does, a stage or two after the hand let go."""
_LEAST_MOVE_G, _SEEN_AFTER_S = 30.0, 0.5
_MOST_TIMES, _RESTS_FOR = 16, 12
"""So many times are tried at which the hand may have let go, and so many readings at rest are looked at."""
_LETS_GO = 0.7
"""As long as more than that is missing, the hand is still at it."""
_LEAST_SEEN, _FEWEST = 0.15, 3
"""So much has to be missing still when it lets go, and by so many readings: a filter that averages over a
window is all there at once, and its last reading or two fade as if through next to nothing."""
_TELLS = 4.0
"""What is missing counts as long as it is so many times what hides it."""
_CREEPS, _STRAYS, _LEVEL = 0.0005, 0.1, 0.004
"""By how much a load cell settles in its own way; by how much of what is missing filters differ; how
well the level is known that it settles to. All as a share of the most that was missing."""
_OTHERWISE = 0.03
"""How likely it is that it was a hand all the time, or another filter, and any lag may be."""
_UNLIKELY = -60.0
"""What is less likely than that, as a logarithm, need not be known."""
_BY_HAND = 0.05
"""By how much the readings before it let go would stray from what follows."""


def lags_by_tails(samples: Samples, weight_g: Floats, moves: tuple[Move, ...], noise_g: float) -> Lags | None:
    """Estimate the scale's lag from what the display missed after each move of a hand.

    :param weight_g: the samples' weights with tares taken out, shape (n,)
    :param moves: vessels that were put on or taken off, and what was lifted and came back
    :param noise_g: standard deviation of a reading
    :returns: the lag if the scale has one stage, and if it has two, and the usual ones, hardly likely; None
        where nothing settles cleanly for long enough
    """
    next_s = [move.start_s for move in moves[1:]] + [np.inf] * bool(moves)
    found = [
        _likely(samples, weight_g, move, until_s, noise_g)
        for move, until_s in zip(moves, next_s, strict=True)
    ]
    tails = [each for each in found if each is not None]
    if not tails:
        return None
    likely = np.sum(tails, axis=0)
    chance = np.exp(np.maximum(likely - likely.max(), _UNLIKELY))
    of_orders = chance.sum(axis=1)
    stages_s = chance @ _STAGES_S / of_orders
    told = Response(float(stages_s[0])), Response(float(stages_s[1]), 2)
    usual = Lags.usual()
    chance_usual = _OTHERWISE * of_orders.sum() * usual.chance / usual.chance.sum()
    return Lags((*told, *usual.responses), np.concatenate((of_orders, chance_usual)))


def _likely(samples: Samples, weight_g: Floats, move: Move, until_s: float, noise_g: float) -> Floats | None:
    """Logarithm of how likely each order and stage is, whenever the hand let go; shape (2, stages)."""
    first, last = samples.time_s.searchsorted([move.start_s, min(move.end_s + _SEEN_AFTER_S, until_s)])
    time, weight = samples.time_s[first:last], weight_g[first:last]
    if time.size < 2 * _FEWEST:
        return None
    missing = median(weight[-_FEWEST:]) - weight
    most_g = float(np.abs(missing).max())
    if most_g < _LEAST_MOVE_G:
        return None
    missing = missing / most_g
    hidden = float(np.hypot(_CREEPS, noise_g / most_g))
    held, telling = (_last(np.abs(missing) > least) for least in (_LETS_GO, _TELLS * hidden))
    if telling - held < _FEWEST - 1:
        return None
    lets_go = np.arange(held, telling + 2 - _FEWEST, 1 + (telling - held) // _MOST_TIMES)
    seen = slice(telling + _RESTS_FOR)
    time, missing = time[seen], missing[seen]
    likely = _evidence(time, missing, np.hypot(hidden, _STRAYS * missing), lets_go)
    best = lets_go[np.unravel_index(int(likely.argmax()), likely.shape)[0]]
    if abs(missing[best]) < _LEAST_SEEN:
        return None
    return np.asarray(np.logaddexp.reduce(likely, axis=0))


def _last(which: Flags) -> int:
    return int(which.nonzero()[0][-1]) if which.any() else 0


def _evidence(time: Floats, missing: Floats, unsure: Floats, lets_go: NDArray[np.intp]) -> Floats:
    """Logarithm of how well each order and stage explains what is missing, from each time on that the hand
    may have let go (the Bayesian linear model, see ``edges.posterior``); shape (times, 2, stages).

    :param unsure: how well each reading is known, shape (n,)
    :param lets_go: first reading after each of those times
    """
    since = time - time[lets_go, None]
    counts = (since >= 0.0) / unsure
    stages = np.maximum(since, 0.0)[:, None] / _STAGES_S[:, None]
    fade, level = np.exp(-stages), np.ones_like(stages)
    seen = counts * missing
    explained = (counts > 0.0) @ np.log(np.hypot(_BY_HAND, unsure) / unsure) - 0.5 * (seen**2).sum(axis=1)
    first_differs = _FIRST_DIFFERS * np.maximum(np.abs(missing[lets_go]), _CREEPS)[:, None, None]
    one = np.stack([fade, _LEVEL * level], axis=2)
    two = [fade * (1.0 + _FIRST_MISSES * stages), first_differs * fade * stages, _LEVEL * level]
    fits = [_fitted(shapes, counts, seen) for shapes in (one, np.stack(two, axis=2))]
    beforehand = np.log([1.0 - _TWO_STAGES, _TWO_STAGES])[:, None].repeat(_STAGES_S.size, axis=1)
    beforehand[1, _STAGES_S * time.size < time[-1] - time[0]] = -np.inf
    return np.asarray(np.stack(fits, axis=1) + beforehand + explained[:, None, None])


def _fitted(shapes: Floats, counts: Floats, seen: Floats) -> Floats:
    """What a sum of shapes, one of each beforehand, adds to the evidence; shape (times, stages).

    :param shapes: shape (times, stages, shapes, n)
    :param counts: how much each reading counts, shape (times, n)
    :param seen: what they show, as much as they count, shape alike
    """
    each = shapes * counts[:, None, None]
    precision = each @ each.swapaxes(2, 3) + np.eye(each.shape[2])
    along = each @ seen[:, None, :, None]
    explains = (along * np.linalg.solve(precision, along)).sum(axis=(2, 3))
    return np.asarray(0.5 * (explains - np.linalg.slogdet(precision)[1]))
