"""On which side of its lowest byte a number goes on, where no load has needed a second one.

Bytes that are always nought are the upper ones of something, or mean nothing, which is rarer: the side that
leaves fewer of them over is the likelier one. In one message, fields have their bytes in the same order as a
rule.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.neighbours import NOT_NEEDED, WIDEST

CLEAR = 2.0
"""A natural logarithm: how much likelier the one side must be than the other."""

_LEFT_OVER, _MIDDLE, _BELOW_FLAGS, _BELOW_MARKS = 2.0, 4.0, 3.0, 1.0
"""How unlikely a byte is that means nothing, one that happens to be the middle of a range, and a number that
goes on with some bits below flags that come and go, or that stay.
"""

_STILL, _NEVER = 0.985, 0.99
_FEW, _MOST_STATES = 16, 2
"""How far up and down a slow number goes; a flag is a single bit, and one thing or the other at rest."""


def left_over(one: Fit, order: str, taken: frozenset[int] = frozenset()) -> float:
    """Say how unlikely the bytes around a number are if it has that order, a natural logarithm.

    :param one: a number of which its lowest byte alone has been needed
    :param taken: places of its check, which is no number with upper bytes
    """
    frames, lowest = one.kind.frames, one.number.lowest_at
    towards = -1 if order == "big" else 1
    own = _noughts(frames, lowest, towards)
    others = _noughts(frames, lowest, -towards)
    cost = _LEFT_OVER * max(0, own - (WIDEST - 1))
    if own == 0:  # then it goes on below flags, which come and go as a rule where they are none of it
        cost += _BELOW_FLAGS if _moves(frames, lowest + towards) else _BELOW_MARKS
    if _is_middle(frames, lowest + towards * (own + 1)) and own < WIDEST - 1:
        cost -= _MIDDLE
    beyond = lowest - towards * (others + 1)
    is_inside = 0 <= beyond < frames.shape[1] and beyond not in taken
    if others < WIDEST and is_inside and _is_number(one, frames[:, beyond]):
        width = _width_from(frames, beyond, -towards)
        # A temperature, or a charge, which only its lowest byte shows, has hardly more than one above that.
        others = max(0, others - (WIDEST - width)) if width > 1 or others == 1 else others
    return cost + _LEFT_OVER * others


def _width_from(frames: NDArray[np.uint8], place: int, towards: int) -> int:
    """Count the bytes of a number from its highest one that changes: each is more things than the last."""
    count, sorts = 1, np.unique(frames[:, place]).size
    while count < WIDEST and 0 <= place + towards < frames.shape[1]:
        place += towards
        before, sorts = sorts, np.unique(frames[:, place]).size
        if sorts <= before:
            break
        count += 1
    return count


def _noughts(frames: NDArray[np.uint8], place: int, towards: int) -> int:
    """Count the bytes beside a place that nothing has needed."""
    count, at = 0, place + towards
    while 0 <= at < frames.shape[1] and np.isin(frames[:, at], NOT_NEEDED).mean() > _NEVER:
        count, at = count + 1, at + towards
    return count


def _moves(frames: NDArray[np.uint8], place: int) -> bool:
    """Say whether a byte is something else now and then, more often than damage explains."""
    if not 0 <= place < frames.shape[1]:
        return True  # there is none
    return bool(np.bincount(frames[:, place]).max() < _STILL * len(frames))


def _is_middle(frames: NDArray[np.uint8], place: int) -> bool:
    """Say whether a byte is the uppermost of a number whose nought is the middle of its range."""
    return 0 <= place < frames.shape[1] and bool((frames[:, place] == 0x80).mean() > _NEVER)


def _is_number(one: Fit, column: NDArray[np.uint8]) -> bool:
    """Say whether a byte is one of a number: many things, one more or less now and then, or as the load."""
    at_rest = [np.bincount(column[rows]) for rows in one.kind.settled]
    if len({int(tally.argmax()) for tally in at_rest if tally.max() > 0.5 * tally.sum()}) > _MOST_STATES:
        return True
    tally = np.bincount(column, minlength=256)
    if tally.max() > _STILL * column.size:
        return False
    often = np.flatnonzero(tally >= max(2.0, 0.01 * column.size))
    if often.size > 4:
        return True
    return bool(often.size > 1 and np.ptp(often) < _FEW and np.diff(often).max() == 1)
