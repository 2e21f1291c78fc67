"""Cyclic checks of any polynomial: found by the differences of frames, and then given what they begin with.

They are linear: the check of the difference of two frames, register 0, is the difference of their checks. So
a polynomial is tried without knowing the rest, and what the register begins with is looked for last.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from drivers.decoders.byte_orders import ByteOrder
from drivers.learn.checks.check import SHARE, Check, begun_as_usual, commonest, covers, few_of
from drivers.learn.checks.cyclic import Sums, Whole, tables
from drivers.learn.packets.arrays import Frames

_PAIRS, _FEWEST_PAIRS, _FEWEST_CODES = 28, 8, 6


class CyclicSearch:
    """Looks for cyclic checks in frames of one kind.

    :param sample: the frames, shape (n, length)
    :param weighed: the places of the weight, which a check must cover
    :param busy: the places that change often
    """

    def __init__(self, sample: Frames, weighed: frozenset[int], busy: NDArray[np.bool_]) -> None:
        self._sample, self._weighed, self._busy = sample, weighed, busy
        self._varies = (sample != sample[:1]).any(axis=0)
        half = len(sample) // 2
        pick = np.unique(np.linspace(0, half - 1, _PAIRS).astype(np.int64))
        differences = sample[pick] ^ sample[pick + half]
        useful = differences.any(axis=1)
        self._one, self._other = pick[useful], pick[useful] + half
        self._differences = differences[useful]
        self._sums: dict[tuple[int, bool], Sums] = {}

    def checks(
        self, target: Whole, at: int, taken: int, width: int, order: ByteOrder, is_hex: bool
    ) -> list[Check]:  # fmt: skip
        """Find those that stand at one place.

        :param target: what stands there in each frame
        :param taken: how many bytes it takes
        :param width: bytes of the check
        """
        if np.unique(target).size < _FEWEST_CODES or len(self._differences) < _FEWEST_PAIRS:
            return []
        wanted = target[self._one] ^ target[self._other]
        for reflected in (False, True):
            polys, _ = tables(8 * width, reflected)
            found = []
            for start, stop, which in self._hits(wanted, at, taken, 8 * width, reflected):
                # The polynomial 1 makes an exclusive or of it, which sees nothing of what is there twice.
                if polys[which] == 1 or not covers(start, stop, self._weighed, self._busy):
                    continue
                kind = "crc8" if width == 1 else "crc16"
                check = Check(kind, at, start, stop, order, is_hex, polys[which], refin=reflected)
                found += _completed(check, self._sample, target, self._varies, self._weighed)
            if found:
                return found
        return []

    def _hits(
        self, wanted: Whole, at: int, taken: int, bits: int, reflected: bool
    ) -> Iterator[tuple[int, int, int]]:
        """Give start, stop and polynomial of all that fits, before the check and behind it."""
        if (bits, reflected) not in self._sums:
            self._sums[bits, reflected] = Sums(self._differences, bits, reflected)
        length = self._sample.shape[1]
        weighed = [place for place in self._weighed if self._busy[place]]
        # What begins behind bytes that never change holds with them as well.
        firsts = np.flatnonzero(np.concatenate(([True], self._varies[:-1])))
        firsts = firsts[firsts <= min(weighed, default=length)]
        for starts, end in ((firsts[firsts < at], at), (firsts[firsts >= at + taken], length)):
            first_stop = max(weighed, default=0) + 1
            sums = self._sums[bits, reflected]
            yield from sums.hits(wanted, starts, end, first_stop, SHARE - 0.1).tolist()


def _completed(
    check: Check, sample: Frames, target: Whole, varies: NDArray[np.bool_], weighed: frozenset[int]
) -> list[Check]:
    """Find where it begins, and with what: tried first over all bytes that stay before what changes."""
    last = check.start
    while last < check.stop - 1 and not varies[last]:
        last += 1
    few = few_of(sample)
    for start in range(check.start, last + 1):
        if (one := begun_as_usual(replace(check, start=start), few, SHARE - 0.05)) is not None:
            return [one]
    # What stays before the number need not be covered, and may change some day; a number is covered whole.
    first = min((last, *(place for place in weighed if place >= check.start)))
    plain = replace(check, start=first, init=0, xorout=0)
    constant, count = commonest(plain.computed(few) ^ plain.written(few))
    if count < (SHARE - 0.05) * len(few):
        return []
    return [replace(plain, xorout=constant)]
