"""The outside of the chosen packets: what they begin with, how they are told from others, their check."""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce
from itertools import dropwhile

import numpy as np

from drivers.learn.checks.check import Check
from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.neighbours import NOT_NEEDED
from drivers.learn.outside.beside_clocks import begins_beside_clock
from drivers.learn.outside.headers import (
    Header,
    end_mark,
    end_run,
    has_mark,
    is_charge_like,
    is_usual_end,
    may_be_charge,
    packet_header,
    places_of,
    stream_header,
)
from drivers.learn.packets.arrays import Frames, Marks
from drivers.learn.packets.kinds import fixed_bytes, is_header_like

_MIDDLE = (0x7F, 0x80)
"""What the upper byte is of a number whose nought lies in the middle of its range."""

_TURNED = 4.0
"""How unlikely a cyclic check is before what it covers: frames that are cut there begin elsewhere."""

_AROUND = 5
"""Bytes that a frame's own word for its length leaves out, at most: two before it, itself, and two behind."""

_FEW_STATES, _FEWEST_ALIKE = 4, 3
"""Things that a byte of flags is, at most, and how often each of them comes if it is no damage."""

_KETTLE_G, _TRIED, _SELDOM, _OFTEN = 1200.0, 2401, 0.05, 0.1
"""The heaviest load that is usual, g; loads that are tried; and shares of them: seldom met, and often."""


@dataclass(frozen=True, slots=True)
class Outside:
    """How a frame is found and held to be in order.

    :param header: what it begins with; None for a byte that may be anything
    :param codes: place and value of what a byte of the header is in other frames, which are read alike
    """

    header: Header
    length: int
    terminator: bytes
    check: Check | None
    codes: tuple[tuple[int, int], ...] = ()

    @property
    def headers(self) -> tuple[Header, ...]:
        """All that a frame may begin with."""
        others = ((*self.header[:at], code, *self.header[at + 1 :]) for at, code in self.codes)
        return self.header, *others

    @property
    def certain(self) -> Header:
        """What every frame begins with: None also for a byte that is one of several codes."""
        coded = {at for at, _ in self.codes}
        return tuple(None if at in coded else byte for at, byte in enumerate(self.header))

    @property
    def is_told_by_check(self) -> bool:
        """Say whether nothing but its check tells where a frame of a stream begins."""
        return self.check is not None and not self.terminator and not has_mark(self.header)

    @property
    def is_told_nowhere(self) -> bool:
        """Say whether nothing tells that: an exclusive or, and a sum to nought, are right elsewhere, too."""
        return self.is_told_by_check and self.check is not None and self.check.goes_round

    @property
    def has_check_of_all(self) -> bool:
        """Say whether a cyclic check covers all before it: sums are right where frames are turned, too."""
        return self.check is not None and self.check.poly > 0 and self.check.is_over_all(self.length)

    def begins(self, frames: Frames) -> Marks:
        """Say which frames begin as they should.

        :param frames: shape (n, length)
        """
        begins = np.zeros(len(frames), dtype=bool)
        for header in self.headers:
            alike = np.ones(len(frames), dtype=bool)
            for place, byte in enumerate(header):
                if byte is not None:
                    alike &= frames[:, place] == byte
            begins |= alike
        return begins


