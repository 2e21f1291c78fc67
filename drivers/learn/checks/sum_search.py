"""Sums and exclusive ors over any range of a frame, before their place or behind it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from drivers.decoders.byte_orders import ByteOrder
from drivers.learn.checks.check import SHARE, Check, commonest
from drivers.learn.checks.cyclic import Whole
from drivers.learn.packets.arrays import Frames, Marks

_TRIED_FIRST = ((5, 2), (24, 12))
"""So many frames are tried first, and so many must be alike: it is seldom that all others are damaged."""


def sums_over(
    sample: Frames, target: Whole, at: int, taken: int, width: int, order: ByteOrder, is_hex: bool,
    weighed: frozenset[int], busy: Marks,
) -> list[Check]:  # fmt: skip
    """Find those that stand at one place, those that begin first and end last first.

    :param target: what stands there in each frame
    :param taken: how many bytes it takes
    :param width: bytes of the check
    :param weighed: the places that it must cover
    :param busy: the places that change often
    """
    zero = np.zeros((len(sample), 1), dtype=np.int64)
    sums = np.concatenate((zero, np.cumsum(sample, axis=1, dtype=np.int64)), axis=1)
    mixed = np.concatenate((zero, np.bitwise_xor.accumulate(sample, axis=1).astype(np.int64)), axis=1)
    mask = (1 << 8 * width) - 1

    def left_by(kind: str, starts: Whole, stops: Whole, some: int) -> Whole:
        """Give what checks would begin with in some of the frames, shape (n, ranges)."""
        rows = np.unique(np.linspace(0, len(sample) - 1, some).astype(np.int64))[:, None]
        if kind == "xor":
            return np.asarray(target[rows] ^ mixed[rows, stops] ^ mixed[rows, starts])
        total = sums[rows, stops] - sums[rows, starts]
        return np.asarray((target[rows] + (total if kind == "lrc" else -total)) & mask)

    needed = [place for place in weighed if busy[place]]
    found = []
    for starts, stops in _ranges(sample.shape[1], at, taken, needed):
        start, stop = (each.ravel() for each in np.meshgrid(starts, stops, indexing="ij"))
        start, stop = start[start < stop], stop[start < stop]
        for kind in ("sum", "lrc", "xor") if width == 1 else ("sum", "lrc"):
            begin, end = start, stop
            for some, alike in _TRIED_FIRST:
                left = np.sort(left_by(kind, begin, end, some), axis=0)
                fitting = (left[alike - 1 :] == left[: len(left) - alike + 1]).any(axis=0)
                begin, end = begin[fitting], end[fitting]
            every = left_by(kind, begin, end, len(sample))
            for first, last, column in zip(begin.tolist(), end.tolist(), every.T, strict=True):
                constant, count = commonest(column)
                if count >= SHARE * len(sample) and busy[first:last].any():
                    found.append(sum_check(kind, constant, at, first, last, width, order, is_hex))
    return sorted(found, key=lambda one: (one.start, -one.stop))


def sum_check(
    kind: str, constant: int, at: int, start: int, stop: int, width: int, order: ByteOrder, is_hex: bool
) -> Check:
    """Give a sum or an exclusive or in its customary form: by what it begins with, or inverted.

    :param kind: ``sum``, ``lrc`` or ``xor``
    :param constant: what the sum begins with, or the exclusive or is combined with; of ``lrc``, check and sum
        together
    """
    mask = (1 << 8 * width) - 1
    place = (at, start, stop, order, is_hex)
    sum_kind = "sum8" if width == 1 else "sum16"
    if kind == "xor":
        return Check("xor8", *place, xorout=constant)
    if kind == "sum":
        return Check(sum_kind, *place, init=constant)
    if constant == mask or width == 2:
        return Check(sum_kind, *place, init=(mask - constant) & mask, xorout=mask)
    return Check("lrc", *place, init=-constant & mask)


def _ranges(length: int, at: int, taken: int, needed: list[int]) -> Iterator[tuple[Whole, Whole]]:
    """Give the ranges before a check and behind it: places where one may start, and where one may stop.

    :param needed: places that it must hold
    """
    first, last = min(needed, default=length), max(needed, default=0)
    yield np.arange(min(at, first + 1)), np.arange(at, last, -1)
    yield np.arange(at + taken, min(length, first + 1)), np.arange(length, max(last, at + taken), -1)
