"""Numbers of two words, of which loads have needed the lower one only: below nought both are other ones.

The upper word stands behind the lower one where each has its high byte first, and before it where each has it
last. At nought it goes on by one: from 0000 to FFFF, or from 8000 to 7FFF where nought is the middle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.numbers.fitting import KNOWN_ZEROS, Fit, fit, rows_in_place
from drivers.learn.numbers.number import Number

_WORD, _UPPER = 2, 1 << 16
_FEWEST_BELOW, _DAMAGED = 3, 0.002
"""Packets below nought that show an upper word; share of packets in which damage makes it another one."""

_NOUGHT = 0.02
"""Share of packets in which damage makes a byte something else."""


def with_upper_word(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit:
    """Give an integer of one word both, where the one beside it goes on when the number goes below nought."""
    number = one.number
    if not _is_word(number) or one.zero_kind not in KNOWN_ZEROS:
        return one
    both = _of_both_words(number)
    if both.offset < 0 or both.end > one.kind.length:
        return one
    fits = (
        fit(one.kind, replace(both, signed=signed), loads, quantity) for signed in ("twos-complement", "")
    )
    return next((each for each in fits if each is not None and _is_shown(each, one)), one)


def may_have_upper_word(one: Fit, taken: frozenset[int]) -> bool:
    """Say whether the two bytes where an upper word would stand have always been nought.

    :param taken: places of the check
    """
    number = one.number
    if not _is_word(number) or number.signed or number.sign is not None or one.zero_kind != "none":
        return False
    both = _of_both_words(number)
    upper = sorted(both.covers - number.covers)
    if both.offset < 0 or both.end > one.kind.length or taken & set(upper):
        return False
    return bool((one.kind.frames[:, upper] == 0).all(axis=1).mean() > 1.0 - _NOUGHT)


def _is_word(number: Number) -> bool:
    return number.encoding == "integer" and number.width == _WORD and not number.mask


def _of_both_words(number: Number) -> Number:
    if number.order == "big":
        return replace(number, width=2 * _WORD, order="cdab", sign=None)
    return replace(number, offset=number.offset - _WORD, width=2 * _WORD, order="badc", sign=None)


def _is_shown(both: Fit, one: Fit) -> bool:
    """Say whether packets below nought have another upper word, the next one down, and no others have it."""
    if both.scale != one.scale or both.zero_kind not in KNOWN_ZEROS:
        return False
    in_place, rows = rows_in_place(one), rows_in_place(both)
    if (in_place & ~rows).sum() > _DAMAGED * len(rows):
        return False
    counts = both.number.values(both.kind.frames[rows]) - both.zero
    upper = np.floor(counts / _UPPER)
    return bool((upper == -1.0).sum() >= _FEWEST_BELOW and np.isin(upper, (-1.0, 0.0)).all())
