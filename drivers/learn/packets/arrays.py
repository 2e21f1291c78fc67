"""The arrays that packets come in: their bytes, what is read from them, places among them; and hex digits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
"""Times in s, or what a number says, one for each packet: shape (n,)."""

Frames = NDArray[np.uint8]
"""Bytes of packets of one length, shape (n, length); or those of a stream, shape (n,)."""

Places = NDArray[np.int64]
"""Where something stands in a stream of bytes, or which rows of an array, shape (n,)."""

Marks = NDArray[np.bool_]
"""For each packet, place or row, whether something is so."""

HEX_OF = np.full(256, 99, dtype=np.int64)
"""The digit that each byte of text is, 0 to F; 99 for none."""

HEX_OF[list(b"0123456789ABCDEF")] = np.arange(16)
HEX_OF[list(b"abcdef")] = np.arange(10, 16)


def whole_numbers(part: Frames) -> NDArray[np.int64]:
    """Read rows of bytes as whole numbers without a sign, shape (n,).

    :param part: the highest byte first, eight at most, shape (n, width)
    """
    total = np.zeros(len(part), dtype=np.int64)
    for column in part.T:
        total = total << 8 | column.astype(np.int64)
    return total


def without_single(values: Floats) -> Floats:
    """Take the middle of each value and those on both sides of it: single ones astray are damage.

    :param values: shape (n,), n >= 3
    :returns: shape (n - 2,)
    """
    return np.asarray(np.median((values[:-2], values[1:-1], values[2:]), axis=0))


def changes_of(values: Floats) -> Floats:
    """Give by how much values change whenever they do, single ones astray left out.

    :param values: shape (n,)
    :returns: shape (m,), none of them 0; empty where there are too few values
    """
    steps = np.diff(without_single(values))
    return np.asarray(steps[steps != 0.0])
