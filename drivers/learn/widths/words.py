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
_FEWEST_BELOW = 3
"""Packets below nought that show an upper word; so many of another one are no damage, which differs."""

_NOUGHT = 0.02
"""Share of packets in which damage makes the bytes of a word something else."""


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
    shown = next((each for each in fits if each is not None and _is_shown(each, one)), one)
    return one if shown is not one and _goes_on_plainly(shown, one) else shown


def may_have_upper_word(one: Fit, taken: frozenset[int]) -> bool:
    """Say whether the two bytes where an upper word would stand have always been nought.

    :param taken: places of the check
    """
    number = one.number
    if not _is_word(number) or number.signed or one.zero_kind != "none":
        return False
    both = _of_both_words(number)
    upper = sorted(both.covers - number.covers)
    if both.offset < 0 or both.end > one.kind.length or taken & set(upper):
        return False
    return bool((one.kind.frames[:, upper] == 0).all(axis=1).mean() > 1.0 - _NOUGHT)


def _goes_on_plainly(both: Fit, one: Fit) -> bool:
    """Say whether the byte above the lower word in its own order goes with the upper word: few swap words."""
    at = one.number.above_at
    if not 0 <= at < one.kind.length:
        return False
    below = both.number.values(both.kind.frames) < both.zero
    above = np.where(below, 0xFF, 0x00) == one.kind.frames[:, at]
    return bool(above[rows_in_place(both)].mean() > 1.0 - _NOUGHT)


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
    words = np.floor((both.number.values(both.kind.frames) - both.zero) / _UPPER)
    _, often = np.unique(words[in_place & ~rows], return_counts=True)
    if often.sum() > _NOUGHT * len(rows) or often.max(initial=0) >= _FEWEST_BELOW:
        return False
    upper = words[rows]
    return bool((upper == -1.0).sum() >= _FEWEST_BELOW and np.isin(upper, (-1.0, 0.0)).all())
