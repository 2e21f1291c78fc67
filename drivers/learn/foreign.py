"""Bytes taken for a part of a number that are none: a counter, a clock, a check, a fixed byte."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from drivers.learn.kinds import Kind
from drivers.learn.numbers import HEX_OF, Number

_FIXED, _OFTEN, _FEW_FLAGS = 0.95, 0.02, 3
_ANYTHING = 60.0
"""Standard deviation of a byte that may be anything; 74 where all values are as likely."""

_FEW_DIGITS = 4

_FLICKERS, _STANDS = 0.1, 0.96
"""Shares of the packets at a load: of a value that comes again and again, and of a byte that stands still."""

_PACES, _LEAST_GONE = 40, 4
"""How far a clock goes from one packet to the next at most, and at a load at least."""

_FEW_ABOVE, _NARROW = 6, 4
"""So few upper parts show it where the lowest bytes are within some counts of each other, of 256."""

_MANY_ABOVE, _BUSY_PART, _NEARLY_ALL = 24, 0.45, 0.96
"""So many upper parts show what the lowest byte does; and the part of its range that it may not keep to."""

_FEW_CHANGES = 0.3
_FAR_GONE, _FEW_GONE = 12, 6
"""Values of an upper byte, by which the one below it has been everywhere, or another one."""


def has_foreign_byte(kind: Kind, number: Number) -> bool:
    """Say whether the lowest byte of an integer goes its own way while the loads are at rest."""
    if number.encoding in ("ascii", "digits") and _is_fixed_digit(kind, number):
        return True
    if number.encoding not in ("integer", "bcd", "digits") or number.width < 2:
        return False
    if _is_still_below(kind, number):
        return True
    if number.encoding != "integer":
        return False
    return _has_random_bottom(kind, number) or _has_clock_below(kind, number)


def has_foreign_byte_in(kind: Kind, number: Number, good: np.ndarray) -> bool:
    """Say whether a byte of a number goes its own way in the packets that hold the load.

    :param good: which packets those are
    """
    if number.encoding not in ("integer", "bcd", "digits") or number.width < 2:
        return False
    if _goes_with_upper(kind, number, good):
        return True
    if number.encoding == "digits":
        return False
    return _has_foreign_bottom(kind, number, good) or _has_still_middle(kind, number, good)


def _goes_with_upper(kind: Kind, number: Number, good: np.ndarray) -> bool:
    """Say whether the lowest byte goes up in a few steps while those above it go far: it is another's."""
    frames = kind.frames[good]
    _, rows = np.unique(_without_lowest(number).values(frames), return_index=True)
    lowest = frames[rows, number.lowest_at]
    if rows.size < _FAR_GONE or np.bincount(lowest).max() > _NEARLY_ALL * rows.size:
        return False
    return bool((np.diff(lowest) != 0).mean() < _FEW_CHANGES)


def _is_fixed_digit(kind: Kind, number: Number) -> bool:
    """Say whether the last digit is one of a few and never nought: flags that look like a digit."""
    last = kind.frames[:, number.lowest_at]
    tally = np.bincount(last, minlength=256)
    often = tally >= _OFTEN * last.size
    if number.width < 2 or often[0x00] or often[0x30] or often.sum() > _FEW_FLAGS:
        return False
    return bool(tally[often].sum() > _FIXED * last.size)


def _has_random_bottom(kind: Kind, number: Number) -> bool:
    """Say whether the lowest byte is anything while those above it stand still: it is none of the number."""
    upper = replace(number, offset=number.offset + (number.order == "little"), width=number.width - 1, mask=0)
    for rows in kind.settled:
        frames = kind.frames[rows]
        above = upper.values(frames)
        if (above == np.median(above)).mean() < 0.93 or frames[:, number.lowest_at].std() < _ANYTHING:
            return False
    return True


