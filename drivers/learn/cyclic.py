"""Cyclic checks of any polynomial, all tried side by side on the differences of frames.

They are linear: the check of the difference of two frames, register 0, is the difference of their checks. So
a polynomial is tried without knowing what the register begins with and what is combined with the result.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from drivers.learn.numbers import Frames

Whole = NDArray[np.int64]

_POLYNOMIALS16 = (
    0x1021, 0x8005, 0x3D65, 0x8BB7, 0xA097, 0xC867, 0x0589, 0x1DCF, 0x755B, 0x5935, 0x6F63, 0x080B, 0xC599,
    0x90D9, 0x8D95, 0x2F15, 0xAC9A, 0xD175, 0x6815, 0x978A, 0xB2B6, 0x4599,
)  # fmt: skip
# From the published catalogues of CRC algorithms, from memory; others are found where they are one byte wide.


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


def hits(
    differences: Frames, wanted: Whole, tables: Whole, start: int, end: int, bits: int, reflected: bool,
    least: float,
) -> list[tuple[int, int]]:  # fmt: skip
    """Give which polynomials fit, and up to where, all tried side by side.

    :param least: the share of the frames that one must be right for
    """
    count = len(tables)
    register = np.zeros((count, len(wanted)), dtype=np.int64)
    rows = np.arange(count)[:, None]
    mask = (1 << bits) - 1
    found = []
    moved = np.flatnonzero(differences[:, start:end].any(axis=0))
    last = (
        start + int(moved[-1]) if moved.size else end
    )  # bytes that stay behind it move the register as well
    for place in range(start, end):
        byte = differences[:, place].astype(np.int64)
        if reflected:
            register = register >> 8 ^ tables[rows, (register ^ byte) & 0xFF]
        else:
            register = (register << 8 & mask) ^ tables[rows, register >> (bits - 8) ^ byte]
        if place + 1 == end or place >= last or byte.any():
            share = (register == wanted).mean(axis=1)
            found += [(int(which), place + 1) for which in np.flatnonzero(share >= least)]
    return found
