"""A tare that goes through the scale's filter: the display fades to zero as after a lift, over seconds.

The reading after a tare is zero, so it is known how far the display falls, long before it is there; and what
it still shows of the fall then is known, too. Taken out of the curve by its own shape, the fall hides no more
than its steep beginning: a pour may begin in its tail, or run on through it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.shapes import Response, left_of_step
from logger.curve.readings.least_squares import least_squares
from logger.curve.readings.median import median
from logger.curve.readings.timebase import Samples
from logger.curve.taken_out.steps import Move
from logger.curve.taken_out.tares import RUNS_ON

LEAST_FALL_G = 5.0
BESIDE_S, LONGEST_S = 1.5, 6.0
"""So long before the key the display shows its level, or the stream that runs; so long it may fade."""
FADED, FALLEN = 0.15, 0.35
"""A fall is fitted until so much of it is left, and one that leaves more than the other is none to zero."""
FEWEST = 3
"""Readings on its way that a fall is told by."""
LONGEST_DELAY_S = 0.8
"""Of a scale of which it is not known."""
LANDS = 0.04
"""Share of a fall by which it seems to end beside zero at the most: a vessel is lifted to anywhere."""
AS_WELL = 1.25
"""A filter that is known is the key's as well, where it leaves no more times what the best one does."""
STRAYS, STRAYS_NOISES = 0.04, 3.0
"""By so much of the fall, or so many noises, the readings may stray from its shape."""
RUNS_G_S = 0.6
"""What rises by so much before the key is a stream that runs."""
KNOWN = 0.002
"""To that share of it a fall is known that was seen to its end."""
FADES_DELAYS, RESTS_S = 5.0, 1.2
"""So many delays of its filter after it began hardly any of a fall is left; and so long the display rests."""
HARDLY_G, TIMED_S = 0.1, 0.01
"""What is known to that hides nothing; and no reading's time is known better than to the other."""

_STAGES_S = np.geomspace(0.08, 1.0, 19)
_FINER, _LATER_S = np.linspace(0.9, 1.1, 11), np.linspace(-0.12, 0.12, 25)
_HALF_SHOWN = {1: 0.693, 2: 1.678}
"""In stages: when a display of one or two of them has shown half of a step (textbook)."""


@dataclass(frozen=True, slots=True)
class _Falling:
    """Readings of a fall, until most of it is shown; a stream that runs is taken out.

    :param level_g: the display before the key
    :param half_s: when it has shown half of the way to zero
    """

    time_s: Floats
    weight_g: Floats
    level_g: float
    half_s: float


@dataclass(frozen=True, slots=True)
class _Fall:
    """The shape of a fall.

    :param key_s: when it began
    :param lands_g: where it would end
    :param strays_g: how far the readings stray from it, root mean square
    :param timed_s: by how much their times would be off for that
    """

    key_s: float
    response: Response
    lands_g: float
    strays_g: float
    timed_s: float


def faded_to_zero(
    moves: tuple[Move, ...], samples: Samples, known: Response | None, noise_g: float, step_g: float
) -> tuple[Move, ...]:
    """Give the moves, and with each that falls to zero as a tare does through a filter its shape.

    :param samples: as they were shown
    :param known: the scale's filter, where a vessel's step showed it; the key's may be another
    :param noise_g: standard deviation of a reading
    """
    starts_s = [*(move.start_s for move in moves[1:]), math.inf]
    return tuple(
        _with_shape(move, until_s, samples, known, noise_g, step_g) if move.change_g < -LEAST_FALL_G else move
        for move, until_s in zip(moves, starts_s, strict=False)
    )


