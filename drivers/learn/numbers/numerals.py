"""The ways in which bytes of a frame may be a number, each for many frames at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from drivers.decoders.byte_orders import BYTE_ORDERS, WORD_ORDERS, Order
from drivers.learn.numbers.number import Number, signed_values
from drivers.learn.packets.arrays import HEX_OF, Floats, Frames

_TINY = 5e-7
"""Less than a milligram in kg: what reads as that is no float."""

_READABLE, _FEWEST_MARKS = 0.9, 2

_PACKED = 3
"""Bytes that a number of 17 bits or more shares with flags: two leave it too little room, four too much."""

_WORDS = 4
"""Bytes of a number that may stand in two words of their own order."""


def all_numbers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    """Give every number that the frames may hold, in groups.

    :param frames: a sample, shape (n, length)
    :param moves: for each place, whether its byte is ever another one, shape (length,)
    :returns: the numbers and, shape (n, len(numbers)), their values; NaN where they cannot be read
    """
    yield from _integers(frames, moves)
    yield from _float_numbers(frames, moves)
    yield from _digit_numbers(frames, moves)
    yield from _text_numbers(frames, moves)
    yield from _pointed_numbers(frames, moves)


def whole_hex(frames: Frames) -> Iterator[tuple[list[Number], Floats]]:
    """Give what frames may be that are digits 0 to F of one number, and nothing else; as ``all_numbers``."""
    plain = Number("hex", 0, frames.shape[1])
    numbers = [plain, replace(plain, signed="twos-complement")]
    yield numbers, np.stack([one.values(frames) for one in numbers], axis=1)


def _integers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    wide = frames.astype(np.int64)
    length = frames.shape[1]
    for width in range(1, min(4, length) + 1):
        places = length - width + 1
        for order in _orders(width):
            number = Number("integer", 0, width, order)
            raw = np.zeros((len(frames), places), dtype=np.int64)
            for at in number.highest_first:
                raw = raw << 8 | wide[:, at : at + places]
            use = np.flatnonzero(_may_begin(number, moves, places))
            if use.size:
                yield from _sign_variants(raw[:, use], use, number)


def _orders(width: int) -> tuple[Order, ...]:
    """Give the orders in which so many bytes may stand."""
    if width == 1:
        return ("big",)
    return (*BYTE_ORDERS, *WORD_ORDERS) if width == _WORDS else BYTE_ORDERS


def _may_begin(number: Number, moves: NDArray[np.bool_], places: int) -> NDArray[np.bool_]:
    """Say at which of the first places a number may begin: its lowest byte moves, and each of its words."""
    needed = [number.lowest_at]
    needed += number.highest_first[1:2] if number.order in WORD_ORDERS else []
    return np.asarray(np.all([moves[at : at + places] for at in needed], axis=0))


def _sign_variants(
    raw: NDArray[np.int64], use: NDArray[np.int64], number: Number
) -> Iterator[tuple[list[Number], Floats]]:
    width, order = number.width, number.order
    bits = 8 * width
    yield [Number("integer", int(at), width, order) for at in use], raw.astype(np.float64)
    high = raw >> (bits - 1)
    some = np.flatnonzero(high.any(axis=0) & ~high.all(axis=0))
    for signed in ("twos-complement", "sign-bit"):
        if some.size:
            numbers = [Number("integer", int(use[at]), width, order, signed=signed) for at in some]
            yield numbers, signed_values(raw[:, some], bits, 0, signed)
    if order in WORD_ORDERS:
        return  # registers hold no flags above a number
    for cut in range(1, 8 if width == _PACKED else 5):
        mask = (1 << (bits - cut)) - 1
        flagged = (raw > mask).any(axis=0)
        some = np.flatnonzero(flagged)
        if some.size:
            yield (
                [Number("integer", int(use[at]), width, order, mask) for at in some],
                signed_values(raw[:, some], bits, mask, ""),
            )
        # Where no flag is set, a number that is below nought now and then still fills its own bits only.
        top = (raw & mask) >> (bits - cut - 1)
        tops = np.flatnonzero(top.any(axis=0) & (flagged | ~top.all(axis=0)))
        if tops.size:
            numbers = [Number("integer", int(use[at]), width, order, mask, "twos-complement") for at in tops]
            yield numbers, signed_values(raw[:, tops], bits, mask, "twos-complement")


def _float_numbers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    numbers, columns = [], []
    length = frames.shape[1]
    for width in (4, 8, 2):
        for offset in range(length - width + 1):
            if not moves[offset : offset + width].any():
                continue
            for order in _orders(width):
                number = Number("float", offset, width, order)
                if order in WORD_ORDERS and not moves[number.highest_first[1:3]].all():
                    continue  # of whole counts, the lowest byte may be nought throughout
                values = number.values(frames)
                tiny = (np.abs(values) < _TINY) & (values != 0)
                if np.isfinite(values).mean() >= _READABLE and tiny.mean() < 0.1:
                    numbers.append(number)
                    columns.append(values)
    if numbers:
        yield numbers, np.stack(columns, axis=1)


def _digit_numbers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    numbers: list[Number] = []
    valid = {
        "bcd": ((frames >> 4 < 10) & (frames & 15 < 10)).mean(axis=0) >= _READABLE,
        "digits": (frames < 10).mean(axis=0) >= _READABLE,
        "hex": (HEX_OF[frames] < 16).mean(axis=0) >= _READABLE,
    }
    low_valid = (frames & 15 < 10).mean(axis=0) >= _READABLE
    length = frames.shape[1]
    for encoding, good in valid.items():
        for width in range(1 if encoding == "bcd" else 2, min(8, length) + 1):
            if encoding == "bcd" and width > 5:
                continue
            for offset in range(length - width + 1):
                if not moves[offset : offset + width].any():
                    continue
                inside = good[offset : offset + width]
                if inside.all():
                    for order in _orders(2):
                        for swapped in (False, True) if encoding == "bcd" else (False,):
                            numbers.append(Number(encoding, offset, width, order, swapped=swapped))  # noqa: PERF401  # read as it is
                elif encoding == "bcd" and inside.sum() == width - 1:
                    first = offset if not inside[0] else offset + width - 1
                    if not inside[first - offset] and low_valid[first]:
                        order = "big" if first == offset else "little"
                        mask = (1 << (8 * width - 4)) - 1
                        numbers.append(Number("bcd", offset, width, order, mask))
            if encoding == "bcd" and width > 1:
                numbers += _below_marks(frames, good, width)
    numbers = [one for one in numbers if moves[one.lowest_at]]
    numbers += [
        replace(one, signed="twos-complement")
        for one in numbers
        if one.encoding == "hex" and one.width in (4, 6, 8) and one.order == "big"
    ]
    columns = [one.values(frames) for one in numbers]
    if numbers:
        yield numbers, np.stack(columns, axis=1)


def _below_marks(frames: Frames, good: NDArray[np.bool_], width: int) -> Iterator[Number]:
    """Give digits whose highest half byte is nought or eight, a bit that is set: no digit goes on so."""
    length = frames.shape[1]
    marks = frames >> 4
    may_be_mark = np.isin(marks, (0, 8)).mean(axis=0) >= _READABLE
    may_be_mark &= (marks == 8).sum(axis=0) >= _FEWEST_MARKS
    for first in np.flatnonzero(may_be_mark).tolist():
        sides: tuple[tuple[Order, int], ...] = (("big", first), ("little", first - width + 1))
        for order, offset in sides:
            if 0 <= offset <= length - width and good[offset : offset + width].all():
                yield Number("bcd", offset, width, order, (1 << (8 * width - 1)) - 1)


def _pointed_numbers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    """Give whole numbers whose decimals another byte counts, where a byte can be such a count."""
    length = frames.shape[1]
    numbers, columns = [], []
    for place in np.flatnonzero(moves & ((frames <= 5).mean(axis=0) > 0.95)):
        column = frames[:, place]
        counts = np.bincount(column[column <= 5])
        if not 2 <= (counts >= 3).sum() <= 4:
            continue
        for width in (2, 3, 4):
            for offset in range(length - width + 1):
                if place not in (offset - 1, offset + width):
                    continue
                for order in BYTE_ORDERS:
                    number = Number(
                        "integer", offset, width, order, signed="twos-complement", decimals_at=int(place)
                    )
                    if moves[number.lowest_at]:
                        numbers.append(number)
                        columns.append(number.values(frames))
    if numbers:
        yield numbers, np.stack(columns, axis=1)


_DIGIT_CODES, _SIGN_CODES = tuple(b"0123456789"), tuple(b"+-")
_IN_TEXT = np.isin(np.arange(256), list(b"0123456789+-. "))


def _text_numbers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    good = _IN_TEXT[frames].mean(axis=0) >= _READABLE
    numbers, columns = [], []
    for first, last in _runs(good):
        windows = _text_windows(first, last) + _between_others(frames, first, last)
        windows += _one_after_another(frames, first, last)
        for offset, end in dict.fromkeys([*windows, *_comma_windows(frames, good, first, last)]):
            if not moves[offset:end].any():
                continue
            number = Number("ascii", offset, end - offset)
            values = number.values(frames)
            if np.isfinite(values).mean() >= _READABLE:
                numbers.append(number)
                columns.append(values)
    if numbers:
        yield numbers, np.stack(columns, axis=1)


def _text_windows(first: int, last: int) -> list[tuple[int, int]]:
    """Give the parts of a stretch of text that may be a number: from its beginning, or to its end."""
    to_end = [(offset, last) for offset in range(max(first, last - 16), last - 1)]
    from_beginning = [(first, end) for end in range(first + 2, min(last, first + 16))]
    inner = [(a, b) for a in range(first + 1, last) for b in range(a + 2, last)] if last - first <= 7 else []
    return to_end + from_beginning + inner


def _between_others(frames: Frames, first: int, last: int) -> list[tuple[int, int]]:
    """Give the part of a stretch of text behind a digit that stays, and before a sign: those are others'."""
    begin, end = first, last
    while begin < end and _is_mark(frames[:, begin]):
        begin += 1
    while end > begin and np.isin(frames[:, end - 1], _SIGN_CODES).mean() >= _READABLE:
        end -= 1
    return [(begin, end)] if end - begin > 1 else []