def _is_still_below(kind: Kind, number: Number) -> bool:
    """Say whether the lowest byte stands still at each load, while those above it flicker."""
    upper = _without_lowest(number)
    stood = set[int]()
    for rows in kind.settled:
        frames = kind.frames[rows]
        _, counts = np.unique(upper.values(frames), return_counts=True)
        if (counts >= max(3.0, _FLICKERS * rows.size)).sum() < 2:
            continue
        tally = np.bincount(frames[:, number.lowest_at])
        if tally.max() < _STANDS * rows.size:
            return False
        stood.add(int(tally.argmax()))
    return len(stood) > 1


def _without_lowest(number: Number) -> Number:
    return replace(
        number, offset=number.offset + (number.order == "little"), width=number.width - 1, mask=0, signed="",
        sign=None, decimals_at=-1,
    )  # fmt: skip


def _has_clock_below(kind: Kind, number: Number) -> bool:
    """Say whether the lowest byte goes up at the same pace at every load, as a counter or a clock does."""
    paces = []
    for rows in kind.settled:
        lowest = kind.frames[rows, number.lowest_at].astype(np.int64)
        steps = (np.diff(lowest) + 128) % 256 - 128
        steps = steps[np.abs(steps) <= _PACES]  # what is damaged jumps
        if steps.size < 0.8 * rows.size - 1 or (steps < 0).any() or steps.sum() < _LEAST_GONE:
            return False
        paces.append(float(steps.sum()) / rows.size)
    return max(paces) < 1.5 * min(paces)


def _has_foreign_bottom(kind: Kind, number: Number, good: np.ndarray) -> bool:
    """Say whether the lowest byte keeps to a part of its range while those above it go far."""
    upper = _without_lowest(number)
    frames = kind.frames[good]
    above = upper.values(frames)
    _, first = np.unique(above, return_index=True)
    # A number that rises slowly has small lowest bytes when an upper part is new, and great ones at its end.
    _, last = np.unique(above[::-1], return_index=True)
    rows = np.union1d(first, len(above) - 1 - last)
    lowest = frames[rows, number.lowest_at].astype(np.int64)
    others = int((HEX_OF[lowest] >= 16).sum())
    if others <= max(1.0, (1.0 - _NEARLY_ALL) * rows.size) and np.unique(lowest).size >= _FEW_DIGITS + others:
        return True  # of a check that is written as text
    if number.encoding == "integer" and first.size >= _FEW_ABOVE and _is_narrow(lowest):
        return True
    if first.size < _MANY_ABOVE:
        return False
    size = 256
    if number.encoding == "bcd":
        lowest, size = 10 * (lowest >> 4) + (lowest & 15), 100
        lowest = lowest[lowest < size]
    tally = np.bincount(lowest, minlength=size)
    if tally.max() > _NEARLY_ALL * lowest.size:
        return False
    around = np.concatenate((tally, tally))
    inside = np.convolve(around, np.ones(int(_BUSY_PART * size), dtype=np.int64))
    return bool(inside.max() > _NEARLY_ALL * lowest.size)


def _is_narrow(lowest: np.ndarray) -> bool:
    """Say whether lowest bytes, one for each upper part, nearly all are within a few counts of each other."""
    middle = int(np.bincount(lowest, minlength=256).argmax())
    away = np.abs((lowest - middle + 128) % 256 - 128)
    return bool((away <= _NARROW).mean() >= _NEARLY_ALL and np.unique(lowest[away <= _NARROW]).size > 1)


def _has_still_middle(kind: Kind, number: Number, good: np.ndarray) -> bool:
    """Say whether a byte between others hardly ever changes while those above it go far: it is fixed."""
    order = range(number.offset, number.end)
    highest_first = list(order if number.order == "big" else reversed(order))
    columns = [kind.frames[good, place] for place in highest_first]
    if len(columns) < 3 or not len(columns[0]):
        return False
    moved = 0
    for column, below in pairwise(columns):
        if moved >= _FEW_GONE and np.bincount(column).max() > _NEARLY_ALL * column.size:
            return bool(np.unique(below).size > 1)
        moved = max(moved, int((np.bincount(column) > 1).sum()))  # what has come once may be damaged
    return False
