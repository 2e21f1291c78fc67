"""What the scale can tell apart: the step of its display, and the noise of one reading."""

from __future__ import annotations

import math

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.median import median
from logger.curve.readings.timebase import Samples

_STEPS_G = np.array([0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0])


def display_step_g(weight_g: Floats) -> float:
    """Find the step of the display: the largest usual step of which all weights are multiples.

    :returns: 0 where the weights follow no usual step (a converter's raw value, say)
    """
    some = weight_g[:: max(weight_g.size // 4000, 1)]
    few = some[:: max(some.size // 64, 1)]
    likely = _multiples(few, _STEPS_G[:, None]) > 0.8
    for step_g in _STEPS_G[likely][::-1].tolist():
        if _multiples(some, step_g) > 0.98:
            return float(step_g)
    return 0.0


def _multiples(weight_g: Floats, step_g: Floats | float) -> Floats:
    """Which share of some weights are multiples of a step; of several steps, shape (k, 1), that of each."""
    steps = weight_g / step_g
    are_close = np.abs(steps - np.rint(steps)) < 0.01
    return np.asarray(are_close.sum(axis=-1) / max(weight_g.size, 1))


def noise_g(samples: Samples, step_g: float) -> float:
    """Estimate the standard deviation of one reading around a curve without jumps.

    Second differences cancel level and slope; for independent noise they have six times its variance.
    Their median is not moved by pours, vessels or knocks. Never less than a step's own ``q / sqrt(12)``
    (GUM, JCGM 100:2008, F.2.2.1).
    """
    floor_g = max(step_g / math.sqrt(12.0), 1e-3)
    if samples.weight_g.size < 8:
        return floor_g
    weight = samples.weight_g
    bends = np.abs(weight[2:] - 2.0 * weight[1:-1] + weight[:-2])
    typical = median(bends) / (0.6745 * math.sqrt(6.0))
    if step_g and typical < step_g:
        # A quiet coarse display repeats itself, and the median sees only the repeats.
        squares = np.minimum(bends, 2.0 * step_g) ** 2
        typical = min(math.sqrt(float(squares.sum()) / bends.size / 6.0), step_g)
    return max(typical, floor_g)
