"""The Cramér-Rao bound of a pour's onset: how well any method at all could know it.

What a display without lag shows of a stream that begins at ``t0`` and grows in a straight line to its full
flow ``F`` within ``r`` is ``L + F s(t - t0)``, ``s`` being the shape of ``logger.curve.edges.shapes``.
Through independent normal noise the readings hold the information ``J' J / sigma^2`` about ``L``, ``F``,
``t0`` (and ``r``), the columns of ``J`` being the derivatives by each; no unbiased estimate of any of them
has a variance below the inverse's diagonal (Kay, Fundamentals of Statistical Signal Processing: Estimation
Theory, 1993, chapter 3).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from logger.curve.edges.believed import FITS_WELL, RESTS_G, SHAPE_S, TIPS_S
from logger.curve.edges.edge import MOST_SAMPLES
from logger.curve.edges.shapes import FALL_S, Response, end_shape, start_shape

Floats = NDArray[np.float64]

NO_LAG = Response(0.0)
BEFORE_S, AFTER_S = 3.0, 2.5
"""So much of the curve beside a start is weighed."""
MOST_WEIGHED = 60
"""Where there are more samples, neighbours are taken together."""


def onset_bound_s(
    time_s: Floats,
    onset_s: float,
    flow_g_s: float,
    ramp_s: float,
    noise_g: float,
    *,
    ramp_known: bool = True,
    as_believed: bool = False,
) -> float:
    """Give the least standard deviation of an onset where level and flow are unknown as well.

    :param time_s: times of the readings, shape (n,)
    :param noise_g: standard deviation of one reading
    :param ramp_known: whether the ramp's duration is known beforehand
    :param as_believed: count what the weighing of starts allows for to the noise: ramps are no straight lines
    """
    since_s = time_s - onset_s
    shape = start_shape(since_s, np.array(ramp_s), NO_LAG)
    begun, full = _rate(since_s), _rate(since_s - ramp_s)
    columns = [np.ones_like(time_s), shape, flow_g_s * (full - begun) / ramp_s]
    if not ramp_known:
        columns.append(flow_g_s * (full - shape) / ramp_s)
    each_g = _believed_g(noise_g, flow_g_s, since_s) if as_believed else np.full_like(time_s, noise_g)
    answers = np.stack(columns, axis=1) / each_g[:, None]
    return float(np.sqrt(np.linalg.inv(answers.T @ answers)[2, 2]))


def _believed_g(noise_g: float, flow_g_s: float, since_s: Floats) -> Floats:
    """Give the noise of each reading that the weighing of starts allows for, so long after the onset."""
    together = since_s.size // MOST_WEIGHED + 1
    misfit_g = noise_g / np.sqrt(since_s.size // MOST_SAMPLES + 1)
    hidden_g = min(SHAPE_S * flow_g_s, FITS_WELL * misfit_g)
    strays_g = hidden_g * np.clip(since_s / TIPS_S, 0.0, 1.0)
    return np.asarray(np.hypot(noise_g, np.sqrt(together) * np.hypot(min(RESTS_G, hidden_g), strays_g)))


def straight_pour_g(
    time_s: Floats, onset_s: float, lasts_s: float, flow_g_s: float, ramp_s: float, level_g: float = 30.0
) -> Floats:
    """Give what a scale without lag or noise shows of a pour with straight ramps, shape (n,)."""
    ramp, end_s = np.array(ramp_s), onset_s + lasts_s
    begun = start_shape(time_s - onset_s, ramp, NO_LAG)
    ended = lasts_s - ramp_s + end_shape(time_s - end_s, ramp, NO_LAG)
    return level_g + flow_g_s * np.where(time_s < onset_s + 0.5 * lasts_s, begun, ended)


def _rate(since_s: Floats) -> Floats:
    """How fast the water of a flow that grows by 1 a second arrives, with the press of its stream."""
    return np.where(since_s > 0.0, since_s + FALL_S, 0.0)
