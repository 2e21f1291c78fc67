"""Lowest digits that are 00 or 50 and nothing else: of a display in steps of a half, or of another byte."""

from __future__ import annotations

import numpy as np

from drivers.learn.fitting import Fit

_NEARLY_ALL, _FEWEST_MOVES = 0.985, 3
_NEARBY, _SMOOTHLY = 1000.0, 0.8
"""Hundredths from one packet to the next that are no damage; how much less far such a number goes."""


def are_halves(one: Fit) -> bool:
    """Say whether lowest digits are 00 and 50 only, of a display in steps of a half, and go on with the rest.

    With the two put for each other, such a number goes further up and down; with another byte it does not.
    """
    lowest = one.kind.frames[:, one.number.lowest_at]
    digits = 10 * (lowest >> 4).astype(np.float64) + (lowest & 0x0F)
    if np.isin(digits, (0.0, 50.0)).mean() < _NEARLY_ALL or not (digits == 50.0).any():
        return False
    values = one.number.values(one.kind.frames)
    good = np.isfinite(values) & np.isin(digits, (0.0, 50.0))
    turned = values + 50.0 - 2.0 * digits
    gone, gone_turned = (np.abs(np.diff(some[good])) for some in (values, turned))
    near = (gone < _NEARBY) & (gone_turned < _NEARBY) & (gone + gone_turned > 0.0)
    return bool(near.sum() >= _FEWEST_MOVES and gone[near].sum() < _SMOOTHLY * gone_turned[near].sum())
