"""The scale's own response time, read off the step of a vessel that was put on or taken off."""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.edge import thinned
from logger.curve.edges.shapes import Response
from logger.curve.readings.median import median
from logger.curve.readings.timebase import Samples
from logger.curve.taken_out.steps import Move

USUAL = Response(0.3, 1)
"""Assumed where a recording holds no step: the middle of what bench scales show (0.15 to 0.8 s)."""

_ORDERS = (1, 2)
_STAGES_S = np.concatenate(([0.005, 0.02, 0.04], np.geomspace(0.06, 1.2, 28)))
"""The first are as good as none: a scale that does not filter shows the whole step from one reading to the
next, and nothing tells a lag, or that there is none, as clearly."""
_EACH = 3
"""One stage in so many is looked at first, and shows between which of them the lag is. The best time of a
step is found for those, and follows by straight lines for the stages between them."""
_SOME = np.arange(0, _STAGES_S.size, _EACH)
_BETWEEN = np.stack([np.interp(np.arange(_STAGES_S.size), _SOME, row) for row in np.eye(_SOME.size)], axis=1)
_FINER = 8
"""A clean step tells its stage more finely than those differ: so many more are weighed between two."""
_FAR_OFF = 4.0
"""A stage that leaves so many times as much as the best is none, nor are those beyond it."""
_HANDS_S = np.array([0.02, 0.1, 0.2, 0.3, 0.5])
_OF_HANDS = np.array([1.0, 1.0, 1.0, 1.0, 0.3]) / 4.3
"""How long a hand takes to let a vessel's weight down, or to take it up; longer ones leave the shape. And how
likely each is beforehand: half a second is for who sets a full server down with care."""
_LEAST_STEP_G = 30.0
_HANDS_STRAY = 0.3
"""No hand lets a weight down quite evenly. Whatever it did before it let go, what the display then misses
fades by the scale alone: the more is still missing, by this many times a whole step, the less is believed."""
_CLEAN_SHARE = 0.012
_SHAPE_SHARE = 0.002
_SIZE_SHARE = 0.004
"""A slow scale still follows a step, or follows it no more, where it seems to be over: so much of its size is
not known. Taken for known, it made lags of 1.2 s and more too short by a twentieth."""
_TELLS = 10.0
"""So many readings of their own a step has to say about the lag; the others see the same hand."""
_UNLIKELY = -60.0
"""What is less likely than that, as a logarithm, need not be known."""
_WINDOW = 4.0
"""Two stages delay as a mean over so many times one of them does, and smear nearly as much: their variance is
an eighth of its square, the mean's a twelfth."""
_MOST_SAMPLES = 120
_LONGEST_ROUND_S = 0.15


def _parabolas() -> Floats:
    """Weights of the stages in a value between them, by the parabola through the nearest three; shape
    (stages, finer ones).
    """
    stages = _STAGES_S.size
    at = np.arange((stages - 1) * _FINER + 1) / _FINER
    middle = np.minimum(np.maximum(np.rint(at).astype(np.intp), 1), stages - 2)
    off = at - middle
    weights, fine = np.zeros((stages, at.size)), np.arange(at.size)
    weights[middle - 1, fine] = 0.5 * off * (off - 1.0)
    weights[middle, fine] = 1.0 - off**2
    weights[middle + 1, fine] = 0.5 * off * (off + 1.0)
    return weights


_BETWEEN_ALL = _parabolas()
_FINE_STAGES_S = np.interp(np.arange(_BETWEEN_ALL.shape[1]) / _FINER, np.arange(_STAGES_S.size), _STAGES_S)


def response_from(samples: Samples, weight_g: Floats, moves: tuple[Move, ...]) -> Response | None:
    """Estimate the scale's lag from its vessel steps.

    Each step is fitted with the answer of a first-order scale and of twice the first order to a weight that
    comes to bear evenly within some time. The order that is likelier over all steps is taken, and of its
    stages the mean of what is possible. Where neither fits, a scale that shows the mean over a window is
    tried: it is told as the two stages that delay as much.

    :param weight_g: the samples' weights with tares taken out, shape (n,)
    :returns: None where no step is long and clean enough
    """
    vessels = [move for move in moves if not move.returns and abs(move.change_g) >= _LEAST_STEP_G]
    seen = [_seen(samples.time_s, weight_g, move) for move in vessels]
    steps = [each for each in seen if each is not None]
    clean = _clean([_of_all(*step) for step in steps])
    if clean:
        order, stage_s = _told(clean)
        return Response(stage_s, _ORDERS[order])
    means = _clean([_of_means(*step) for step in steps])
    return Response(_told(means)[1], 2) if means else None


def _clean(fits: list[Floats]) -> list[Floats]:
    return [fit for fit in fits if fit.min() < _CLEAN_SHARE**2]


def _told(fits: list[Floats]) -> tuple[int, float]:
    """Give the likeliest filter over all steps, and the mean of what is possible of its stages."""
    likely = np.sum([_likely(fit) for fit in fits], axis=0)
    chance = np.exp(np.maximum(likely - likely.max(), _UNLIKELY) @ _BETWEEN_ALL)
    filter_ = int(np.argmax(chance.sum(axis=1)))
    of_filter = chance[filter_] / chance[filter_].sum()
    return filter_, float(of_filter @ _FINE_STAGES_S)


def _likely(misfit: Floats) -> Floats:
    """Logarithm of how likely each order and stage is, whatever the hand; each step has its own noise."""
    likely = np.exp(-0.5 * _TELLS * (misfit - misfit.min()) / (misfit.min() + _SHAPE_SHARE**2))
    return np.asarray(np.log(likely @ _OF_HANDS + 1e-300))


