"""What frames begin with: as few bytes as are needed, and none that may be the upper one of a field."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from drivers.learn.checks.check import Check
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.neighbours import NOT_NEEDED, upper_places
from drivers.learn.packets.arrays import Frames, Marks, Places
from drivers.learn.packets.kinds import USUAL_STARTS, Kind, fixed_bytes, is_header_like

Header = tuple[int | None, ...]

_LONGEST_HEADER, _CLEAR_RUN, _BESIDE_BODY = 6, 2, 6
MOST_KINDS = 0x20
"""The largest number by which a kind of message is called, as a rule."""
_BEGIN_ALIKE = 1.04
"""So many for every frame begin alike where others do as well; fewer are damaged ones."""
_BEFORE_DIGITS = b" +"
_SIGNS = (0x00, *_BEFORE_DIGITS)
"""What a byte is that may be the sign of a number, above nought."""
_END_RUN = 2
"""Bytes that mark an end by themselves."""
_LEAST_CHARGE, _FULL, _PATTERNS = 10, 100, (0x55, 0x5A)
"""Charges that a battery may have, %; and what marks frames more often than it is a charge."""

ENDS = (0x03, 0x04, 0x0A, 0x0D, 0x16)


def places_of(one: Fit) -> frozenset[int]:
    """Give the places of the number, its sign and its decimals."""
    places = set(one.number.covers)
    if one.number.sign is not None:
        places.add(one.number.sign.offset)
    if one.number.decimals_at >= 0:
        places.add(one.number.decimals_at)
    return frozenset(places)


def end_mark(fixed: list[int | None], one: Fit, stream: Frames) -> bytes:
    """Give the last byte of frames without a check, where it marks their end, and is no byte of flags."""
    last, at = fixed[-1], len(fixed) - 1
    if last is None or at in places_of(one) or _is_flag(at, last, fixed, stream, None):
        return b""
    if last in NOT_NEEDED and at in upper_places(one.number, len(fixed)):
        return b""
    is_end = last in ENDS or is_clear_mark(last)
    return bytes([last]) if is_end else b""


def end_run(fixed: list[int | None], one: Fit, check: Check | None) -> bytes:
    """Give the last bytes of frames that begin with nothing that stays, where those mark their end.

    Without a check, a single byte marks nothing: it comes elsewhere as well.
    """
    taken = places_of(one) | upper_places(one.number, len(fixed)) | (check.places if check else frozenset())
    run: list[int] = []
    for at in range(len(fixed) - 1, len(fixed) - 1 - _END_RUN, -1):
        byte = fixed[at]
        if byte is None or byte in NOT_NEEDED or at in taken:
            break
        run.insert(0, byte)
    return bytes(run) if len(run) == _END_RUN or check is not None else b""


def is_usual_end(end: bytes) -> bool:
    """Say whether what frames end with is one of the bytes that mark an end."""
    return not end or end[-1] in ENDS


def may_fall(value: int) -> bool:
    """Say whether a byte that is always the same is a number that a battery's charge may be, %."""
    return _LEAST_CHARGE <= value <= _FULL


def may_be_charge(value: int) -> bool:
    """Say whether a byte that is always the same may be a battery's charge, %, that has not fallen so far."""
    return may_fall(value) and value not in _PATTERNS


def is_charge_like(value: int) -> bool:
    """Say whether a byte that is always the same is a charge rather than what frames begin with."""
    return may_be_charge(value) and not is_header_like(value)


def has_mark(header: Sequence[int | None]) -> bool:
    """Say whether a frame begins with anything that is always the same."""
    return any(byte is not None for byte in header)


def is_clear_mark(value: int) -> bool:
    """Say whether a byte that is always the same marks a frame rather than being a charge."""
    return is_header_like(value) and not may_be_charge(value)


