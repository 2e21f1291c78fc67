"""Checks that show only where frames begin elsewhere, or have not been taken for bytes of the number.

The same bytes come again and again wherever a stream is cut, but a check covers what belongs to one message.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.capture import Load, Quantity
from drivers.learn.check_search import find_check
from drivers.learn.fitting import Fit, fit
from drivers.learn.kinds import FEWEST, fixed_bytes
from drivers.learn.numbers import Number
from drivers.learn.signs import settle_sign


def turned(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Iterator[Fit]:
    """Give the same number in frames that begin at another fixed byte, where those have a check."""
    kind = one.kind
    if not kind.is_cut or kind.begins is None or kind.selectors:
        return
    before = np.flatnonzero(np.diff(kind.begins) == kind.length)
    if before.size < FEWEST:
        return
    fixed = fixed_bytes(kind.frames, 0.95)
    for first in range(1, kind.length):
        if fixed[first] is None or one.number.offset < first < one.number.end:
            continue
        frames = np.concatenate((kind.frames[before, first:], kind.frames[before + 1, :first]), axis=1)
        number = _moved(one.number, first, kind.length)
        if find_check(frames, number.covers, 0) is None:
            continue
        other = replace(
            kind, frames=frames, time_s=kind.time_s[before + 1], part_of=None, begins=None
        ).seen_with(loads)
        again = fit(other, number, loads, quantity) if other is not None else None
        if again is not None:
            yield again


def _moved(number: Number, first: int, length: int) -> Number:
    """Give a number's place in frames that begin later; what its sign is, is looked for anew."""
    offset = number.offset - first if number.offset >= first else number.offset - first + length
    return replace(number, offset=offset, sign=None, decimals_at=-1)


def without_check_bytes(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Iterator[Fit]:
    """Give the same number without bytes of a check that it has taken for its lowest ones, or its sign."""
    number, kind = one.number, one.kind
    if number.sign is not None:
        check = find_check(kind.frames, number.covers, 0)
        if check is not None and number.sign.offset in check.places:
            yield settle_sign(one, loads, quantity, taken=check.places)
    if number.encoding not in ("integer", "bcd"):
        return
    for left_out in range(1, min(2, number.width - 1) + 1):
        offset = number.offset + (left_out if number.order == "little" else 0)
        shorter = replace(number, offset=offset, width=number.width - left_out, sign=None)
        check = find_check(kind.frames, shorter.covers, 0)
        if check is None or not check.places & number.covers:
            continue
        again = fit(kind, shorter, loads, quantity)
        if again is not None:
            yield again
