"""Packets sorted by kind: of one length, from one place, with the same byte where kinds are told apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from drivers.learn.captures.capture import Load
from drivers.learn.packets.arrays import Floats, Frames

FEWEST = 20
"""Packets of a kind; what came more rarely cannot be learned from."""

_SELECTOR_PLACES = 6
USUAL_STARTS = frozenset((0x02, 0x03, 0x10, 0x3C, 0x55, 0x5A, 0x5B, 0x24, 0x23, 0x3A, 0x40, 0x53))
_LEAST_PER_LOAD = 4
_MANY_GAPS, _HARDLY_ANY = 10, 0.4
"""How long a silence is, in usual times between packets; and the share of packets that comes in it."""

SETTLED_FROM = 0.45
"""Share of the time of a load by which it has settled."""

_SHARED = 0.5
"""Share of its packets that others have as well, of those that are the same."""

_FEW_TEXTS, _BY_DAMAGE = 3, 0.03
"""Texts that digits may be, which name a state and count nothing; share of the lines in which damage makes
others."""

_OF_NUMBER = tuple(b"+-0123456789")
_NEARLY_ALL = 0.95

LINE_ENDS, MARKS = (10, 13), (1, 2, 3, 4)
"""What ends a line; and SOH, STX, ETX and EOT of ISO 646, which stand around texts."""

TEXT = np.isin(np.arange(256), [*range(32, 127), 9, *LINE_ENDS, *MARKS])
"""What texts are made of: what can be printed, blanks, the ends of lines, and marks."""


@dataclass(frozen=True, eq=False)
class Kind:
    """Packets of one kind.

    :param stream: where they came from
    :param time_s: arrival, shape (n,)
    :param frames: their bytes, shape (n, length)
    :param selectors: place and value of bytes by which they were picked out of others of the same length
    :param share: how many of the packets of its length it has
    :param make: of lines whose length changes, how they are made: a ``LineMake``
    :param is_cut: whether they were cut out of a stream of bytes, and did not arrive one by one
    :param terminator: what ends each of them, where they are lines
    :param settled: for each load, the rows that came while it was at rest
    :param part_of: the kind that these were picked out of; None where they were not
    :param begins: where they begin in that stream, shape (n,), where it is known
    :param checked: places that are known to be a check
    """

    stream: int
    time_s: Floats
    frames: Frames
    selectors: tuple[tuple[int, int], ...] = ()
    share: float = 1.0
    is_cut: bool = False
    terminator: bytes = b""
    settled: tuple[NDArray[np.int64], ...] = field(default=())
    part_of: object = None
    make: object = None
    begins: NDArray[np.int64] | None = None
    checked: frozenset[int] = frozenset()

    @property
    def length(self) -> int:
        """Bytes of one packet."""
        return int(self.frames.shape[1])

    def is_like(self, other: Kind) -> bool:
        """Say whether places in the packets of both mean the same."""
        if self.is_cut or other.is_cut:
            return self.whole is other.whole and self.length == other.length
        return self.stream == other.stream and self.length == other.length and self.make == other.make

    def is_beside(self, other: Kind) -> bool:
        """Say whether what is read from both stands in the same packets: a byte may tell two kinds apart."""
        if not self.is_like(other):
            return False
        mine, theirs = (
            (self.begins, other.begins)
            if self.begins is not None and other.begins is not None
            else (self.time_s, other.time_s)
        )
        return bool(np.isin(mine, theirs).mean() > _SHARED)

    @property
    def whole(self) -> object:
        """The kind that this one is a part of."""
        return self if self.part_of is None else self.part_of

    def seen_with(self, loads: Sequence[Load]) -> Kind | None:
        """Note which packets came while each load was at rest; None where a load has too few."""
        whole_s = self.whole.time_s if isinstance(self.whole, Kind) else self.time_s
        settled = tuple(settled_rows(self.time_s, load, whole_s) for load in loads)
        if not settled or min(rows.size for rows in settled) < _LEAST_PER_LOAD:
            return None
        return replace(self, settled=settled, part_of=self.whole)


def settled_rows(time_s: Floats, load: Load, whole_s: Floats | None = None) -> NDArray[np.int64]:
    """Give the packets of the later half of a load's stretch, when the display has come to rest.

    What is sent only as it changes falls silent there, and its last packet stands for those that are missing.

    :param whole_s: when all those came that these were picked out of: others may have come in their place
    """
    first_s = load.start_s + SETTLED_FROM * (load.end_s - load.start_s)
    first = int(np.searchsorted(time_s, first_s))
    last = int(np.searchsorted(time_s, load.end_s, side="right"))
    rows = np.arange(first, last)
    missing = _LEAST_PER_LOAD - rows.size
    if (
        missing <= 0
        or not last
        or not falls_silent(time_s if whole_s is None else whole_s, first_s, load.end_s)
    ):
        return rows
    return np.append(rows, np.full(missing, last - 1))


def falls_silent(time_s: Floats, first_s: float, last_s: float) -> bool:
    """Say whether far fewer packets come between two times than do as a rule, and for long."""
    usual = (last_s - first_s) / max(usual_gap_s(time_s), 1e-6)
    count = np.searchsorted(time_s, last_s) - np.searchsorted(time_s, first_s, side="right")
    return bool(usual > _MANY_GAPS and count < _HARDLY_ANY * usual)


def usual_gap_s(time_s: Floats) -> float:
    """Give the usual time from one arrival to the next; 0 where there is one at most."""
    gaps = np.diff(np.unique(time_s))
    return float(np.median(gaps)) if gaps.size else 0.0


def on_way(kind: Kind) -> NDArray[np.bool_]:
    """Say which packets came while no load was at rest, shape (n,)."""
    moves = np.ones(kind.time_s.size, dtype=bool)
    moves[np.concatenate(kind.settled)] = False
    return moves


def kinds_of(stream: int, time_s: Floats, packets: Sequence[bytes], checked: int = 0) -> Iterator[Kind]:
    """Sort packets that arrived one by one by their kinds.

    :param checked: of texts, how many characters before the end are a check
    """
    lengths = np.array([len(packet) for packet in packets], dtype=np.int64)
    for length in np.unique(lengths):
        rows = np.flatnonzero(lengths == length)
        if length == 0 or rows.size < FEWEST:
            continue
        data = np.frombuffer(b"".join(packets[row] for row in rows.tolist()), dtype=np.uint8)
        frames = data.reshape(rows.size, int(length))
        yield from with_parts(Kind(stream, time_s[rows], frames, checked=before_end(frames, checked)))


def before_end(frames: Frames, count: int) -> frozenset[int]:
    """Give the places of some characters before what ends lines of one length, as it ends most of them."""
    is_end = np.isin(frames, (*LINE_ENDS, *MARKS)).mean(axis=0) > 0.5
    end = int(np.flatnonzero(~is_end).max(initial=-1)) + 1
    return frozenset(range(max(end - count, 0), end)) if count else frozenset()


def with_parts(kind: Kind) -> Iterator[Kind]:
    """Give a kind, and the parts of it that one of its first bytes tells apart."""
    yield kind
    count = len(kind.frames)
    seen = set[bytes]()
    for place in range(min(_SELECTOR_PLACES, kind.length - 1)):
        column = kind.frames[:, place]
        tally = np.bincount(column, minlength=256)
        often = np.flatnonzero(tally >= max(FEWEST, 0.02 * count))
        if not 2 <= often.size <= 8 and not (often.size == 1 and tally[often[0]] < 0.99 * count):
            continue
        if tally[often].sum() < 0.8 * count:
            continue
        for value in often:
            rows = np.flatnonzero(column == value)
            if rows.tobytes() in seen:
                continue
            seen.add(rows.tobytes())
            yield replace(
                kind,
                time_s=kind.time_s[rows],
                frames=kind.frames[rows],
                selectors=(*kind.selectors, (place, int(value))),
                share=rows.size / count,
                part_of=kind.whole,
                begins=None if kind.begins is None else kind.begins[rows],
            )


def has_loose_digits(kind: Kind, taken: frozenset[int]) -> bool:
    """Say whether a line holds a number, beside the one looked at, that may come to have more digits.

    :param taken: places of the one looked at, and of what is known
    """
    if not is_line(kind) or kind.make is not None:
        return False
    is_digit = ((kind.frames >= 0x30) & (kind.frames <= 0x39)).mean(axis=0) > 0.95
    begins = np.flatnonzero(is_digit & ~np.concatenate(([False], is_digit[:-1])))
    ends = np.flatnonzero(is_digit & ~np.concatenate((is_digit[1:], [False]))) + 1
    for begin, end in zip(begins.tolist(), ends.tolist(), strict=True):
        if (taken | kind.checked) & set(range(begin, end)):
            continue
        if begin and (kind.frames[:, begin - 1] == 0x2E).mean() > 0.95:
            continue  # behind a point there are as many as the instrument has decided on
        some = kind.frames[:, begin:end]
        is_padded = end - begin > 1 and (some[:, 0] == 0x30).mean() >= 0.01
        is_blank = begin > 1 and _has_blanks(kind.frames[:, begin - 2 : begin])
        _, counts = np.unique(some, axis=0, return_counts=True)
        others = len(some) - np.sort(counts)[-_FEW_TEXTS:].sum()
        if not is_padded and not is_blank and others > _BY_DAMAGE * len(some):
            return True
    return False


def _has_blanks(before: Frames) -> bool:
    """Say whether what stands before a number is room for it: two blanks, or one that has held more of it.

    :param before: shape (n, 2)
    """
    is_blank = before == 0x20
    if is_blank.all(axis=1).mean() > _NEARLY_ALL:
        return True
    blank, used = is_blank[:, 1].mean(), np.isin(before[:, 1], _OF_NUMBER).mean()
    return bool(min(blank, used) > _BY_DAMAGE and blank + used > _NEARLY_ALL)


def is_unpadded(kind: Kind, begin: int, end: int) -> bool:
    """Say whether a number of text has had no digit too many at any load: lines may be shorter, or longer.

    What is padded shows a blank or a nought in front at some load.

    :param begin: its first place; what it is padded with is part of it
    """
    if not is_line(kind) or kind.make is not None:
        return False
    part = kind.frames[:, begin:end]
    is_blank = (part == 0x20).mean(axis=0) > 0.99
    blanks = int(np.logical_and.accumulate(is_blank).sum())
    if blanks > 1 or blanks == part.shape[1]:
        return False  # a single one sets it apart
    part = part[:, blanks:]
    width = part.shape[1]
    signed = np.isin(part[:, 0], (0x2B, 0x2D))
    first, second = (
        np.where(signed, part[:, min(at + 1, width - 1)], part[:, min(at, width - 1)]) for at in (0, 1)
    )
    padded = (part == 0x20).any(axis=1) | ((first == 0x30) & (second >= 0x30) & (second <= 0x39))
    return bool(padded.mean() < 0.01)


def is_line(kind: Kind) -> bool:
    """Say whether packets are lines of text, with an end or by themselves."""
    return bool(kind.terminator) or bool(TEXT[kind.frames].mean(axis=0).min() > 0.95)


def fixed_bytes(frames: Frames, share: float = 0.985) -> list[int | None]:
    """Give for each place the byte that stands there in nearly every frame, or None."""
    found: list[int | None] = []
    for column in frames.T:
        tally = np.bincount(column, minlength=256)
        usual = int(tally.argmax())
        found.append(usual if tally[usual] >= share * column.size else None)
    return found


def is_header_like(value: int) -> bool:
    """Say whether a byte is one that frames begin with."""
    return value > 0x64 or value in USUAL_STARTS


def beginning(frames: Frames) -> float:
    """Say how much the first bytes of frames look like a beginning."""
    fixed = fixed_bytes(frames)
    if fixed[0] is None:
        return -3.0
    score = 2.0 * is_header_like(fixed[0]) - 4.0 * (fixed[0] in (0x00, 0x0A, 0x0D, 0xFF))
    score -= (4.0 if 0x20 in fixed[1:2] else 2.0) * (fixed[0] == 0x20)  # blanks before a number
    second, third = (fixed[at] if len(fixed) > at else None for at in (1, 2))
    is_end = second in MARKS[2:] and third is not None and is_header_like(third)  # of the frame before
    score += 1.5 * (second is not None and is_header_like(second) and not is_end)
    score += 0.3 * (second is not None)
    before = fixed[-1]  # in a stream, what precedes the next frame
    if before in (0x0A, 0x0D, 0x03):
        return score + 1.0
    score += 0.7 * (before is None)  # a run of fixed bytes begins here
    return score - 2.0 * (before is not None and is_header_like(before))