def packet_header(
    kind: Kind, good: Frames, fixed: list[int | None], others: Frames | None, one: Fit
) -> Header:
    """Give the bytes that tell these packets from others of their length; none where there are no others."""
    own, upper = places_of(one), upper_places(one.number, kind.length)

    def may_be_own(place: int, byte: int) -> bool:
        return place in own or (place in upper and byte in NOT_NEEDED)

    header = {place: value for place, value in kind.selectors if not may_be_own(place, value)}
    header = header or {place: value for place, value in kind.selectors if place not in own}
    if others is not None and len(others):
        count = len(others)
        for place, value in header.items():
            others = others[others[:, place] == value]
        for place in range(min(_LONGEST_HEADER, kind.length)):
            if len(others) < max(6, 0.04 * len(good), 0.2 * count):
                break  # damaged ones
            byte = fixed[place]
            if byte is None or place in header or may_be_own(place, byte):
                continue
            if (others[:, place] != byte).mean() > 0.5:
                header[place] = byte
                others = others[others[:, place] == byte]
    if not header:
        return ()
    return tuple(header.get(place) for place in range(max(header) + 1))


def _enough_with_check(
    run: list[int], fixed: list[int | None], stream: Frames, check: Check, kind: Kind
) -> int:
    """Give how many of the first bytes find a frame, where its check tells what is none.

    What may be the upper byte of a field that has not gone that far yet is taken only where other messages
    begin in the same way.
    """
    likely = _likely(run, fixed)
    size = 1
    if not check.poly:  # a sum holds for a frame and a part of the next as well, where both are the same
        size = 2 if len(run) > 1 and _is_second(run[1], likely, kind.length) else 1
        while size < len(run) and {*run[: size + 1]} == {run[0]}:
            size += 1  # a frame that begins one byte later begins alike, and sums up as well
        data = stream.tobytes()
        while size < likely and data.count(bytes(run[:size])) > 1.15 * len(kind.frames):
            size += 1
    strays = _strays(run[:size], stream, check, kind.length)
    while size < len(run) and strays > 0.1 * len(kind.frames):
        size += 1
        strays = _strays(run[:size], stream, check, kind.length)
    return size


def _is_second(value: int, likely: int, length: int) -> bool:
    """Say whether a byte that stays belongs to what frames begin with: a usual one, a length, a small number.

    :param likely: how many bytes a header is likely to have
    """
    if is_header_like(value):
        return likely > _CLEAR_RUN or (likely == _CLEAR_RUN and value in USUAL_STARTS)
    return 0 < value < _LEAST_CHARGE or length - _BESIDE_BODY <= value <= length


def _has_gone_by_one(column: NDArray[np.uint8]) -> bool:
    """Say whether a byte that nearly stays has been one more, or one less, more than once: so goes a value.

    Damage makes it anything, and small numbers name kinds of messages.
    """
    tally = np.bincount(column, minlength=256)
    usual = int(tally.argmax())
    beside = tally[max(usual - 1, 0) : usual + 2].sum() - tally[usual]
    return bool(usual > MOST_KINDS and beside > 1)


def _is_flag(place: int, usual: int, fixed: list[int | None], stream: Frames, check: Check | None) -> bool:
    """Say whether a byte has another value now and then, always the same one, in frames else alike.

    :param check: of the frames; what only begins like one does not count where they have one
    """
    begins = np.ones(max(len(stream) - len(fixed) + 1, 0), dtype=bool)
    for at, byte in enumerate(fixed):
        if byte is not None and at != place:
            begins &= stream[at : at + len(begins)] == byte
    where = np.flatnonzero(begins)
    if check is not None and where.size:
        where = where[check.holds(np.asarray(stream[where[:, None] + np.arange(len(fixed))]))]
    where = _apart_from_usual(where, stream[where + place] == usual, len(fixed))
    tally = np.bincount(stream[where + place], minlength=256)
    count, often = int(tally.sum()), int(tally[usual])
    tally[usual] = 0
    most = int(tally.max())
    least = (
        2 if check is not None else max(4, 0.004 * count)
    )  # what is damaged hardly passes a check twice alike
    return often > 0.5 * count and most >= least and most > 0.6 * int(tally.sum())


