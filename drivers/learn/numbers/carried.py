"""Lower bytes that belong to a number: where those above go up by one, they begin again.

What has nothing to do with it is as high before as behind; a byte of the number itself is low where the bytes
above it have just gone up, and high where they are about to. Noise of a load at rest is enough to see it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from drivers.decoders.byte_orders import WORD_ORDERS
from drivers.learn.numbers.fitting import Fit

_CHANCE = 1e-3
"""Chance by which bytes of something else are all high where those above them are low."""


def is_carried(one: Fit, count: int) -> bool:
    """Say whether the lowest bytes of an integer go on with those above them.

    :param count: how many of them
    """
    number, frames = replace(one.number, sign=None), one.kind.frames
    if (
        number.encoding != "integer"
        or number.mask
        or not 0 < count < number.width
        or number.order in WORD_ORDERS
    ):
        return False
    offset = number.offset + (count if number.order == "little" else 0)
    upper = replace(number, offset=offset, width=number.width - count).values(frames)
    lower = number.values(frames) - upper * 256.0**count
    chance = 1.0
    for rows in one.kind.settled:
        above, below = upper[rows], lower[rows]
        low, high = (below[above == np.nanmedian(above) + step] for step in _commonest_step(above))
        if not low.size or not high.size:
            continue
        if low.min() <= high.max():
            return False
        chance /= math.comb(low.size + high.size, low.size)
    return chance < _CHANCE


def _commonest_step(above: np.ndarray) -> tuple[float, float]:
    """Give the two values next to each other that come most at a load, as steps from the middle one."""
    middle = np.nanmedian(above)
    more = (above == middle + 1.0).sum() >= (above == middle - 1.0).sum()
    return (0.0, 1.0) if more else (-1.0, 0.0)
