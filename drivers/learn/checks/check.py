"""A check over the bytes of a frame: a sum, an exclusive or, a cyclic check; in the words of descriptions."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from drivers.decoders.byte_orders import ByteOrder
from drivers.decoders.checksums import crc8, crc16
from drivers.decoders.frame_shapes import computation
from drivers.described.description import Checksum
from drivers.learn.checks.cyclic import Whole
from drivers.learn.packets.arrays import HEX_OF, Frames, Marks, whole_numbers

SHARE = 0.88
"""Of the frames that a check must be right for: some are damaged."""

_STAYS = 0.985
"""Share of the frames in which a byte is the same that no more than damage changes."""

LISTED = {
    ("crc8", 0x1D, False): ((0xFD, 0x00), (0xC7, 0x00)),
    ("crc8", 0x07, False): ((0x00, 0x55),),
    ("crc16", 0x1021, False): ((0x1D0F, 0x0000),),
    ("crc16", 0x1021, True): ((0xC6C6, 0x0000), (0x89EC, 0x0000), (0xB2AA, 0x0000)),
    ("crc16", 0x8005, False): ((0x800D, 0x0000),),
    ("crc16", 0x0589, False): ((0x0000, 0x0001),),
}
"""What registers begin with, and what is combined with the result, where that is not nought or all ones.

Of the published catalogues of CRC algorithms, from memory; reflected registers begin as catalogues write it.
"""


_SOME = 40
"""Frames that show whether a check is right."""

EITHER = {"sum8": "xor8", "xor8": "sum8"}
"""Checks that are the same where no two bits meet."""


@dataclass(frozen=True, slots=True)
class Check:
    """A check, in the words of descriptions.

    :param start: the first byte that it covers
    :param stop: the first byte that it does not cover any more
    :param or_kinds: kinds that are right wherever it is, as far as has been seen
    """

    kind: str
    at: int
    start: int
    stop: int
    order: ByteOrder = "big"
    is_hex: bool = False
    poly: int = 0
    init: int = 0
    refin: bool = False
    xorout: int = 0
    or_kinds: tuple[str, ...] = ()

    @property
    def may_take(self) -> frozenset[int]:
        """Its places, and that of a byte left out before a sum, which may be its own upper one."""
        is_left_out = self.kind == "sum8" and self.stop == self.at - 1
        return self.places | ({self.stop} if is_left_out else set())

    @property
    def is_plain(self) -> bool:
        """Say whether it begins with nought or with ones, and its result is taken as it is or inverted.

        Or whether a catalogue lists it with what it begins with.
        """
        if (self.init, self.xorout) in LISTED.get((self.kind, self.poly, self.refin), ()):
            return True
        return self.init in (0, 0xFF, 0xFFFF) and self.xorout in (0, 0xFF, 0xFFFF)

    @property
    def goes_round(self) -> bool:
        """Say whether it holds for the end of one frame and the beginning of the next as well."""
        return self.kind in ("xor8", "lrc")

    def is_over_all(self, length: int) -> bool:
        """Say whether it ends a frame of a length, and covers all that is before it."""
        return self.start == 0 and self.stop == self.at == length - self.width

    @property
    def width(self) -> int:
        """How many bytes of the frame it takes."""
        return (2 if self.kind.endswith("16") else 1) * (2 if self.is_hex else 1)

    @property
    def places(self) -> frozenset[int]:
        """Where its bytes stand."""
        return frozenset(range(self.at, self.at + self.width))

    @property
    def checksum(self) -> Checksum:
        """The same as a description's."""
        return Checksum(
            self.kind, self.at, self.start, self.stop, self.order, self.is_hex, self.poly,
            self.init, self.refin, self.refin, self.xorout, self.or_kinds,
        )  # fmt: skip

    def value_of(self, data: bytes) -> int:
        """Give the check of what it covers."""
        return computation(self.checksum)(data)

    def holds(self, frames: Frames) -> NDArray[np.bool_]:
        """Say for each frame whether its check is right."""
        return np.asarray(self.written(frames) == self.computed(frames))

    def written(self, frames: Frames) -> Whole:
        """Give what stands in frames as the check, shape (n,); -1 where that is no number."""
        return written_in(frames, self.at, self.width, self.order, self.is_hex)

    def computed(self, frames: Frames) -> Whole:
        """Give what the check should be, shape (n,)."""
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


