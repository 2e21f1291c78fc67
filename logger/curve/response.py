"""The scale's own response time, read off the step of a vessel that was put on or taken off."""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges import thinned
from logger.curve.shapes import Response
from logger.curve.steps import Move
from logger.curve.timebase import Samples

USUAL = Response(0.3, 1)
"""Assumed where a recording holds no step: the middle of what bench scales show (0.15 to 0.8 s)."""

_STAGES_S = np.geomspace(0.06, 1.2, 28)
_LEAST_STEP_G = 30.0
_CLEAN_SHARE = 0.015
_MOST_SAMPLES = 120


def response_from(samples: Samples, weight_g: Floats, moves: tuple[Move, ...]) -> Response | None:
    """Estimate the scale's lag from its vessel steps.

    Each step is fitted with the answer of a first-order scale and of twice the first order; the shape that
    leaves the least over all steps is taken.

    :param weight_g: the samples' weights with tares taken out, shape (n,)
    :returns: None where no step is long and clean enough
    """
    fits = [
        _misfits(samples.time_s, weight_g, move)
        for move in moves
        if not move.returns and abs(move.change_g) >= _LEAST_STEP_G
    ]
    clean = [fit for fit in fits if fit is not None and fit.min() < _CLEAN_SHARE**2]
    if not clean:
        return None
    # Each step has its own noise: weigh the steps by what their best fit leaves.
    total = np.sum([fit / max(fit.min(), 1e-7) for fit in clean], axis=0)
    order, stage = np.unravel_index(int(np.argmin(total)), total.shape)
    return Response(float(_STAGES_S[stage]), int(order) + 1)


def _misfits(time_s: Floats, weight_g: Floats, move: Move) -> Floats | None:
    """Mean squared misfit, as a share of the step, for each order and stage; the best time of the step."""
    around = (time_s >= move.start_s - 0.3) & (time_s <= move.end_s + 0.3)
    time, weight = thinned(time_s[around], weight_g[around], _MOST_SAMPLES)
    if time.size < 6:
        return None
    level = float(np.median(weight_g[time_s <= move.start_s][-5:]))
    missing = 1.0 - (weight - level) / move.change_g
    starts = np.linspace(move.start_s - 0.3, min(move.start_s + 1.8, move.end_s), 85)
    since = np.maximum(time - starts[:, None], 0.0)
    # The exponential of a difference is a product, which spares one for every pair of times.
    stages = _STAGES_S[:, None]
    fades = np.exp(-(time - time[0]) / stages)[:, None, :] * np.exp((starts - time[0]) / stages)[:, :, None]
    first = np.minimum(fades, 1.0)
    second = first * (1.0 + since / _STAGES_S[:, None, None])
    return np.stack([_least_square(shown - missing) for shown in (first, second)])


def _least_square(off: Floats) -> Floats:
    """Mean square over the samples, for the best of the times; (stages, times, samples) to (stages,)."""
    return np.asarray(np.einsum("stn,stn->st", off, off).min(axis=1) / off.shape[2])