def _with_shape(
    move: Move, until_s: float, samples: Samples, known: Response | None, noise_g: float, step_g: float
) -> Move:
    time, weight = samples.time_s, samples.weight_g
    since, begins = time.searchsorted([move.start_s - BESIDE_S, move.start_s]).tolist()
    if begins - since < FEWEST:
        return move
    level_g, runs_g_s = _before(time[since:begins] - move.start_s, weight[since:begins], noise_g)
    last = int(time.searchsorted(min(move.start_s + LONGEST_S, until_s)))
    falling = _falling(time[begins:last], weight[begins:last], level_g, runs_g_s, move.start_s)
    unsure_g = max(4.0 * noise_g, 1.6 * step_g)
    # The key may count what is on the pan, or what is shown of it, as nothing.
    late_g = runs_g_s * (known.delay_s if known else LONGEST_DELAY_S)
    if falling is None or not _lands_at_zero(falling, known, unsure_g + late_g):
        return move
    fall = _likeliest(falling, known, to_zero=not runs_g_s)
    strays = fall.strays_g > max(STRAYS * level_g, STRAYS_NOISES * noise_g, step_g)
    if strays or _rests_elsewhere(time[:last], weight[:last], level_g, fall, max(unsure_g, HARDLY_G)):
        return move
    fell_g = _fell_through_g(time[since:last], weight[since:last], fall) if runs_g_s else level_g
    # What has fallen as far within its move, and rests, hides nothing that comes after it.
    is_over = abs(move.change_g + fell_g) < max(unsure_g, KNOWN * fell_g)
    return move if is_over else _shaped(move, fall, fell_g, noise_g)


def _fell_through_g(time_s: Floats, weight_g: Floats, fall: _Fall) -> float:
    """By how much the key moved the display while a stream ran on: what two lines differ by that run side by
    side, once its fade is allowed for.

    :param time_s: from before the key on
    """
    last = int(time_s.searchsorted(fall.key_s + FADES_DELAYS * fall.response.delay_s + BESIDE_S))
    since_s = time_s[:last] - fall.key_s
    shown = 1.0 - left_of_step(since_s, fall.response.stage_s, fall.response.order)
    columns = np.stack([np.ones(last), since_s, -shown], axis=1)
    return float(least_squares(columns, weight_g[:last])[1][2])


def _before(since_s: Floats, weight_g: Floats, noise_g: float) -> tuple[float, float]:
    """Give the level just before the key, and the flow of a stream that runs; 0 where none does.

    What a slow scale still shows of a vessel comes more and more slowly, and is none.
    """
    level_g, runs_g_s, sd_g_s = _line(since_s, weight_g, noise_g)
    half = since_s.size // 2
    steady = half < FEWEST or _line(since_s[half:], weight_g[half:], noise_g)[1] > RUNS_ON * runs_g_s
    if steady and runs_g_s > max(RUNS_G_S, STRAYS_NOISES * sd_g_s):
        return level_g, runs_g_s
    return median(weight_g[-5:]), 0.0


def _line(since_s: Floats, weight_g: Floats, noise_g: float) -> tuple[float, float, float]:
    """Put a straight line through readings: its level at time 0, its slope, and how well that is known."""
    mean_s, mean_g = float(since_s.mean()), float(weight_g.mean())
    line = since_s - mean_s
    power = max(float(line @ line), 1e-9)
    slope_g_s = float(line @ weight_g) / power
    return mean_g - slope_g_s * mean_s, slope_g_s, noise_g / math.sqrt(power)


def _falling(
    time_s: Floats, weight_g: Floats, level_g: float, runs_g_s: float, since_s: float
) -> _Falling | None:
    """Take the readings of a fall that may be one to zero; None where it is none, or too few were taken."""
    shown_g = weight_g - runs_g_s * (time_s - since_s)
    if level_g < LEAST_FALL_G or not shown_g.size:
        return None
    low = (shown_g < FADED * level_g).nonzero()[0]
    count = int(low[0] if low.size else shown_g.argmin()) + 1
    time_s, way_g = time_s[:count], shown_g[:count]
    seen = np.count_nonzero((way_g < 0.95 * level_g) & (way_g > FADED * level_g))
    if seen < FEWEST or way_g.min() > FALLEN * level_g or shown_g.min() < -FADED * level_g:
        return None
    below = int((way_g < 0.5 * level_g).argmax())
    if below == 0:
        return None
    pair = [below, below - 1]
    return _Falling(time_s, way_g, level_g, float(np.interp(0.5 * level_g, way_g[pair], time_s[pair])))


def _lands_at_zero(falling: _Falling, known: Response | None, unsure_g: float) -> bool:
    """Whether a fall is on its way to zero: a vessel's leads to what is left on the pan, or below."""
    fall = _free(falling, to_zero=False) if known is None else _own(falling, known, to_zero=False)
    return abs(fall.lands_g) < max(unsure_g, LANDS * falling.level_g)