def outside_of(
    one: Fit, others: Frames | None, stream: Frames | None, *, is_in_part: bool = False
) -> Outside:
    """Work out the outside of the frames that hold the chosen number.

    :param others: packets of the same length and place that are of other kinds, or None
    :param stream: for frames cut out of a stream, all its bytes
    :param is_in_part: whether their check may leave out some of the number
    """
    kind = one.kind
    good = kind.frames[rows_in_place(one, kind)]
    fixed = fixed_bytes(good)
    terminator = kind.terminator or _terminator(good, fixed, one)
    check = find_check(good, places_of(one), len(terminator), is_in_part=is_in_part)
    if check is not None:
        good = good[check.holds(good)]
        fixed = fixed_bytes(good)
    if kind.terminator and kind.is_cut:
        return Outside((), kind.length, terminator, check)
    if stream is not None:
        if kind.checked and check is not None and not check.goes_round and not terminator:
            return Outside((), kind.length, b"", check)  # cut by it alone: what stays may not stay for long
        header = stream_header(kind, fixed, good, stream, check, one)
        if check is not None and terminator and _is_charge_alone(header):
            return Outside((), kind.length, terminator, check)
        behind = end_run(fixed, one, None) if _is_charge_alone(header) else b""
        if behind and not all(map(may_be_charge, behind)):
            return Outside((), kind.length, behind, check)
        if _is_nought_alone(header) and end_run(fixed, one, check):
            header = ()
        end = b"" if check is not None else end_mark(fixed, one, stream)
        if not terminator and (not header or header[0] is None):  # something must tell where one begins
            end = end_run(fixed, one, check) or end
        end = end if header else terminator or end
        if len(header) > 1 and header[0] is not None and not terminator and not is_usual_end(end):
            end = b""  # it may be the last byte of a value that changes slowly, and is not needed
        return Outside(header, kind.length, end, check)
    return Outside(packet_header(kind, good, fixed, others, one), kind.length, b"", check)


def likelihood_of(outside: Outside) -> float:
    """Say how much a frame looks like one that somebody has designed."""
    score = 0.0
    if outside.check is not None:
        plain = outside.check.is_plain
        end = outside.check.at + outside.check.width
        score += 6.0 + 4.0 * plain + 2.0 * (outside.check.init == outside.check.xorout == 0)
        score -= 2.0 * _stands_apart(outside.check)  # a check stands behind what it covers
        score -= _TURNED * (outside.check.poly > 0 and outside.check.at < outside.check.start)
        score += 1.0 * (outside.length - 2 <= end) + 0.02 * (outside.check.stop - outside.check.start)
    solid = [byte for byte in outside.header if byte is not None]
    if solid:
        score += (
            2.0 * (is_header_like(solid[0]) and solid[0] not in _MIDDLE)
            - 3.0 * (solid[0] in (0x00, 0x0A, 0x0D, 0xFF) or solid == [0x20])
            + 0.3 * min(len(solid) + bool(outside.terminator), 2)
        )
    elif not outside.terminator:
        # A check of 16 bits tells a frame as well, though few have nothing else.
        score -= 1.0 if outside.check is not None and outside.check.kind == "crc16" else 4.0
    return score


def _stands_apart(check: Check) -> bool:
    """Say whether something stands between a check and what it covers."""
    return check.stop < check.at or check.at + check.width < check.start


def count_in_order(one: Fit, outside: Outside) -> int:
    """Count the frames that a check lets pass; cut elsewhere, an xor holds only while the next is alike."""
    frames = one.kind.frames
    return len(frames) if outside.check is None else max(1, int(outside.check.holds(frames).sum()))


def _is_nought_alone(header: Header) -> bool:
    """Say whether all that a frame begins with may be the upper byte of a copy, another one below nought."""
    return len(header) == 1 and header[0] in NOT_NEEDED


def _is_charge_alone(header: Header) -> bool:
    """Say whether all that a frame begins with may be a battery's charge, which falls some day."""
    return len(header) == 1 and is_charge_like(header[0] or 0)


def is_weakly_marked(outside: Outside, one: Fit, *, is_paused: bool = False) -> bool:
    """Say whether a frame in a stream begins with one byte of no particular kind, and has no check.

    A single byte that the number's upper ones are as well at some loads is as weak: while such a load lies
    there, frames seem to begin at it.

    :param is_paused: whether the line waits before each frame, so that it is seen to begin there
    """
    if outside.check is not None or outside.terminator:
        return False
    header = tuple(dropwhile(lambda byte: byte is None, outside.header))
    run = header[: header.index(None)] if None in header else header
    # What may be anything before the mark is the end of the frame before as well.
    frames = np.roll(one.kind.frames, len(header) - len(outside.header), axis=1)
    if not is_paused and 0 < len(run) <= 1 + (run[-1] in NOT_NEEDED):
        good = frames[rows_in_place(one)]
        if begins_beside_clock(good, len(run)):
            return True
    if len(run) > 1:
        is_marked = any(is_header_like(byte or 0) for byte in run) or _tells_length(run, outside.length)
        return len(run) == 2 and not is_paused and not is_marked
    if not run or run[0] == 0x00 or not (is_paused or is_header_like(run[0] or 0)):
        return True
    if run[0] in _MIDDLE and _may_be_upper_of_middle(frames, run[0] or 0):
        return True
    return _as_upper_byte(one, run[0] or 0) > _SELDOM


