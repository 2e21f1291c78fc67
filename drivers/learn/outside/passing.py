"""Bytes that stay for now: whether one may be the upper byte of what changes slowly behind it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from drivers.learn.numbers.fitting import Fit
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.headers import MOST_KINDS, is_clear_mark, places_of
from drivers.learn.packets.arrays import Floats, changes_of

_LONG_HEADER = 2
"""Bytes that many choose for a mark; of more, the last may be none."""

_UNDAMAGED, _MOST = 2, 0.9
"""How often a byte has a value that is no damage, in so many of the packets."""

_SLOWLY, _MOSTLY, _ROUND, _FEWEST_CHANGES = 2, 0.45, 200, 3
"""Steps of a byte that changes slowly, the share of those, one from its end to its beginning; and how many
show that it goes on and on.
"""


def may_be_upper(outside: Outside, one: Fit) -> bool:
    """Say whether the last byte of a header may be the upper one of what changes slowly behind it.

    A byte that frames usually begin with is a clock's upper one as well, unless what is behind it has gone
    once round and has not taken it along. With a check it stays: a sum holds for frames that are turned, too.
    """
    header, at = outside.header, len(outside.header)
    if at >= one.kind.length or at in places_of(one):
        return False
    column = one.kind.frames[:, at]
    must_stay = (np.abs(_changes(column)) > _ROUND).any() or not drifts(column)
    return _goes_slowly(column) and not (must_stay and is_clear_mark(header[-1] or 0))


def ends_in_passing(outside: Outside, one: Fit) -> bool:
    """Say whether the last byte of a header that must stay is the upper one of what drifts behind it.

    Small numbers name kinds of messages, others hardly do; and two bytes are a mark that many choose. One
    byte by itself is a mark where it is one that frames usually begin with; else a voltage's may be above one
    that flickers. So may one that stands apart from the others, above what changes behind it or before it.
    """
    header, at = outside.header, len(outside.header)
    solid = sum(byte is not None for byte in header)
    if solid == 1 and not is_clear_mark(header[-1] or 0):
        return may_be_upper(outside, one) and not _is_carried_into(one, at)
    if outside.check is None and solid > 1 and header[-2] is None:
        return may_be_upper(outside, one) or _is_upper_of_one_before(outside, one)
    if outside.check is not None or solid <= _LONG_HEADER or (header[-1] or 0) <= MOST_KINDS:
        return False
    return may_be_upper(outside, one) and drifts(one.kind.frames[:, at])


def _is_carried_into(one: Fit, at: int) -> bool:
    """Say whether a byte goes on as the next one goes round: it is the upper one itself, of a counter."""
    if at + 1 >= one.kind.length:
        return False
    column, behind = one.kind.frames[:, at : at + 2].astype(np.float64).T
    goes_round = np.abs(np.diff(behind))[np.diff(column) != 0] > _ROUND
    return bool(goes_round.size > 0 and goes_round.mean() > _MOSTLY)


def _is_upper_of_one_before(outside: Outside, one: Fit) -> bool:
    """Say whether the last byte of a header may be the upper one of what changes slowly right before it."""
    at = len(outside.header) - 2
    return at not in places_of(one) and _goes_slowly(one.kind.frames[:, at])


def _goes_slowly(column: NDArray[np.uint8]) -> bool:
    """Say whether a byte changes, and as a rule by a little at a time."""
    changes = np.abs(_changes(column))
    return bool(changes.size > 0 and (changes <= _SLOWLY).mean() > _MOSTLY)


def drifts(column: NDArray[np.uint8]) -> bool:
    """Say whether a byte goes one way by a little at a time, and further than a flag does."""
    changes = _changes(column)
    is_slow = changes.size >= _FEWEST_CHANGES and (np.abs(changes) <= _SLOWLY).all()
    return bool(is_slow and abs(int(np.sign(changes).sum())) == changes.size)


def _changes(column: NDArray[np.uint8]) -> Floats:
    """Give by how much a byte changes whenever it does, but for what is there once and gone again: damage."""
    often = np.bincount(column, minlength=256)[column] >= _UNDAMAGED
    column = column[often] if often.mean() > _MOST else column
    return changes_of(column.astype(np.float64))