def _apart_from_usual(where: Places, is_usual: Marks, length: int) -> Places:
    """Leave out what begins inside of frames with the usual byte: where those are alike, any turn sums up."""
    usual = where[is_usual]
    if not usual.size:
        return where
    before = np.maximum(np.searchsorted(usual, where, side="right") - 1, 0)
    behind = np.minimum(np.searchsorted(usual, where), usual.size - 1)
    is_inside = (np.abs(where - usual[before]) < length) | (np.abs(usual[behind] - where) < length)
    return np.asarray(where[is_usual | ~is_inside])


def _likely(run: list[int], fixed: list[int | None], least: int = 2) -> int:
    """Give how many of the first bytes are no upper ones of a field that begins among them, and no charge.

    :param least: so many may be a charge
    """
    likely = len(run)
    if 2 < likely < len(fixed) and fixed[likely] is None and not is_header_like(run[-1]):
        likely -= 1
    while likely > 1 and (
        run[likely - 1] in NOT_NEEDED or (likely > least and is_charge_like(run[likely - 1]))
    ):
        likely -= 1
    return likely


def _occurs(run: list[int], stream: Frames) -> int:
    """Count where some bytes stand; an end that is like the beginning makes them stand a byte too early."""
    begins = np.ones(max(len(stream) - len(run) + 1, 0), dtype=bool)
    for place, byte in enumerate(run):
        begins &= stream[place : place + len(begins)] == byte
    return int(begins.sum())


def _strays(header: list[int], stream: Frames, check: Check, length: int) -> int:
    """Count what begins like a frame outside of those whose check is right."""
    begins = np.ones(max(len(stream) - length + 1, 0), dtype=bool)
    for place, byte in enumerate(header):
        begins &= stream[place : place + len(begins)] == byte
    at = np.flatnonzero(begins)
    holds = check.holds(np.asarray(stream[at[:, None] + np.arange(length)])) if at.size else at > 0
    good = at[holds]
    if not good.size:
        return at.size
    before = np.searchsorted(good, at, side="right") - 1
    inside = (before >= 0) & (at - good[np.maximum(before, 0)] < length)
    return int((~inside).sum())


def stream_header(
    kind: Kind, fixed: list[int | None], good: Frames, stream: Frames, check: Check | None, one: Fit
) -> Header:
    """Give as few of the first bytes as are needed to find a frame among the others."""
    run: list[int] = []
    # Frames that slipped by some bytes and still hold their check must not hide what is fixed.
    for place, value in enumerate(fixed_bytes(good, 0.97)[:_LONGEST_HEADER]):
        if value is None or place in places_of(one) or (place and value in _BEFORE_DIGITS):
            break
        is_repeated = value in run  # then it is looked for one byte too early as well
        if place and not is_repeated and _is_flag(place, value, fixed, stream, check):
            break
        if place >= _CLEAR_RUN and _has_gone_by_one(good[:, place]):
            break
        run.append(value)
    selected = dict(kind.selectors)
    if not run:
        return tuple(selected.get(place) for place in range(max(selected) + 1)) if selected else ()
    if check is not None:
        size = _enough_with_check(run, fixed, stream, check, kind)
    else:
        size = 2 if len(run) > 1 and is_header_like(run[1]) else 1
        end = end_mark(fixed, one, stream)
        likely = _likely(run, fixed, 1 if end else 2)
        if not is_header_like(run[0]):
            size = max(size, likely)  # by itself, it may be anywhere
        least = max(likely, size)
        if end and _occurs(run[:least], stream) <= _BEGIN_ALIKE * max(len(kind.frames), _occurs(run, stream)):
            run = run[:least]  # no other messages begin alike
        enough = max(len(kind.frames), _occurs(run, stream))  # more of the same bytes find no fewer
        while size < len(run) and _occurs(run[:size], stream) > _BEGIN_ALIKE * enough:
            size += 1
    header: list[int | None] = list(run[:size])
    if check is not None and run[0] in _SIGNS and len(run) > 1 and is_clear_mark(run[1]):
        header = [None, run[1]]  # below nought, the sign of another number is another one
    for place, value in sorted(selected.items()):
        if place >= len(header):
            header += [None] * (place - len(header)) + [value]
    return tuple(header)