def _rests_elsewhere(time_s: Floats, weight_g: Floats, level_g: float, fall: _Fall, unsure_g: float) -> bool:
    """Whether the display falls below zero, or rests above it while no water runs.

    :param level_g: the display before the key, of which a little is still to fall
    """
    faded_s = fall.key_s + FADES_DELAYS * fall.response.delay_s
    first, last = time_s.searchsorted([faded_s, faded_s + RESTS_S]).tolist()
    if last - first < FEWEST:
        return False
    after_s = time_s[first:last]
    beside_g = weight_g[first:last] - level_g * left_of_step(
        after_s - fall.key_s, fall.response.stage_s, fall.response.order
    )
    rests_g, flow_g_s = median(beside_g), _line(after_s, beside_g, 0.0)[1]
    return rests_g < -unsure_g or (rests_g > unsure_g and abs(flow_g_s) < RUNS_G_S)


def _likeliest(falling: _Falling, known: Response | None, *, to_zero: bool) -> _Fall:
    """Fit when a fall began, and its filter: the one that is known, where it does as well."""
    free = _free(falling, to_zero=to_zero)
    if known is None:
        return free
    own = _own(falling, known, to_zero=to_zero)
    return own if own.strays_g < AS_WELL * free.strays_g else free


def _free(falling: _Falling, *, to_zero: bool) -> _Fall:
    """Fit the filter as well."""
    coarse = [_best(falling, _STAGES_S, order, to_zero=to_zero) for order in _HALF_SHOWN]
    likely = min(coarse, key=_strays_g).response
    return _best(falling, likely.stage_s * _FINER, likely.order, to_zero=to_zero)


def _own(falling: _Falling, known: Response, *, to_zero: bool) -> _Fall:
    """Fit when a fall began that goes through a known filter."""
    stages_s = np.maximum([known.stage_s], _STAGES_S[0])
    return _best(falling, stages_s, known.order, to_zero=to_zero)


def _strays_g(fall: _Fall) -> float:
    return fall.strays_g


def _best(falling: _Falling, stages_s: Floats, order: int, *, to_zero: bool) -> _Fall:
    """Take the best of some filters, and of the times at which the key may have worked."""
    time, level_g = falling.time_s, falling.level_g
    keys_s = falling.half_s - _HALF_SHOWN[order] * stages_s[:, None] + _LATER_S
    left = left_of_step(time - keys_s[..., None], stages_s[:, None, None], order)
    off_g, lands_g = falling.weight_g - level_g * left, np.zeros(keys_s.shape)
    if not to_zero:
        shown = 1.0 - left
        lands_g = (off_g * shown).sum(axis=2) / np.maximum((shown**2).sum(axis=2), 1e-9)
        off_g = off_g - lands_g[..., None] * shown
    strays_g = np.sqrt((off_g**2).mean(axis=2))
    at = np.unravel_index(int(strays_g.argmin()), strays_g.shape)
    falls_g_s = level_g * np.diff(left[at]) / np.diff(time)
    timed_s = max(float(strays_g[at]) / max(float(np.sqrt((falls_g_s**2).mean())), 1e-9), TIMED_S)
    response = Response(float(stages_s[at[0]]), order)
    return _Fall(float(keys_s[at]), response, float(lands_g[at]), float(strays_g[at]), timed_s)


def _shaped(move: Move, fall: _Fall, fell_g: float, noise_g: float) -> Move:
    """Let a move end where what is left of it is known well enough, and know its shape."""
    since_s = np.linspace(0.0, LONGEST_S, 200)
    left = left_of_step(since_s, fall.response.stage_s, fall.response.order)
    falls_g_s = fell_g * (left[:-1] - left[1:]) / since_s[1]
    unsure = (fall.timed_s * falls_g_s + fall.strays_g * left[1:] > max(2.0 * noise_g, HARDLY_G)).nonzero()[0]
    end_s = fall.key_s + float(since_s[unsure[-1] + 1] if unsure.size else 0.0)
    return replace(
        move, start_s=fall.key_s, end_s=min(end_s, move.end_s), change_g=-fell_g, fades=fall.response
    )
