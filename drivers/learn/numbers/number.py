"""A number in a frame: some of its bytes, and how they are read, from many frames at once."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from drivers.decoders.byte_orders import Order, highest_first
from drivers.learn.packets.arrays import HEX_OF, Floats, Frames, whole_numbers

_FLOATS = {2: ">f2", 4: ">f4", 8: ">f8"}

_TEXT = re.compile(rb" *([+-]?) *(\d*)(?:[.,](\d*))? *")

LARGEST = 1e8
"""A float that says more is none of anything that is weighed, and is taken for no number."""


def middle_of(part: Floats) -> Floats:
    """Give the median of each column, or of a list: as numpy's, and far sooner without its look for NaN.

    :param part: shape (n, ...), n at least 1; a column may be NaN throughout, but not in part
    """
    half = part.shape[0] // 2
    if part.shape[0] % 2:
        return np.asarray(np.partition(part, half, axis=0)[half])
    ordered = np.partition(part, (half - 1, half), axis=0)
    return np.asarray(0.5 * (ordered[half - 1] + ordered[half]))


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
        return np.isin(self._codes(frames), self.negative)

    def is_known(self, frames: Frames) -> NDArray[np.bool_]:
        """Say for each frame whether what stands there is a sign, as far as those are known."""
        if not self.positive:
            return np.ones(len(frames), dtype=bool)
        return np.isin(self._codes(frames), (*self.negative, *self.positive))

    def _codes(self, frames: Frames) -> Frames:
        shift = (self.mask & -self.mask).bit_length() - 1
        return np.asarray((frames[:, self.offset] & self.mask) >> shift)


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
    order: Order = "big"
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
        return self.highest_first[-1]

    @property
    def above_at(self) -> int:
        """Where the next higher byte would stand, inside of a frame or not; words have none."""
        return self.offset - 1 if self.order == "big" else self.end

    @property
    def highest_first(self) -> list[int]:
        """The places of its bytes, the most significant one first."""
        return [self.offset + at for at in highest_first(bytes(range(self.width)), self.order)]

    def moved(self, by: int) -> Number:
        """Give the same number so many bytes further behind, with its sign and the count of its decimals."""
        sign = replace(self.sign, offset=self.sign.offset + by) if self.sign is not None else None
        decimals_at = self.decimals_at + by if self.decimals_at >= 0 else -1
        return replace(self, offset=self.offset + by, sign=sign, decimals_at=decimals_at)

    def own_bits(self, place: int) -> int:
        """Give which bits of a byte are the number's own."""
        if place not in self.covers:
            return 0
        above = self.width - 1 - self.highest_first.index(place)
        return self.mask >> 8 * above & 0xFF if self.mask else 0xFF

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
        if self.encoding == "ascii":
            return _texts(frames[:, self.offset : self.end])
        part = frames[:, self.highest_first]
        if self.encoding == "float":
            return _floats(part, self.width)
        if self.encoding == "integer":
            return signed_values(whole_numbers(part), 8 * self.width, self.mask, self.signed)
        digits = _DIGITS[self.encoding](part)
        if self.encoding == "bcd" and self.swapped:
            pairs = digits.reshape(len(part), self.width, 2)
            digits = pairs[:, :, ::-1].reshape(len(part), 2 * self.width)
        base = 16 if self.encoding == "hex" else 10
        if self.encoding == "bcd" and self.mask:
            digits = digits.copy()
            digits[:, 0] &= self.mask >> 8 * self.width - 4
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


def _floats(part: Frames, width: int) -> Floats:
    values = np.ascontiguousarray(part).view(_FLOATS[width])[:, 0]
    with np.errstate(all="ignore"):
        values = values.astype(np.float64)
        return np.where(np.isfinite(values) & (np.abs(values) < LARGEST), values, np.nan)


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
    return halves.reshape(len(part), 2 * part.shape[1]).astype(np.int64)


def _unpacked(part: Frames) -> NDArray[np.int64]:
    return part.astype(np.int64)


def _hex(part: Frames) -> NDArray[np.int64]:
    return HEX_OF[part]


_DIGITS = {"bcd": _nibbles, "digits": _unpacked, "hex": _hex}


def _powers(digits: NDArray[np.int64], base: int) -> Floats:
    return digits.astype(np.float64) @ (float(base) ** np.arange(digits.shape[1] - 1, -1, -1.0))
