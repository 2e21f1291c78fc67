"""Which bytes of a frame are a check over others: sums, exclusive or, and cyclic checks of any polynomial.

All frames of one kind have one length, so everything that does not depend on their bytes (what the register
begins with, what is combined with the result, what the fixed bytes add) is one number. It is looked for last,
and given the customary form where it has one. Cyclic checks are linear: the check of the difference of two
frames, register 0, is the difference of their checks. So a polynomial is tried without knowing the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from drivers.decoders.checksums import crc8, crc16
from drivers.learn.numerals import HEX_OF, Frames

Whole = NDArray[np.int64]

_SHARE = 0.88
"""Of the frames that a check must be right for: some are damaged."""

_SAMPLE, _PAIRS = 300, 28
_POLYNOMIALS16 = (
    0x1021, 0x8005, 0x3D65, 0x8BB7, 0xA097, 0xC867, 0x0589, 0x1DCF, 0x755B, 0x5935, 0x6F63, 0x080B, 0xC599,
    0x90D9, 0x8D95, 0x2F15, 0xAC9A, 0xD175, 0x6815, 0x978A, 0xB2B6, 0x4599,
)  # fmt: skip
# From the published catalogues of CRC algorithms, from memory; others are found where they are one byte wide.


@dataclass(frozen=True, slots=True)
class Check:
    """A check, in the words of descriptions.

    :param start: the first byte that it covers
    :param stop: the first byte that it does not cover any more
    """

    kind: str
    at: int
    start: int
    stop: int
    order: str = "big"
    is_hex: bool = False
    poly: int = 0
    init: int = 0
    refin: bool = False
    xorout: int = 0

    @property
    def width(self) -> int:
        """How many bytes of the frame it takes."""
        return (2 if self.kind.endswith("16") else 1) * (2 if self.is_hex else 1)

    def holds(self, frames: Frames) -> NDArray[np.bool_]:
        """Say for each frame whether its check is right."""
        written = _written(frames, self.at, self.width, self.order, self.is_hex)
        return np.asarray(written == self._computed(frames))

    def _computed(self, frames: Frames) -> Whole:
        part = frames[:, self.start : self.stop]
        bits = 16 if self.kind.endswith("16") else 8
        mask = (1 << bits) - 1
        if self.kind.startswith("sum"):
            return np.asarray(((part.sum(axis=1, dtype=np.int64) + self.init) & mask) ^ self.xorout)
        if self.kind == "lrc":
            return np.asarray((-part.sum(axis=1, dtype=np.int64) - self.init & mask) ^ self.xorout)
        if self.kind == "xor8":
            return np.asarray(np.bitwise_xor.reduce(part, axis=1).astype(np.int64) ^ self.init ^ self.xorout)
        crc = crc16 if bits == 16 else crc8
        return np.array([
            crc(row.tobytes(), poly=self.poly, init=self.init, refin=self.refin, refout=self.refin,
                xorout=self.xorout)
            for row in part
        ], dtype=np.int64)  # fmt: skip


def find_check(frames: Frames, weighed: frozenset[int], last: int) -> Check | None:
    """Find the check of a kind of frames.

    :param frames: shape (n, length)
    :param weighed: the places of the weight, which a check must cover
    :param last: how many bytes at the end belong to a terminator
    :returns: the one that covers most, or None
    """
    rows = np.unique(np.linspace(0, len(frames) - 1, _SAMPLE).astype(np.int64))
    sample = frames[rows]
    varies = np.array([np.unique(column).size > 1 for column in sample.T])
    busy = np.array([np.bincount(column).max() < 0.985 * len(sample) for column in sample.T])
    found: list[Check] = []
    for at, width, is_hex in _places(sample, busy, weighed, last):
        for order in ("big", "little") if width == 2 else ("big",):
            target = _written(sample, at, width * (2 if is_hex else 1), order, is_hex)
            taken = width * (2 if is_hex else 1)
            found += _sums(sample, target, at, taken, width, order, is_hex, weighed, busy)
            if not found:
                found += _cyclic(sample, target, at, taken, width, order, is_hex, weighed, busy, varies)
        if found and at < found[0].at - 1:
            break  # what stands before it could only be its upper byte, and that has been tried
    if not found:
        return None
    return max(
        found,
        key=lambda one: (
            _natural(one),
            one.width,
            int(busy[one.start : one.stop].sum()),
            one.stop - one.start,
        ),
    )


def _natural(check: Check) -> int:
    plain = check.init == 0 and check.xorout == 0
    full = check.xorout in (0, 0xFF, 0xFFFF) and check.init in (0, 0xFF, 0xFFFF)
    return 2 * plain + full


def _written(frames: Frames, at: int, width: int, order: str, is_hex: bool) -> Whole:
    part = frames[:, at : at + width]
    if is_hex:
        digits = HEX_OF[part]
        values = digits @ (16 ** np.arange(width - 1, -1, -1))
        if width == 4 and order == "little":
            values = (values & 0xFF) << 8 | values >> 8
        return np.where((digits < 16).all(axis=1), values, -1)
    columns = part if order == "big" else part[:, ::-1]
    total = np.zeros(len(part), dtype=np.int64)
    for column in columns.T:
        total = total << 8 | column.astype(np.int64)
    return total


def _places(
    sample: Frames, busy: NDArray[np.bool_], weighed: frozenset[int], last: int
) -> Iterator[tuple[int, int, bool]]:
    """Give the places where a check may stand: place, bytes of the check, whether written as digits."""
    length = sample.shape[1]
    rich = np.array([np.unique(column).size for column in sample.T]) >= 6
    for at in range(length - 1, -1, -1):
        if at in weighed:
            continue
        hexed = (HEX_OF[sample] < 16).mean(axis=0) > 0.95
        if at + 1 < length and at + 1 not in weighed and busy[at] and busy[at + 1]:
            if hexed[at] and hexed[at + 1]:
                yield at, 1, True
                if at + 3 < length and hexed[at + 2] and hexed[at + 3]:
                    yield at, 2, True
            if rich[at] or rich[at + 1]:
                yield at, 2, False
        elif (
            at + 1 < length
            and at + 1 not in weighed
            and (busy[at] or busy[at + 1])
            and (rich[at] or rich[at + 1])
        ):
            yield at, 2, False  # a sum of 16 bits whose upper byte hardly changes
        if busy[at] and rich[at]:
            yield at, 1, False


def _ranges(length: int, at: int, taken: int) -> Iterator[tuple[int, int]]:
    for start in range(at):
        for stop in range(at, start, -1):
            yield start, stop
    for start in range(at + taken, length):
        for stop in range(length, start, -1):
            yield start, stop


def _covers(start: int, stop: int, weighed: frozenset[int], busy: NDArray[np.bool_]) -> bool:
    inside = all(start <= place < stop for place in weighed if busy[place])
    return inside and int(busy[start:stop].sum()) >= 2


def _sums(
    sample: Frames, target: Whole, at: int, taken: int, width: int, order: str, is_hex: bool,
    weighed: frozenset[int], busy: NDArray[np.bool_],
) -> list[Check]:  # fmt: skip
    length = sample.shape[1]
    zero = np.zeros((len(sample), 1), dtype=np.int64)
    sums = np.concatenate((zero, np.cumsum(sample, axis=1, dtype=np.int64)), axis=1)
    mixed = np.concatenate((zero, np.bitwise_xor.accumulate(sample, axis=1).astype(np.int64)), axis=1)
    mask = (1 << 8 * width) - 1
    found = []
    for start, stop in _ranges(length, at, taken):
        if not _covers(start, stop, weighed, busy):
            continue
        total = sums[:, stop] - sums[:, start]
        for kind, left in (
            ("sum", target - total & mask),
            ("lrc", target + total & mask),
            ("xor", target ^ mixed[:, stop] ^ mixed[:, start]),
        ):
            if (kind == "xor" and width == 2) or (
                left[0] != left[1] and left[1] != left[2] and left[0] != left[2]
            ):
                continue
            constant, count = _commonest(left)
            if count >= _SHARE * len(sample):
                found.append(_sum_check(kind, constant, at, start, stop, width, order, is_hex))
    return found


def _sum_check(
    kind: str, constant: int, at: int, start: int, stop: int, width: int, order: str, is_hex: bool
) -> Check:
    mask = (1 << 8 * width) - 1
    name = {"sum": "sum8" if width == 1 else "sum16", "lrc": "lrc" if width == 1 else "sum16", "xor": "xor8"}[
        kind
    ]
    place = (name, at, start, stop, order, is_hex)
    if kind == "xor":
        return Check(*place, xorout=constant)
    if kind == "sum":
        return Check(*place, init=constant)
    # target = constant - total: with constant -1 the complement, else the complement of what began elsewhere
    if constant == mask or width == 2:
        return Check("sum8" if width == 1 else "sum16", at, start, stop, order, is_hex,
                     init=(mask - constant) & mask, xorout=mask)  # fmt: skip
    return Check(*place, init=-constant & mask)


def _commonest(values: Whole) -> tuple[int, int]:
    kinds, counts = np.unique(values, return_counts=True)
    best = int(counts.argmax())
    return int(kinds[best]), int(counts[best])


# Cyclic checks


@cache
def _tables(bits: int, reflected: bool) -> tuple[tuple[int, ...], Whole]:
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


def _cyclic(
    sample: Frames, target: Whole, at: int, taken: int, width: int, order: str, is_hex: bool,
    weighed: frozenset[int], busy: NDArray[np.bool_], varies: NDArray[np.bool_],
) -> list[Check]:  # fmt: skip
    if np.unique(target).size < 6:
        return []
    half = len(sample) // 2
    pick = np.unique(np.linspace(0, half - 1, _PAIRS).astype(np.int64))
    other = pick + half
    differences, wanted = sample[pick] ^ sample[other], target[pick] ^ target[other]
    useful = (differences != 0).any(axis=1)
    differences, wanted = differences[useful], wanted[useful]
    if len(wanted) < 8:
        return []
    firsts = [start for start in range(sample.shape[1]) if start == 0 or varies[start - 1]]
    found = []
    for reflected in (False, True):
        polys, tables = _tables(8 * width, reflected)
        for start in firsts:
            if at <= start < at + taken:
                continue
            end = at if start < at else sample.shape[1]
            hits = _hits(differences, wanted, tables, start, end, 8 * width, reflected)
            for which, stop in hits:
                if _covers(start, stop, weighed, busy):
                    kind = "crc8" if width == 1 else "crc16"
                    check = Check(kind, at, start, stop, order, is_hex, polys[which],
                                  refin=reflected)  # fmt: skip
                    found += _completed(check, sample, target, varies)
        if found:
            return found
    return found


def _hits(
    differences: Frames, wanted: Whole, tables: Whole, start: int, end: int, bits: int, reflected: bool
) -> list[tuple[int, int]]:
    """Give which polynomials fit, and up to where, all tried side by side."""
    count = len(tables)
    register = np.zeros((count, len(wanted)), dtype=np.int64)
    rows = np.arange(count)[:, None]
    mask = (1 << bits) - 1
    found = []
    for place in range(start, end):
        byte = differences[:, place].astype(np.int64)
        if reflected:
            register = register >> 8 ^ tables[rows, (register ^ byte) & 0xFF]
        else:
            register = (register << 8 & mask) ^ tables[rows, register >> (bits - 8) ^ byte]
        if place + 1 == end or byte.any():
            share = (register == wanted).mean(axis=1)
            found += [(int(which), place + 1) for which in np.flatnonzero(share >= _SHARE - 0.1)]
    return found


def _completed(check: Check, sample: Frames, target: Whole, varies: NDArray[np.bool_]) -> list[Check]:
    """Find what the register begins with and ends with; the customary ones first."""
    full = 0xFFFF if check.kind == "crc16" else 0xFF
    last = check.start
    while last < check.stop - 1 and not varies[last]:
        last += 1
    few = sample[:: max(1, len(sample) // 40)]
    for init, xorout in ((0, 0), (full, 0), (full, full), (0, full)):
        for start in range(check.start, last + 1):
            one = _with(check, start, init, xorout)
            if one.holds(few).mean() >= _SHARE - 0.05:
                return [one]
    plain = _with(check, check.start, 0, 0)
    constant, count = _commonest(
        plain._computed(few) ^ _written(few, check.at, check.width, check.order, check.is_hex)
    )
    if count < (_SHARE - 0.05) * len(few):
        return []
    return [_with(check, check.start, 0, constant)]


def _with(check: Check, start: int, init: int, xorout: int) -> Check:
    return Check(
        check.kind,
        check.at,
        start,
        check.stop,
        check.order,
        check.is_hex,
        check.poly,
        init,
        check.refin,
        xorout,
    )
