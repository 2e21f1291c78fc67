"""Checks that show only where frames begin elsewhere, or have not been taken for bytes of the number.

The same bytes come again and again wherever a stream is cut, but a check covers what belongs to one message.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.checks.check import Check
from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.numbers.neighbours import NOT_NEEDED, upper_places
from drivers.learn.numbers.number import Number
from drivers.learn.outside.headers import is_clear_mark, places_of
from drivers.learn.packets.arrays import Floats, Frames, Places
from drivers.learn.packets.framing import ByteStream
from drivers.learn.packets.kinds import FEWEST, fixed_bytes, is_header_like
from drivers.learn.packets.pauses import where_blocks_begin
from drivers.learn.signs.below_zero import settle_sign

_MOST_TURNS = 6
_LONGEST_RUN, _BEHIND_DAMAGE, _MOSTLY = 4, 0.04, 0.5
_FEWEST_BROKEN, _WHOLE = 4, 0.85
_ENDS = (0x03, 0x04, 0x0A, 0x0D)

SAME_SLOPE, _BYTE, _DIRECTIONS = 1e-3, 256.0, {"big": 1, "little": -1}
"""By how much factors of one number differ in two cuts, as a share; counts of a byte; and on which side of
a number its next lower byte stands."""


def turned(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Iterator[Fit]:
    """Give the same number in frames that begin at another fixed byte, where those have a check."""
    for frames, number, time_s in _turns(one):
        if find_check(frames, number.covers, 0) is None:
            continue
        if (again := _turned(one, frames, number, time_s, loads, quantity)) is not None:
            yield again


def turned_to_marks(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Fit | None:
    """Give the same number in frames that begin at most of the bytes that stay, where no check tells."""
    way = max(_turns(one), key=lambda each: _marks(each[0]), default=None)
    return _turned(one, *way, loads, quantity) if way is not None else None


def _marks(frames: Frames) -> tuple[bool, int]:
    """Say how well what frames begin with marks them: it is no value, and how many bytes stay."""
    fixed = fixed_bytes(frames, 0.95)
    return _is_mark(fixed[0] or 0), fixed.index(None) if None in fixed else len(fixed)


def _turns(one: Fit) -> Iterator[tuple[Frames, Number, Floats]]:
    """Give frames that begin at another fixed byte, the same number in those, and their times."""
    kind = one.kind
    if not kind.is_cut or kind.begins is None or kind.selectors:
        return
    before = np.flatnonzero(np.diff(kind.begins) == kind.length)
    if before.size < FEWEST:
        return
    for first in _likely_beginnings(fixed_bytes(kind.frames, 0.95)):
        if not one.number.offset < first < one.number.end:
            frames = np.concatenate((kind.frames[before, first:], kind.frames[before + 1, :first]), axis=1)
            yield frames, _moved(one.number, first, kind.length), kind.time_s[before + 1]


def _turned(
    one: Fit, frames: Frames, number: Number, time_s: Floats, loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    kind = replace(one.kind, frames=frames, time_s=time_s, part_of=None, begins=None).seen_with(loads)
    return fit(kind, number, loads, quantity) if kind is not None else None


def _likely_beginnings(fixed: list[int | None]) -> list[int]:
    """Give where frames may begin: at a run of fixed bytes, behind an end, at what headers begin with."""
    runs = [at for at in range(1, len(fixed)) if fixed[at] is not None and fixed[at - 1] is None]
    behind = [at for at in range(1, len(fixed)) if fixed[at] is not None and fixed[at - 1] in _ENDS]
    clear = [at for at, byte in enumerate(fixed) if at and byte not in (None, 0xFF) and is_header_like(byte)]
    return list(dict.fromkeys([*runs, *behind, *clear]))[:_MOST_TURNS]


def with_its_header(
    one: Fit, check: Check | None, stream: Frames | None, loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    """Give the same number in frames that begin with what stands before each, behind the check of another.

    Every message begins with that; the first bytes behind it may be a clock that has hardly moved.

    :param check: of the frames
    :param stream: all bytes, for frames that were cut out of a stream
    """
    kind = one.kind
    if check is None or stream is None or kind.begins is None or kind.selectors:
        return None
    usual = fixed_bytes(kind.frames, 0.95)
    run = usual[check.at + check.width :]
    while run and run[0] in _ENDS:
        run = run[1:]
    if not 1 <= len(run) <= _LONGEST_RUN or None in run or (len(run) == 1 and usual[1] is not None):
        return None  # a single byte is rather the end of a message that begins with several
    places = kind.begins - len(run)
    behind_others = places[1:][np.diff(kind.begins) != kind.length]
    before = stream[behind_others[:, None] + np.arange(len(run))]
    if (
        behind_others.size > _BEHIND_DAMAGE * len(places)
        and (before == np.array(run)).all(axis=1).mean() < _MOSTLY
    ):
        return None  # it belongs to what comes before
    inside = places >= 0
    frames = np.asarray(stream[places[inside][:, None] + np.arange(kind.length)])
    number = replace(one.number, offset=one.number.offset + len(run), sign=None, decimals_at=-1)
    other = replace(
        kind, frames=frames, time_s=kind.time_s[inside], part_of=None, begins=None
    ).seen_with(loads)  # fmt: skip
    return fit(other, number, loads, quantity) if other is not None else None


def from_first_whole(
    one: Fit, stream: Frames | None, loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    """Give the same number in frames that begin with what is whole behind a frame that was cut short.

    Of the fixed bytes between two numbers, those that a frame ends with are missing then, as its last ones.

    :param stream: all bytes, for frames that were cut out of a stream
    """
    kind = one.kind
    if stream is None or kind.begins is None or kind.selectors or kind.terminator:
        return None
    # A message of another kind may begin alike, and be the last bytes of a frame that begins too late.
    in_row = np.diff(kind.begins) == kind.length
    if not in_row.any():
        return None
    tail = fixed_bytes(kind.frames[:-1][in_row, max(places_of(one)) + 1 :], 0.95)[::-1]
    run = tail[: tail.index(None)] if None in tail else []
    behind_broken = kind.begins[1:][np.diff(kind.begins) % kind.length != 0]
    if not run or behind_broken.size < _FEWEST_BROKEN:
        return None
    before = stream[behind_broken[:, None] - 1 - np.arange(len(run))]
    whole = np.logical_and.accumulate(before == np.array(run), axis=1).mean(axis=0)
    size = int((whole > _WHOLE).sum())
    if size == 0 or (size == len(run) and {*run} & {*NOT_NEEDED, *_ENDS}):
        return None  # what is lost was inside of a frame, and its last bytes are whole as well
    return _begun_earlier(one, stream, size, loads, quantity)


def from_mark_of_others(
    one: Fit, stream: Frames | None, loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    """Give the same number in frames that begin as the messages of another kind between them do.

    Two bytes that stay stand where such a message begins, behind the number, and again where it is over.

    :param stream: all bytes, for frames that were cut out of a stream
    """
    kind, length = one.kind, one.kind.length
    if stream is None or kind.begins is None or kind.selectors or kind.terminator:
        return None
    fixed, ends = fixed_bytes(kind.frames, 0.95), kind.begins[:-1] + length
    between = kind.begins[1:] - ends
    if (between > 0).sum() < _FEWEST_BROKEN or (stream[ends[between > 0]] == fixed[0]).mean() > _MOSTLY:
        return None
    for first in range(max(places_of(one)) + 1, length - 1):
        mark, size = fixed[first : first + 2], length - first
        longer = kind.begins[1:][between >= size]
        if None in mark or mark[0] in (*NOT_NEEDED, *_ENDS) or longer.size < _FEWEST_BROKEN:
            continue
        if (stream[longer[:, None] - size + np.arange(2)] == mark).all(axis=1).mean() > _WHOLE:
            return _begun_earlier(one, stream, size, loads, quantity)
    return None


def _begun_earlier(
    one: Fit, stream: Frames, size: int, loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    """Give the same number in frames that begin so many bytes earlier."""
    kind = one.kind
    assert kind.begins is not None
    places = kind.begins[kind.begins >= size] - size
    frames = np.asarray(stream[places[:, None] + np.arange(kind.length)])
    number = replace(one.number, offset=one.number.offset + size, sign=None, decimals_at=-1)
    other = replace(
        kind, frames=frames, time_s=kind.time_s[kind.begins >= size], part_of=None, begins=places
    ).seen_with(loads)
    return fit(other, number, loads, quantity) if other is not None else None


def from_run(
    one: Fit, begins: Places, joined: ByteStream, loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    """Give the same number in frames that begin where the bytes that stay begin, and not among them.

    A single byte may be a charge, which falls.

    :param begins: where the frames begin in the stream, shape (n,)
    """
    kind, length = one.kind, one.kind.length
    before = begins[:-1][np.diff(begins) == length]
    if not kind.is_cut or kind.terminator or before.size < FEWEST:
        return None
    frames = np.asarray(joined.data[before[:, None] + np.arange(length)])
    fixed, first = fixed_bytes(frames), length
    last = max(places_of(one) | upper_places(one.number, length))
    while first > last + 1 and fixed[first - 1] is not None and fixed[first - 1] not in _ENDS:
        first -= 1
    while first < length and not _is_mark(fixed[first] or 0):
        first += 1
    if first == length:
        return None
    return _begun_later(one, joined, before, first, loads, quantity)


def from_blocks(one: Fit, joined: ByteStream | None, loads: Sequence[Load], quantity: Quantity) -> Fit | None:
    """Give the same number in frames that begin at what stays, where most blocks begin that arrive."""
    kind, length = one.kind, one.kind.length
    if joined is None or kind.begins is None or kind.selectors or kind.terminator:
        return None
    first = where_blocks_begin(kind.begins, length, joined.time_s)
    if (
        not first
        or fixed_bytes(kind.frames, 0.95)[first] is None
        or one.number.offset < first < one.number.end
    ):
        return None
    begins = kind.begins[kind.begins + first + length <= len(joined.data)]
    return _begun_later(one, joined, begins, first, loads, quantity)


def _begun_later(
    one: Fit, joined: ByteStream, begins: Places, first: int, loads: Sequence[Load], quantity: Quantity
) -> Fit | None:
    """Give the same number in frames of a stream that begin so many bytes later than at some places."""
    length, at = one.kind.length, begins + first
    frames = np.asarray(joined.data[at[:, None] + np.arange(length)])
    times = joined.time_s[at + length - 1]
    later = replace(one.kind, frames=frames, time_s=times, part_of=None, selectors=(), begins=at)
    other = later.seen_with(loads)
    return fit(other, _moved(one.number, first, length), loads, quantity) if other is not None else None


def _is_mark(byte: int) -> bool:
    """Say whether frames may begin with a byte that stays."""
    return is_clear_mark(byte) and byte not in NOT_NEEDED


def _moved(number: Number, first: int, length: int) -> Number:
    """Give a number's place in frames that begin later; what its sign is, is looked for anew."""
    offset = number.offset - first if number.offset >= first else number.offset - first + length
    return replace(number, offset=offset, sign=None, decimals_at=-1)


