"""Whether the lower half of a float is its own: it starts again where the upper half goes on by one.

Any bytes behind the upper half of a float make one that is off by a step of that half at most, and loads that
are check masses have lower halves of next to nothing, as has what rests.
"""

from __future__ import annotations

import math

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.foreign import keeps_to_part
from drivers.learn.packets.arrays import Places, whole_numbers

_HALF, _FLOAT, _BYTE = 1 << 16, 4, 256
_FEWEST, _SIGMAS, _BESIDE = 4, 3.0, 1.5
"""Times that an upper half goes on by one; standard uncertainties by which one mean way is the shorter: by
itself, and where the other lower half keeps to a part of what it may be."""


def has_better_half(other: Fit, one: Fit) -> bool:
    """Say whether two floats share their upper half, and the lower half of the other one goes on with it.

    :param other: a float of the same packets
    """
    mine, theirs = one.number, other.number
    is_float = mine.encoding == theirs.encoding == "float" and mine.width == theirs.width == _FLOAT
    if not is_float or other.kind is not one.kind or mine.highest_first[:2] != theirs.highest_first[:2]:
        return False
    (way, error), (way_of_other, error_of_other) = _way_on(one), _way_on(other)
    is_still = _is_still_below(one) and not _is_still_below(other)
    sigmas = _BESIDE if is_still else _SIGMAS
    return way_of_other < way - sigmas * math.hypot(error, error_of_other)


def _way_on(one: Fit) -> tuple[float, float]:
    """Give how far a float goes where its upper half goes on by one, in steps of that half.

    One of its own is as far on the other side then as it was on this, so that it goes less than a step at
    rest and as much as one on the way; one that has nothing to do with it goes a step in the mean.

    :returns: the mean way and its standard uncertainty; infinite where there are too few
    """
    whole = _as_whole(one)
    on = np.diff(whole // _HALF)
    by_one = np.abs(on) == 1
    if by_one.sum() < _FEWEST:
        return 1.0, math.inf
    ways = np.diff(whole)[by_one] * on[by_one] / _HALF
    return float(ways.mean()), float(ways.std()) / math.sqrt(ways.size)


def _is_still_below(one: Fit) -> bool:
    """Say whether the byte below the upper half keeps to a part of its range while that goes far."""
    whole = _as_whole(one)
    _, rows = np.unique(whole // _HALF, return_index=True)
    return rows.size > 1 and keeps_to_part(whole[rows] // _BYTE % _BYTE, _BYTE, rows.size)


def _as_whole(one: Fit) -> Places:
    """Read the bytes of a float as a whole number, in the packets in which it is in place; shape (n,)."""
    return whole_numbers(one.kind.frames[rows_in_place(one)][:, one.number.highest_first])
