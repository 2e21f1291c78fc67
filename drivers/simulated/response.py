"""How a first-order instrument follows what it measures: the filter of a scale, the lag of a probe."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_NOTHING = 1e-20


def first_order(values: Floats, step_s: float, lag_s: float) -> Floats:
    """Let a first-order instrument follow values on an even grid, settled on the first one.

    Exact for values that change linearly between the points of the grid.

    :param values: what is measured; shape (n,)
    :param step_s: of the grid
    :param lag_s: time constant; 0 follows at once
    """
    if lag_s <= 0 or len(values) < 2:
        return values.copy()
    ratio = step_s / lag_s
    kept = math.exp(-ratio)
    new = 1.0 + math.expm1(-ratio) / ratio
    old = -math.expm1(-ratio) - new
    start = values[0]
    driven = np.concatenate(([0.0], new * (values[1:] - start) + old * (values[:-1] - start)))
    following: Floats = start + _decaying_sum(driven, kept)
    return following


def _decaying_sum(driven: Floats, kept: float) -> Floats:
    """``y[i] = kept * y[i-1] + driven[i]``: each pass doubles the reach, until what is kept is nothing."""
    sums, reach = driven.copy(), 1
    while reach < len(sums) and kept > _NOTHING:
        sums[reach:] += kept * sums[:-reach]
        kept, reach = kept * kept, 2 * reach
    return sums
