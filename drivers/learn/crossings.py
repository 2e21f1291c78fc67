"""How a number goes through nought where its sign changes, and how it does not."""

from __future__ import annotations

import numpy as np

from drivers.learn.fitting import Fit

_FAR_NOISE, _FAR_SHARE = 3.0, 0.7
"""Standard deviations by which a number does not jump over nought; share of the changes of its sign."""


def jumps_over_nought(sizes: np.ndarray, minus: np.ndarray, one: Fit) -> bool:
    """Say whether a number is far from nought wherever a sign changes, so that it would jump over it.

    :param sizes: the number without a sign
    """
    turns = np.flatnonzero(np.diff(minus.astype(np.int8)))
    turns = turns[(turns >= 1) & (turns < len(sizes) - 2)]
    if not turns.size:
        return False
    through = sizes[turns] + sizes[turns + 1]
    before, after = np.abs(sizes[turns] - sizes[turns - 1]), np.abs(sizes[turns + 2] - sizes[turns + 1])
    with np.errstate(invalid="ignore"):
        far = through > 1.8 * np.maximum(before, after) + 3.0 * one.grid + _FAR_NOISE * one.noise
        # What comes from nought is not over it.
        far &= np.minimum(sizes[turns], sizes[turns + 1]) >= 0.5 * one.grid
    return bool(far.mean() > _FAR_SHARE)