def _one_after_another(frames: Frames, first: int, last: int) -> list[tuple[int, int]]:
    """Give the numbers of a stretch of text that holds several, each of which begins with a sign or blank."""
    part = frames[:, first:last]
    ends = np.isin(part, _DIGIT_CODES).mean(axis=0) >= _READABLE
    begins = np.isin(part, (*_SIGN_CODES, ord(" "))).mean(axis=0) >= _READABLE
    cuts = [first, *(first + 1 + np.flatnonzero(ends[:-1] & begins[1:])).tolist(), last]
    return [(begin, end) for begin, end in pairwise(cuts) if end - begin > 1] if len(cuts) > 2 else []


def _is_mark(column: NDArray[np.uint8]) -> bool:
    """Say whether a byte is always the same digit, and no nought that a number is padded with."""
    usual = int(np.bincount(column).argmax())
    return usual in _DIGIT_CODES[1:] and bool((column == usual).mean() >= _READABLE)


def _comma_windows(frames: Frames, good: NDArray[np.bool_], first: int, comma: int) -> list[tuple[int, int]]:
    """Give the numbers that a stretch of text and the next one may be together, with a comma between them."""
    if comma + 1 >= len(good) or not good[comma + 1] or (frames[:, comma] == ord(",")).mean() < _READABLE:
        return []
    end = comma + 1
    while end < len(good) and np.isin(frames[:, end], _DIGIT_CODES).mean() >= _READABLE:
        end += 1
    return [(offset, end) for offset in range(max(first, comma - 14), comma)]


def _runs(good: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Give the stretches of places that hold, first and first behind."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], good.astype(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 2]