def without_check_bytes(one: Fit, loads: Sequence[Load], quantity: Quantity) -> Iterator[Fit]:
    """Give the same number without bytes of a check that it has taken for its lowest ones, or its sign."""
    number, kind = one.number, one.kind
    if number.sign is not None:
        check = find_check(kind.frames, number.covers, 0)
        if check is not None and number.sign.offset in check.places:
            yield settle_sign(one, loads, quantity, taken=check.places)
    if number.encoding not in ("integer", "bcd", "ascii"):
        return
    for left_out in range(1, min(2, number.width - 1) + 1):
        offset = number.offset + (left_out if number.order == "little" else 0)
        mask = number.mask >> 8 * left_out
        shorter = replace(number, offset=offset, width=number.width - left_out, mask=mask, sign=None)
        check = find_check(kind.frames, shorter.covers, 0)
        if check is None or not check.places & number.covers:
            continue
        again = fit(kind, shorter, loads, quantity)
        if again is not None:
            yield again


def ends_before_check(one: Fit, best: Fit) -> bool:
    """Say whether a number of its own factor has a byte less, and the best one a check's byte for that.

    What stands below its counts is anything then, and the check is seen only where frames begin elsewhere.
    """
    number = one.number
    if best.scale is not None or best.number.order != number.order or number.order not in _DIRECTIONS:
        return False
    if abs(best.slope / one.slope / _BYTE - 1.0) > SAME_SLOPE:
        return False
    check = find_check(one.kind.frames[rows_in_place(one)], number.covers, 0)
    # A sum over all bytes of a frame is one over those of any other cut.
    return (
        check is not None and check.poly > 0 and number.lowest_at + _DIRECTIONS[number.order] in check.places
    )
