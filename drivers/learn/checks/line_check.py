"""The check that lines of text end with, two or four characters 0 to F: found over lines of any length.

Frames of one length hide what a check begins with among what their fixed bytes add; lines of several lengths
do not. A cyclic check is found by the differences of lines of the same length, which do not depend on
it, and is then held against all.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import reduce
from operator import xor

import numpy as np

from drivers.decoders.byte_orders import BYTE_ORDERS, ByteOrder
from drivers.decoders.frame_shapes import checksum_test
from drivers.described.description import Checksum
from drivers.learn.checks.check import Check
from drivers.learn.checks.cyclic import Sums, tables
from drivers.learn.checks.sum_search import sum_check
from drivers.learn.packets.arrays import Frames, Marks

_FIRST_COVERED, _LAST_LEFT_OUT = 3, 3
"""Characters before what a check covers, a start or a label, and those that set it apart."""

_ENDS_SO, _HOLDS, _OF_SAMPLE, _OF_PAIRS = 0.9, 0.9, 0.5, 0.35
"""Shares of all lines that end in such characters and whose check is right; of lines that differ, among which
the damaged ones are more; and of pairs of them, of which either may be."""

_ALIKE, _NEARLY_ALL = 0.6, 0.98
"""Share of the lines that begin alike, at least, in which a check is looked for; and which is all of them."""

_FEWEST_LINES, _FEWEST_CODES = 12, 8
"""Lines that differ, and checks that do: fewer fit some check by chance."""

_SAMPLE, _TRIED, _PAIRS = 120, 24, 28
"""Lines that sums are held against, and those of all lengths that cyclic checks are; pairs of one length."""

_FEWEST_PAIRS = 6
"""Pairs of lines of one length, of which fewer fit some polynomial by chance."""

_SELDOM = 0.15
"""Share of the pairs in which damage makes a character another one that is always the same."""

_FOR_PLAIN = 2
"""Lines that a check may be wrong for, for each step by which it is plainer."""

_MARKS = (0x01, 0x02)
"""SOH and STX of ISO 646."""

_BEGINS = {1: (0, 0xFF, 0xFD, 0xC7), 2: (0, 0xFFFF, 0x1D0F, 0xB2AA, 0x800D, 0x89EC, 0x554D, 0xC6C6, 0x3791)}
"""What registers begin with in the published catalogues of CRC algorithms, by their bytes; of those that are
reflected, two also from the last bit to the first (``LISTED`` says which polynomial has which)."""

_VALUE = re.compile(rb"[0-9A-Za-z]")
"""What is a part of a value, and sets nothing apart."""

_ENDS = {1: re.compile(rb".+[0-9A-Fa-f]{2}", re.DOTALL), 2: re.compile(rb".+[0-9A-Fa-f]{4}", re.DOTALL)}


def find_line_check(lines: Sequence[bytes]) -> Checksum | None:
    """Find the check that lines end with.

    Lines of another make, which begin otherwise, may have one that covers something else, or none.

    :param lines: without what ends them
    :returns: places counted from the end where they are negative; None where no check is right for nearly all
        lines that begin alike
    """
    for some in (lines, _most_alike(lines)):
        found = [check for width in (2, 1) for check in _checks(some, width)]
        if found:
            return max(found, key=lambda check: _likelihood(check, some)).checksum
    return None


def _most_alike(lines: Sequence[bytes]) -> Sequence[bytes]:
    """Give the lines that begin as most do, where others may have another check; none where nearly all do."""
    (first, count), *_ = Counter(line[:1] for line in lines).most_common(1) or [(b"", 0)]
    are_others = _ALIKE * len(lines) < count < _NEARLY_ALL * len(lines)
    return [line for line in lines if line[:1] == first] if are_others else []


def _likelihood(check: Check, lines: Sequence[bytes]) -> tuple[int, int, bool, int, int]:
    """Say how much a check looks like one that somebody has chosen: plain, wide, over the whole line.

    So does one over the mark as well that the line has stood behind. It covers all up to itself, or to what
    sets it apart: a letter or a digit before that is another one some day.
    """
    behind_mark = _counts_mark_in(check)
    plain = behind_mark or check.init == check.xorout == 0
    left_out = [_VALUE.search(line[check.stop : check.at]) is not None for line in lines[:_TRIED]]
    is_to_end = 2 * sum(left_out) < len(left_out)
    return 2 * plain + (behind_mark or check.is_plain), check.width, is_to_end, -check.start, check.stop


def _counts_mark_in(check: Check) -> bool:
    """Say whether a check begins with the mark before the line, and before that with nothing."""
    if check.kind == "xor8":
        return check.start == 0 and check.xorout in _MARKS
    begins = [_after(mark, replace(check, init=0)) for mark in _MARKS] if check.poly else _MARKS
    return check.start == check.xorout == 0 and check.init in begins


def _checks(lines: Sequence[bytes], width: int) -> Iterator[Check]:
    """Give the checks of some bytes that are right for nearly all lines.

    :param width: of the check in bytes; each is two characters
    """
    unlike = sorted({line for line in lines if _ENDS[width].fullmatch(line)})
    if sum(_ENDS[width].fullmatch(line) is not None for line in lines) < _ENDS_SO * len(lines):
        return
    if len(unlike) < _FEWEST_LINES or len({line[-2 * width :] for line in unlike}) < _FEWEST_CODES:
        return
    rows = np.unique(np.linspace(0, len(unlike) - 1, _SAMPLE).astype(np.int64)).tolist()
    sample = [unlike[row] for row in rows]
    for order in BYTE_ORDERS[:width]:
        for check in (*_sums(sample, width, order), *_cyclic(sample, width, order)):
            is_right = checksum_test(check.checksum)
            right = {line for line in unlike if is_right(line)}
            codes = {line[-2 * width :] for line in right}
            is_rich = len(right) >= _FEWEST_LINES and len(codes) >= _FEWEST_CODES
            if is_rich and sum(line in right for line in lines) >= _HOLDS * len(lines):
                yield check


def _ranges(width: int) -> Iterator[tuple[int, int]]:
    """Give what a check may cover: the first character, and the first not covered, counted from the end."""
    for start in range(_FIRST_COVERED + 1):
        for left_out in range(_LAST_LEFT_OUT + 1):
            yield start, -2 * width - left_out


def _written(line: bytes, width: int, order: ByteOrder) -> int:
    """Give what stands at the end of a line as its check."""
    data = bytes.fromhex(line[-2 * width :].decode("ascii"))
    return int.from_bytes(data if order == "big" else data[::-1], "big")


def _commonest(left: Sequence[int]) -> tuple[int, int]:
    """Give what comes most often, the first of several, and how often."""
    (found, *_) = Counter(left).most_common(1)
    return found


def _sums(sample: Sequence[bytes], width: int, order: ByteOrder) -> Iterator[Check]:
    """Give the sums and exclusive ors that are right for most of the lines."""
    mask = (1 << 8 * width) - 1
    codes = [_written(line, width, order) for line in sample]
    for start, stop in _ranges(width):
        covered = [line[start:stop] for line in sample]
        totals = [sum(part) for part in covered]
        left = {
            "sum": [code - total & mask for code, total in zip(codes, totals, strict=True)],
            "lrc": [code + total & mask for code, total in zip(codes, totals, strict=True)],
        }
        if width == 1:
            left["xor"] = [reduce(xor, part, code) for code, part in zip(codes, covered, strict=True)]
        for kind, begins in left.items():
            constant, count = _commonest(begins)
            if count >= _OF_SAMPLE * len(sample):
                yield sum_check(kind, constant, -2 * width, start, stop, width, order, True)


def _cyclic(sample: Sequence[bytes], width: int, order: ByteOrder) -> Iterator[Check]:
    """Give the cyclic checks that are right for most of the lines."""
    kind = "crc8" if width == 1 else "crc16"
    for reflected in (False, True):
        for poly in _polynomials(sample, width, order, reflected):
            check = Check(kind, -2 * width, 0, 0, order, True, poly, 0, reflected)
            yield max(_completed(check, sample), key=lambda found: _worth(found, sample))[1]


def _worth(found: tuple[int, Check], lines: Sequence[bytes]) -> tuple[int, tuple[int, int, bool, int, int]]:
    """Say how good a check is, by how many lines it is right for and how likely it is one."""
    count, check = found
    likelihood = _likelihood(check, lines)
    return count + _FOR_PLAIN * likelihood[0], likelihood


def _polynomials(sample: Sequence[bytes], width: int, order: ByteOrder, reflected: bool) -> list[int]:
    """Give the polynomials that fit the differences of lines of the same length.

    An empty register stays empty as long as nought goes in: differences of all lengths end together.
    """
    one, other = _pairs(sample)
    if len(one) < _FEWEST_PAIRS:
        return []
    end = max(map(len, one))
    at = end - 2 * width
    differences = _ending_together(one, end) ^ _ending_together(other, end)
    wanted = np.array(
        [_written(a, width, order) ^ _written(b, width, order) for a, b in zip(one, other, strict=True)]
    )
    begins = end - np.array([len(line) for line in one])
    # Where the check is the same, what differs is not covered: every polynomial fits.
    telling = ~_are_damaged(differences, at) & (wanted != 0)
    if telling.sum() < _FEWEST_PAIRS:
        return []
    differences, wanted, begins = differences[telling], wanted[telling], begins[telling]
    polys, _ = tables(8 * width, reflected)
    for left_out in range(_FIRST_COVERED + 1):
        if left_out:
            first = (np.arange(len(begins)), begins + left_out - 1)
            if not differences[first].any():
                continue  # nothing is left out by it
            differences[first] = 0
        sums = Sums(differences, 8 * width, reflected)
        first_stop = max(at - _LAST_LEFT_OUT, 1)
        hits = sums.hits(wanted, np.zeros(1, dtype=np.int64), at, first_stop, _OF_PAIRS)
        if hits.size:
            # The polynomial 1 makes an exclusive or of it, which sees nothing of what is there twice.
            return sorted({polys[which] for which in hits[:, 2].tolist()} - {1})
    return []


def _ending_together(lines: Sequence[bytes], end: int) -> Frames:
    """Put lines below each other by their ends, shape (n, end)."""
    data = b"".join(line.rjust(end) for line in lines)
    return np.frombuffer(data, dtype=np.uint8).reshape(len(lines), end)


def _are_damaged(differences: Frames, at: int) -> Marks:
    """Say in which pairs a line is damaged: what sets a check apart moves in those only, shape (n,).

    :param at: where the check stands
    """
    set_apart = differences[:, max(at - _LAST_LEFT_OUT, 0) : at] != 0
    return np.asarray((set_apart & (set_apart.mean(axis=0) < _SELDOM)).any(axis=1))


def _pairs(sample: Sequence[bytes]) -> tuple[list[bytes], list[bytes]]:
    """Give pairs of lines of the same length, far apart in the order of their texts."""
    one, other = [], []
    for length in sorted({len(line) for line in sample}):
        alike = [line for line in sample if len(line) == length]
        half = len(alike) // 2
        one += alike[:half]
        other += alike[half : 2 * half]
    rows = np.unique(np.linspace(0, max(len(one) - 1, 0), _PAIRS).astype(np.int64)).tolist() if one else []
    return [one[row] for row in rows], [other[row] for row in rows]


def _completed(check: Check, sample: Sequence[bytes]) -> Iterator[tuple[int, Check]]:
    """Give what a polynomial begins with, over which part, and what is combined with its result.

    A line that stands between marks may count the first of them in.

    :returns: each with how many of some lines of all lengths it is right for
    """
    width = check.width // 2
    few = _of_all_lengths(sample)
    begins = _BEGINS[width]
    begins += tuple(_after(mark, replace(check, init=init)) for init in begins[:2] for mark in _MARKS)
    for start, stop in _ranges(width):
        for init in begins:
            one = replace(check, start=start, stop=stop, init=init)
            left = [one.value_of(line[start:stop]) ^ _written(line, width, one.order) for line in few]
            constant, count = _commonest(left)
            yield count, replace(one, xorout=constant)


def _of_all_lengths(sample: Sequence[bytes]) -> list[bytes]:
    """Give a few lines, of each length as many: those of one length fit whatever a check begins with."""
    among = Counter[int]()
    places = []
    for line in sample:
        among[len(line)] += 1
        places.append((among[len(line)], line))
    return [line for _, line in sorted(places)[:_TRIED]]


def _after(byte: int, check: Check) -> int:
    """Give what the register begins with where one byte has gone through already."""
    register = check.value_of(bytes([byte]))
    bits = 4 * check.width
    return int(f"{register:0{bits}b}"[::-1], 2) if check.refin else register
