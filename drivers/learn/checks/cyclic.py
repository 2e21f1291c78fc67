"""Cyclic checks of any polynomial over any range, all tried side by side on the differences of frames.

They are linear: the check of the difference of two frames, register 0, is the difference of their checks. So
a polynomial is tried without knowing what the register begins with and what is combined with the result.

What bytes ``s`` to ``e`` make of an empty register is the sum, exclusive or, of what each makes by itself,
moved on by the bytes behind it. All moved on to the end of the frame, a range is what the sums of the first
``s`` and of the first ``e`` bytes differ by: no range is gone through byte by byte.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from drivers.learn.packets.arrays import Frames

Whole = NDArray[np.int64]

_POLYNOMIALS16 = (
    0x1021, 0x8005, 0x3D65, 0x8BB7, 0xA097, 0xC867, 0x0589, 0x1DCF, 0x755B, 0x5935, 0x6F63, 0x080B, 0xC599,
    0x90D9, 0x8D95, 0x2F15, 0xAC9A, 0xD175, 0x6815, 0x978A, 0xB2B6, 0x4599,
)  # fmt: skip
# From the published catalogues of CRC algorithms, from memory; others are found where they are one byte wide.

_FIRST, _OF_FIRST = 8, 3
"""Pairs of frames that are looked at first, and how many of them must fit; most of any true check do."""


@cache
def tables(bits: int, reflected: bool) -> tuple[tuple[int, ...], Whole]:
    """Give polynomials, and for each what every byte makes of an empty register."""
    polys = tuple(range(1, 256, 2)) if bits == 8 else _POLYNOMIALS16
    mask, top = (1 << bits) - 1, 1 << (bits - 1)
    poly = np.array(polys, dtype=np.int64)[:, None]
    if reflected:
        poly = np.array([int(f"{one:0{bits}b}"[::-1], 2) for one in polys], dtype=np.int64)[:, None]
        register = np.broadcast_to(np.arange(256, dtype=np.int64), (len(polys), 256)).copy()
        for _ in range(8):
            register = np.where(register & 1, register >> 1 ^ poly, register >> 1)
        return polys, register
    register = np.broadcast_to(np.arange(256, dtype=np.int64) << (bits - 8), (len(polys), 256)).copy()
    for _ in range(8):
        register = np.where(register & top, (register << 1 & mask) ^ poly, register << 1 & mask)
    return polys, register


@cache
def _moved_on(bits: int, reflected: bool, length: int) -> NDArray[np.uint16]:
    """Give what each byte makes of an empty register once 0 to ``length`` bytes more have gone through.

    :returns: shape (polynomials, length + 1, 256); at 0, the byte where it enters
    """
    polys, made = tables(bits, reflected)
    mask, rows = (1 << bits) - 1, np.arange(len(polys))[:, None]
    register = np.broadcast_to(np.arange(256, dtype=np.int64), made.shape)
    register = register if reflected else register << (bits - 8)
    found = [register]
    for _ in range(length):
        if reflected:
            register = register >> 8 ^ made[rows, register & 0xFF]
        else:
            register = (register << 8 & mask) ^ made[rows, register >> (bits - 8)]
        found.append(register)
    return np.stack(found, axis=1).astype(np.uint16)


class Sums:
    """What the first bytes of frames' differences make of an empty register, moved on to the frames' end.

    :param differences: shape (pairs, length)
    """

    def __init__(self, differences: Frames, bits: int, reflected: bool) -> None:
        self._bits, self._reflected = bits, reflected
        pairs, self._length = differences.shape
        self._table = _moved_on(bits, reflected, -(-(self._length + 1) // 32) * 32)
        moved = self._table[:, self._length + 1 - np.arange(self._length)[None, :], differences]
        self._sums = np.zeros((len(self._table), pairs, self._length + 1), dtype=np.uint16)
        np.bitwise_xor.accumulate(moved, axis=2, out=self._sums[:, :, 1:])

    def hits(self, wanted: Whole, starts: Whole, end: int, first_stop: int, least: float) -> Whole:
        """Give which polynomials fit from where to where: rows of start, stop, place among polynomials.

        :param wanted: the differences of the checks, shape (pairs,)
        :param end: no range goes beyond it
        :param first_stop: none stops before it
        :param least: the share of the pairs that one must be right for
        """
        # Bytes that stay move the register as well: a check may end among any of them.
        stops = np.arange(first_stop, end + 1)
        if not starts.size or not stops.size:
            return np.zeros((0, 3), dtype=np.int64)
        at_start, at_stop = self._sums[:, :, starts], self._sums[:, :, stops] ^ self._wanted(wanted, stops)
        is_whole = (wanted >= 0) & (wanted >> self._bits == 0)
        few = np.flatnonzero(is_whole)[:_FIRST]
        fitting = np.zeros((len(at_start), starts.size, stops.size), dtype=np.uint8)
        for pair in few:
            fitting += at_start[:, pair, :, None] == at_stop[:, pair, None, :]
        fitting[:, starts[:, None] >= stops[None, :]] = 0
        poly, start, stop = np.nonzero(fitting >= min(_OF_FIRST, few.size))
        right = (at_start[poly, :, start] == at_stop[poly, :, stop]) & is_whole
        good = right.mean(axis=1) >= least if poly.size else np.zeros(0, dtype=bool)
        rows = np.stack((starts[start[good]], stops[stop[good]], poly[good]), axis=1)
        return np.asarray(rows[np.lexsort(rows.T[::-1])], dtype=np.int64)

    def _wanted(self, wanted: Whole, stops: Whole) -> NDArray[np.uint16]:
        """Give the differences of the checks, moved on from each stop to the end of the frame."""
        moved = self._length + 1 - stops[None, :]
        if self._bits == 8:
            return np.asarray(self._table[:, moved, wanted[:, None] & 0xFF])
        upper, lower = wanted[:, None] >> 8 & 0xFF, wanted[:, None] & 0xFF
        first, second = (lower, upper) if self._reflected else (upper, lower)
        return np.asarray(self._table[:, moved, first] ^ self._table[:, moved - 1, second])
