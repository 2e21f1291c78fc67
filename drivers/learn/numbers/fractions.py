"""Whether the lower bytes of a number in whole grams are its fraction, or those of a neighbour.

Where the whole grams go on by one, a fraction of their own has passed its end, and has begun again on the
other side. Bytes of something else stay where they are then: a clock, flags, a copy that lags.
"""

from __future__ import annotations

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.packets.arrays import Places, whole_numbers

_BYTE, _WHOLE_G = 256, 1
_FEWEST, _STAYS, _NEARLY_ALL = 12, 0.25, 0.9
"""Times that the whole grams go on by one; part of its range by which what stays moves at most; and the share
of those times in which another's does. A fraction is anywhere then on the way, so that it stays in 44 %, and
at rest in fewer."""


def has_foreign_fraction(one: Fit, whole: Fit) -> bool:
    """Say whether a number is whole grams with the bytes of something else below them.

    :param one: in binary parts of a gram
    :param whole: its upper bytes alone
    """
    if not (_is_in_whole_grams(whole) and _goes_on_below(one, whole)):
        return False
    places, upper = one.number.highest_first, whole.number.highest_first
    frames = one.kind.frames[rows_in_place(one)]
    above, below = whole_numbers(frames[:, upper]), whole_numbers(frames[:, places[len(upper) :]])
    moved = _moved_where_it_goes_on(above, below)
    stays = moved < _STAYS * _BYTE ** (len(places) - len(upper))
    return bool(stays.size >= _FEWEST and stays.mean() >= _NEARLY_ALL)


def _is_in_whole_grams(whole: Fit) -> bool:
    scale = whole.scale
    return scale is not None and scale.unit == "g" and scale.scale == _WHOLE_G


def _goes_on_below(one: Fit, whole: Fit) -> bool:
    """Say whether a number is another one with bytes below it, each a 256th of the one above it."""
    places, upper = one.number.highest_first, whole.number.highest_first
    more = len(places) - len(upper)
    is_same = one.kind is whole.kind and one.number.encoding == whole.number.encoding == "integer"
    if not is_same or one.number.mask or whole.number.mask or more < 1 or places[: len(upper)] != upper:
        return False
    return one.scale is not None and one.scale.unit == "g" and one.scale.scale * _BYTE**more == _WHOLE_G


def _moved_where_it_goes_on(above: Places, below: Places) -> Places:
    """Give how far lower bytes move where those above them go on by one, shape (k,)."""
    goes_on = np.abs(np.diff(above)) == 1
    moved: Places = np.abs(np.diff(below))[goes_on]
    return moved