def _tells_length(run: Header, length: int) -> bool:
    """Say whether a byte behind the first is how long the frame is, or what is left of it, or its middle."""
    return any(byte is not None and length - _AROUND <= byte <= length for byte in run[1:])


def may_be_turned(outside: Outside, one: Fit) -> bool:
    """Say whether frames seem to begin inside of others at some loads, and a check holds for those as well.

    An exclusive or, and a sum to nought, go round: where all that a frame begins with is a byte that the
    number has at those loads, a decoder that has lost one beginning goes on from there.
    """
    check, solid = outside.check, [byte for byte in outside.header if byte is not None]
    if check is None or not check.goes_round or outside.terminator or len(solid) != 1:
        return False
    covered = {*range(check.start, check.stop), *check.places}
    return len(covered) == outside.length and _as_upper_byte(one, solid[0]) > _OFTEN


def _may_be_upper_of_middle(frames: Frames, value: int) -> bool:
    """Say whether a first byte may be the upper one of a number whose nought is the middle of its range.

    The next lower one stands behind it, or last in the frame before: it changes with the load, and is nought
    beside 80, or full beside 7F, while there is little.
    """
    beside = 0xFF if value == _MIDDLE[0] else 0x00
    for place in (1, -1):
        tally = np.bincount(frames[:, place], minlength=256)
        if tally[beside] >= _FEWEST_ALIKE or (tally >= _FEWEST_ALIKE).sum() > _FEW_STATES:
            return True
    return False


def _as_upper_byte(one: Fit, value: int) -> float:
    """Give the share of loads up to a kettle's at which an upper byte of the number is a certain one."""
    number = one.number
    said = one.zero + one.per_unit * np.linspace(0.0, _KETTLE_G, _TRIED)
    if number.encoding == "float" and number.width == 4:
        return float((said.astype(">f4").view(np.uint8).reshape(-1, 4)[:, :-1] == value).any(axis=1).mean())
    if number.encoding not in ("integer", "bcd") or number.mask:
        return 0.0
    counts = np.abs(said).astype(np.int64)
    if number.encoding == "bcd":
        counts = np.array([int(str(count), 16) for count in counts.tolist()], dtype=np.int64)
    upper = [(counts >> 8 * at & 0xFF) == value for at in range(1, number.width)]
    return float(np.any(upper, axis=0).mean()) if upper else 0.0


def _terminator(frames: Frames, fixed: list[int | None], one: Fit) -> bytes:
    tail = fixed[-2:]
    if tail == [0x0D, 0x0A]:
        return b"\r\n"
    return b"\n" if tail[-1:] == [0x0A] else b""


def is_explained(check: Check, one: Fit) -> bool:
    """Say whether a check begins as checks do, or with the fixed bytes that it seems to leave out.

    One that stands among the first bytes covers what is before it and what is behind.
    """
    if _stands_apart(check) and one.kind.is_cut and not check.poly:
        return False  # cut elsewhere, a sum over all bytes of a frame makes a check of any of them
    if check.is_plain or check.poly:
        return check.is_plain
    frames = one.kind.frames[check.holds(one.kind.frames)]
    rest = [
        at for at in range(one.kind.length) if not check.start <= at < check.stop and at not in check.places
    ]
    fixed = [byte for byte in map(fixed_bytes(frames).__getitem__, rest) if byte is not None]
    if check.kind == "xor8":
        return check.xorout == reduce(int.__xor__, fixed, 0)
    return check.init == sum(fixed) % 256