def as_far_as_seen(check: Check, frames: Frames) -> Check:
    """Give a sum of 16 bits as one of 8 where its upper byte has always been the same.

    That holds whatever the sum carries, and where the byte marks an end and is what was carried by chance.

    :param frames: shape (n, length)
    """
    if check.kind != "sum16" or check.is_hex:
        return check
    is_big = check.order == "big"
    upper = frames[check.holds(frames), check.at if is_big else check.at + 1]
    if not upper.size or (upper != upper[0]).any():
        return check
    return replace(
        check,
        kind="sum8",
        at=check.at + is_big,
        order="big",
        init=check.init & 0xFF,
        xorout=check.xorout & 0xFF,
    )


def few_of(frames: Frames) -> Frames:
    """Give a few of some frames, which show whether a check is right."""
    return frames[:: max(1, len(frames) // _SOME)]


def begun_as_usual(check: Check, few: Frames, least: float) -> Check | None:
    """Give a cyclic check with the first of the usual beginnings and ends by which it holds; None for none.

    :param few: some frames, shape (n, length)
    :param least: the share of those that it must be right for
    """
    full = 0xFFFF if check.kind == "crc16" else 0xFF
    usual = (0, 0), (full, 0), (full, full), (0, full), *LISTED.get((check.kind, check.poly, check.refin), ())
    others = (replace(check, init=init, xorout=xorout) for init, xorout in usual)
    return next((each for each in others if each.holds(few).mean() >= least), None)


def with_either(check: Check, frames: Frames) -> Check:
    """Give a sum or an exclusive or as either of them, where no two bits that meet have told them apart.

    :param frames: shape (n, length)
    """
    other = EITHER.get(check.kind)
    if other is None:
        return check
    good = frames[check.holds(frames)]
    is_same = replace(check, kind=other).holds(good).all()
    return replace(check, or_kinds=(other,)) if is_same else check


def written_in(frames: Frames, at: int, width: int, order: ByteOrder, is_hex: bool) -> Whole:
    """Give what stands in frames as their check; -1 where that is no number."""
    part = frames[:, at : at + width]
    if is_hex:
        digits = HEX_OF[part]
        values = digits @ (16 ** np.arange(width - 1, -1, -1))
        if width == 4 and order == "little":
            values = (values & 0xFF) << 8 | values >> 8
        return np.where((digits < 16).all(axis=1), values, -1)
    return whole_numbers(part if order == "big" else part[:, ::-1])


def covers_in_part(check: Check, frames: Frames, weighed: frozenset[int]) -> bool:
    """Say whether a check leaves out some of the weight that changes: what is damaged there passes it."""
    left_out = [place for place in weighed if not check.start <= place < check.stop]
    return bool(busy_places(frames[:, left_out]).any())


def busy_places(frames: Frames) -> Marks:
    """Say which bytes of frames change more often than damage makes them, shape (length,)."""
    return np.array([np.bincount(column).max() < _STAYS * len(frames) for column in frames.T], dtype=bool)


def covers(start: int, stop: int, weighed: frozenset[int], busy: NDArray[np.bool_]) -> bool:
    """Say whether a part of frames holds all of the weight that ever changes, and changes itself."""
    inside = all(start <= place < stop for place in weighed if busy[place])
    return inside and bool(busy[start:stop].any())


def commonest(values: Whole) -> tuple[int, int]:
    """Give the value that comes most often, and how often."""
    kinds, counts = np.unique(values, return_counts=True)
    best = int(counts.argmax())
    return int(kinds[best]), int(counts[best])