def _seen(time_s: Floats, weight_g: Floats, move: Move) -> tuple[Floats, Floats, Floats, float] | None:
    """When a step was seen, what had arrived of it as a share, as much as each counts, and how much that is;
    and the time of the step with the whole delay, which is what was missing summed over the time.
    """
    first, begins, last = time_s.searchsorted([move.start_s - 0.3, move.start_s, move.end_s + 0.3]).tolist()
    time, weight = thinned(time_s[first:last], weight_g[first:last], _MOST_SAMPLES)
    if time.size < 6:
        return None
    level = median(weight_g[: max(begins, 1)][-5:])
    missing = 1.0 - (weight - level) / move.change_g
    believed = 1.0 / np.hypot(1.0, missing / _HANDS_STRAY)
    shown_s = time[0] + 0.5 * float((missing[1:] + missing[:-1]) @ np.diff(time))
    return time, (1.0 - missing) * believed, believed, shown_s


def _of_all(time: Floats, arrived: Floats, believed: Floats, shown_s: float) -> Floats:
    """Mean squared misfit, as a share of the step, for each order, stage and hand; the best time of the step.

    :param time: shape (n,); with the others, what ``_seen`` gives
    """
    orders, hands_s = np.array(_ORDERS, dtype=np.float64)[:, None, None, None], _HANDS_S[:, None]
    few_s, all_s = _STAGES_S[_SOME, None, None], _STAGES_S[:, None, None]
    begins_s = shown_s - orders * few_s - 0.5 * hands_s
    later_s, few = _at_best(*_off(time - begins_s, arrived, few_s, hands_s, orders, believed), arrived)
    likely = (few.min(axis=(0, 2)) < _FAR_OFF * (few.min() + time.size * _SHAPE_SHARE**2)).nonzero()[0]
    near = slice(max(_SOME[likely[0]] - _EACH, 0), _SOME[likely[-1]] + _EACH + 1)
    # By how much a step begins later changes little from stage to stage.
    near_s = all_s[near]
    begins_s = shown_s - orders * near_s - 0.5 * hands_s + (_BETWEEN[near] @ later_s)[..., None]
    off, slope = _off(time - begins_s, arrived, near_s, hands_s, orders, believed)
    squares = np.full((len(_ORDERS), _STAGES_S.size, _HANDS_S.size), np.inf)
    squares[:, near] = _at_best(off, slope, arrived)[1]
    return squares / time.size


def _of_means(time: Floats, arrived: Floats, believed: Floats, shown_s: float) -> Floats:
    """The same for scales that show the mean over a window, by the stages that delay as much; shape (1,
    stages, hands). A weight that comes to bear evenly goes through such a mean as through a second one.
    """
    hands_s, windows_s = _HANDS_S[:, None], _WINDOW * _STAGES_S[:, None, None]
    since = time - (shown_s - 0.5 * (windows_s + hands_s))
    corners = [np.maximum(since - at_s, 0.0) for at_s in (0.0, windows_s, hands_s, windows_s + hands_s)]
    each = believed / (windows_s * hands_s)
    rises = (corners[0] - corners[1] - corners[2] + corners[3]) * each
    shown = 0.5 * (corners[0] ** 2 - corners[1] ** 2 - corners[2] ** 2 + corners[3] ** 2) * each
    return _at_best((shown - arrived)[None], -rises[None], arrived)[1] / time.size


def _at_best(off: Floats, slope: Floats, arrived: Floats) -> tuple[Floats, Floats]:
    """By how much later a step begins, to fit best, by Newton's method, and the sum of squares there; how
    much larger it is than it seemed follows by least squares, around not at all.

    :param arrived: what was seen of the step, shape (n,); with ``off``, what should have been
    """
    along, square = np.vecdot(off, slope), np.vecdot(off, off)
    power = np.maximum(np.vecdot(slope, slope), 1e-9)
    off_arrived = off @ arrived
    off_size, slope_size = square + off_arrived, along + slope @ arrived
    size = square + 2.0 * off_arrived + arrived @ arrived + (_SHAPE_SHARE / _SIZE_SHARE) ** 2
    alone = np.maximum(power - slope_size**2 / size, 1e-9)
    later_s = (off_size * slope_size / size - along) / alone
    later_s = np.minimum(np.maximum(later_s, -_LONGEST_ROUND_S), _LONGEST_ROUND_S)
    left = square + later_s * (2.0 * along + later_s * power)
    return later_s, np.maximum(left - (off_size + later_s * slope_size) ** 2 / size, 0.0)


def _off(
    since: Floats, arrived: Floats, stage_s: Floats, hand_s: Floats, order: Floats, believed: Floats
) -> tuple[Floats, Floats]:
    """What should have arrived less what did, and by how much that grows as the step begins later.

    :param arrived: as much as each counts
    :param believed: how much that is, shape (n,)
    """
    # One exponential serves both: a hand later it has faded by that much less.
    begun_s, let_go_s = np.maximum(since, 0.0), np.maximum(since - hand_s, 0.0)
    fade = np.exp(begun_s / -stage_s)
    faded_less = np.minimum(fade * np.exp(hand_s / stage_s), 1.0)
    # Textbook: of a sudden step 1 a display of one stage misses exp(-u/T), one of two (1 + u/T) exp(-u/T).
    # Summed from the step on it has shown u + T exp(-u/T), and u + (2 T + u) exp(-u/T), but for its delay.
    missing = fade - faded_less
    shown = begun_s - let_go_s + order * stage_s * missing
    of_second = begun_s[1:] * fade[1:] - let_go_s[1:] * faded_less[1:]  # of one stage, the first, it is none
    shown[1:] += of_second
    missing[1:] += of_second / stage_s
    each = believed / hand_s
    return shown * each - arrived, missing * each
