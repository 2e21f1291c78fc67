"""What stands around a number: the bytes above it that no load has needed, and where its sign may be."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from drivers.learn.numbers.number import Number
from drivers.learn.packets.arrays import Frames

WIDEST = 4
"""Bytes of an integer, at most."""

NOT_NEEDED = (0x00, 0xFF)
"""What the upper bytes of a number are that no load has needed."""

_NEVER_NEEDED = 0.95


def above(number: Number, length: int) -> Iterator[int]:
    """Walk up from a number's highest byte, as far as the widest integer may reach.

    :param length: bytes of a frame
    """
    step = -1 if number.order == "big" else 1
    place = number.above_at
    for _ in range(WIDEST - number.width):
        if not 0 <= place < length:
            return
        yield place
        place += step


def upper_places(number: Number, length: int) -> frozenset[int]:
    """Give the places above an integer that no load has needed: below zero they are filled with ones."""
    if number.encoding != "integer" or number.mask:
        return frozenset()
    return frozenset(above(number, length))


def beside(number: Number, frames: Frames) -> frozenset[int]:
    """Give where a sign stands: next to a number, or above bytes that no load has needed."""
    length = frames.shape[1]
    places = {number.offset - 1, number.end}
    step = -1 if number.order == "big" else 1
    for place in above(number, length):
        if np.isin(frames[:, place], NOT_NEEDED).mean() < _NEVER_NEEDED:
            break
        places.add(place + step)
    return frozenset(at for at in places if 0 <= at < length)
