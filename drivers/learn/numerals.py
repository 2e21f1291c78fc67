"""The ways in which bytes of a frame may be a number, each for many frames at once."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Frames = NDArray[np.uint8]

_FLOATS = {(2, "big"): ">f2", (2, "little"): "<f2", (4, "big"): ">f4", (4, "little"): "<f4",
           (8, "big"): ">f8", (8, "little"): "<f8"}  # fmt: skip
_TEXT = re.compile(rb" *([+-]?) *(\d*)(?:\.(\d*))? *")
_LARGEST = 1e8
_READABLE = 0.9


@dataclass(frozen=True, slots=True)
class SignPlace:
    """A sign that stands apart from its number: the masked bits of one byte.

    :param negative: the codes that mean minus, mask applied and moved down
    :param positive: those that mean plus, where they are known
    """

    offset: int
    mask: int
    negative: tuple[int, ...]
    positive: tuple[int, ...] = ()

    def is_negative(self, frames: Frames) -> NDArray[np.bool_]:
        """Say for each frame whether its number is below zero."""
        shift = (self.mask & -self.mask).bit_length() - 1
        codes = (frames[:, self.offset] & self.mask) >> shift
        return np.isin(codes, self.negative)


@dataclass(frozen=True, slots=True)
class Number:
    """Some bytes of a frame, and how they are read.

    :param encoding: ``integer``, ``bcd``, ``digits``, ``ascii``, ``hex`` or ``float``
    :param mask: which low bits count; 0 for all
    :param signed: as in descriptions; empty where there is no sign among the bits
    :param swapped: of BCD: whether the low half of each byte comes first
    :param decimals_at: a byte that says how many of the digits are decimals; -1 where there is none
    """

    encoding: str
    offset: int
    width: int
    order: str = "big"
    mask: int = 0
    signed: str = ""
    swapped: bool = False
    sign: SignPlace | None = None
    decimals_at: int = -1

    @property
    def end(self) -> int:
        """The first byte behind it."""
        return self.offset + self.width

    @property
    def covers(self) -> frozenset[int]:
        """The places of its bytes."""
        return frozenset(range(self.offset, self.end))

    @property
    def lowest_at(self) -> int:
        """Where its least significant byte stands."""
        return self.end - 1 if self.order == "big" else self.offset

    def values(self, frames: Frames) -> Floats:
        """Read it from many frames.

        :param frames: shape (n, length)
        :returns: shape (n,); NaN where it cannot be read
        """
        values = self._plain(frames)
        if self.sign is not None:
            values = np.where(self.sign.is_negative(frames), -values, values)
        if self.decimals_at >= 0:
            places = frames[:, self.decimals_at].astype(np.float64)
            values = np.where(places < 8, values / 10.0 ** np.minimum(places, 8.0), np.nan)
        return values

    def _plain(self, frames: Frames) -> Floats:
        part = frames[:, self.offset : self.end]
        if self.encoding == "float":
            return _floats(part, self.width, self.order)
        if self.encoding == "ascii":
            return _texts(part)
        if self.encoding == "integer":
            return signed_values(_whole(part, self.order), 8 * self.width, self.mask, self.signed)
        digits = _DIGITS[self.encoding](part if self.order == "big" else part[:, ::-1])
        if self.encoding == "bcd" and self.swapped:
            digits = digits.reshape(len(part), -1, 2)[:, :, ::-1].reshape(len(part), -1)
        base = 16 if self.encoding == "hex" else 10
        if self.encoding == "bcd" and self.mask:
            digits = digits.copy()
            digits[:, 0] = 0
        values = np.where((digits < base).all(axis=1), _powers(digits, base), np.nan)
        if self.encoding == "hex" and self.signed:
            known = np.isfinite(values)
            raw = np.where(known, values, 0.0).astype(np.int64)
            return np.where(known, signed_values(raw, 4 * self.width, 0, self.signed), np.nan)
        return values


def signed_values(raw: NDArray[np.int64], bits: int, mask: int, signed: str) -> Floats:
    """Give whole numbers their sign."""
    if mask:
        raw = raw & mask
        bits = mask.bit_length()
    half = np.int64(1) << (bits - 1)
    if signed == "twos-complement":
        raw = (raw ^ half) - half
    elif signed == "sign-bit":
        raw = np.where(raw < half, raw, half - raw)
    elif signed == "offset-binary":
        raw = raw - half
    return raw.astype(np.float64)


def _whole(part: Frames, order: str) -> NDArray[np.int64]:
    columns = part if order == "big" else part[:, ::-1]
    total = np.zeros(len(part), dtype=np.int64)
    for column in columns.T:
        total = total << 8 | column.astype(np.int64)
    return total


def _floats(part: Frames, width: int, order: str) -> Floats:
    form = _FLOATS[width, order]
    values = np.ascontiguousarray(part).view(form)[:, 0]
    with np.errstate(all="ignore"):
        values = values.astype(np.float64)
        return np.where(np.isfinite(values) & (np.abs(values) < _LARGEST), values, np.nan)


def _texts(part: Frames) -> Floats:
    found = np.full(len(part), np.nan)
    for number, row in enumerate(part):
        match = _TEXT.fullmatch(row.tobytes())
        if match is not None and (match[2] or match[3]):
            value = float((match[2] or b"0") + b"." + (match[3] or b"0"))
            found[number] = -value if match[1] == b"-" else value
    return found


def _nibbles(part: Frames) -> NDArray[np.int64]:
    halves = np.stack((part >> 4, part & 15), axis=2)
    return halves.reshape(len(part), -1).astype(np.int64)


def _unpacked(part: Frames) -> NDArray[np.int64]:
    return part.astype(np.int64)


def _hex(part: Frames) -> NDArray[np.int64]:
    return HEX_OF[part]


HEX_OF = np.full(256, 99, dtype=np.int64)
"""The digit that each byte of text is, 0 to F; 99 for none."""

for _at, _digit in enumerate(b"0123456789ABCDEF"):
    HEX_OF[_digit] = _at
for _at, _digit in enumerate(b"abcdef"):
    HEX_OF[_digit] = 10 + _at

_DIGITS = {"bcd": _nibbles, "digits": _unpacked, "hex": _hex}


def _powers(digits: NDArray[np.int64], base: int) -> Floats:
    return digits.astype(np.float64) @ (float(base) ** np.arange(digits.shape[1] - 1, -1, -1.0))


# All at once, on a sample of the frames


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


def _integers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    wide = frames.astype(np.int64)
    length = frames.shape[1]
    for width in range(1, min(4, length) + 1):
        places = length - width + 1
        for order in ("big", "little") if width > 1 else ("big",):
            raw = np.zeros((len(frames), places), dtype=np.int64)
            for index in range(width):
                at = index if order == "big" else width - 1 - index
                raw = raw << 8 | wide[:, at : at + places]
            lowest = width - 1 if order == "big" else 0
            use = np.flatnonzero(moves[lowest : lowest + places])
            if use.size:
                yield from _sign_variants(raw[:, use], use, width, order)


def _sign_variants(
    raw: NDArray[np.int64], use: NDArray[np.int64], width: int, order: str
) -> Iterator[tuple[list[Number], Floats]]:
    bits = 8 * width
    yield [Number("integer", int(at), width, order) for at in use], raw.astype(np.float64)
    high = raw >> (bits - 1)
    some = np.flatnonzero(high.any(axis=0) & ~high.all(axis=0))
    for signed in ("twos-complement", "sign-bit"):
        if some.size:
            numbers = [Number("integer", int(use[at]), width, order, signed=signed) for at in some]
            yield numbers, signed_values(raw[:, some], bits, 0, signed)
    for cut in (1, 2, 3, 4):
        mask = (1 << (bits - cut)) - 1
        some = np.flatnonzero((raw > mask).any(axis=0))
        if some.size:
            yield (
                [Number("integer", int(use[at]), width, order, mask) for at in some],
                signed_values(raw[:, some], bits, mask, ""),
            )
            inner = raw[:, some] & mask
            tops = np.flatnonzero((inner >> (bits - cut - 1)).any(axis=0))
            if tops.size:
                numbers = [
                    Number("integer", int(use[some[at]]), width, order, mask, "twos-complement")
                    for at in tops
                ]
                yield numbers, signed_values(raw[:, some[tops]], bits, mask, "twos-complement")


def _float_numbers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    numbers, columns = [], []
    length = frames.shape[1]
    for width in (4, 8, 2):
        for offset in range(length - width + 1):
            if not moves[offset : offset + width].any():
                continue
            for order in ("big", "little"):
                number = Number("float", offset, width, order)
                values = number.values(frames)
                tiny = (np.abs(values) < 1e-5) & (values != 0)
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
                    for order in ("big", "little"):
                        for swapped in (False, True) if encoding == "bcd" else (False,):
                            numbers.append(Number(encoding, offset, width, order, swapped=swapped))  # noqa: PERF401  # read as it is
                elif encoding == "bcd" and inside.sum() == width - 1:
                    first = offset if not inside[0] else offset + width - 1
                    if not inside[first - offset] and low_valid[first]:
                        order = "big" if first == offset else "little"
                        mask = (1 << (8 * width - 4)) - 1
                        numbers.append(Number("bcd", offset, width, order, mask))
    numbers = [one for one in numbers if moves[one.lowest_at]]
    numbers += [
        replace(one, signed="twos-complement")
        for one in numbers
        if one.encoding == "hex" and one.width in (4, 6, 8) and one.order == "big"
    ]
    columns = [one.values(frames) for one in numbers]
    if numbers:
        yield numbers, np.stack(columns, axis=1)


def _pointed_numbers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    """Give whole numbers whose decimals another byte counts, where a byte can be such a count."""
    length = frames.shape[1]
    numbers, columns = [], []
    for place in np.flatnonzero(moves & (frames.max(axis=0) <= 5)):
        kinds, counts = np.unique(frames[:, place], return_counts=True)
        if not 2 <= kinds.size <= 4 or counts.min() < 3:
            continue
        for width in (2, 3, 4):
            for offset in range(length - width + 1):
                if offset <= place < offset + width:
                    continue
                for order in ("big", "little"):
                    number = Number(
                        "integer", offset, width, order, signed="twos-complement", decimals_at=int(place)
                    )
                    if moves[number.lowest_at]:
                        numbers.append(number)
                        columns.append(number.values(frames))
    if numbers:
        yield numbers, np.stack(columns, axis=1)


_IN_TEXT = np.isin(np.arange(256), list(b"0123456789+-. "))


def _text_numbers(frames: Frames, moves: NDArray[np.bool_]) -> Iterator[tuple[list[Number], Floats]]:
    good = _IN_TEXT[frames].mean(axis=0) >= _READABLE
    numbers, columns = [], []
    for first, last in _runs(good):
        for offset, end in _text_windows(first, last):
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


def _runs(good: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Give the stretches of places that hold, first and first behind."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], good.astype(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 2]
