"""Frames that seem to begin inside of others: a decoder that has lost its step may go on from there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.neighbours import NOT_NEEDED, upper_places
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.headers import may_be_charge, places_of
from drivers.learn.outside.picking import places_found
from drivers.learn.packets.arrays import Frames, changes_of
from drivers.learn.packets.framing import ByteStream
from drivers.learn.packets.kinds import fixed_bytes

_WIDEST, _ONE_WAY, _SELDOM = 4, 0.8, 2
"""Bytes of a clock, at most; by how much more of its changes go up than down, as a share; and how many of
them come on the way as well as at rest."""

SELDOM_INSIDE = 0.02
"""Share of the frames inside of which another one may seem to begin: bytes are lost in one of a hundred."""

_FEWEST = 3
"""Frames, one after another, in which a beginning is seen to come again; and messages of another kind."""


def begun_inside(one: Fit, outside: Outside) -> float:
    """Give the share of frames that also seem to begin at another place, and so does the next one.

    Of all places inside a frame, the one where that happens most counts. A sum or an exclusive or over all
    bytes holds for the end of one frame and the beginning of the next as well.
    """
    frames, length = _in_order(one, outside), outside.length
    if len(frames) < _FEWEST:
        return 0.0
    both = np.concatenate((frames[:-1], frames[1:]), axis=1)
    end = np.frombuffer(outside.terminator, dtype=np.uint8)
    most = 0.0
    for first in range(1, length):
        turned = both[:, first : first + length]
        begins = outside.begins(turned) & (turned[:, length - end.size :] == end).all(axis=1)
        if begins.any() and outside.check is not None:
            begins[begins] = outside.check.holds(turned[begins])
        most = max(most, float((begins[:-1] & begins[1:]).mean()))
    return most


def read_inside(one: Fit, outside: Outside) -> float:
    """Give the share of frames inside of which another one seems to begin that is not what is sent.

    Of frames that are told by their check alone; the next one is right there as well, and both are read, as
    another number. A decoder that has lost bytes may go on from there.
    """
    frames, length = _in_order(one, outside), outside.length
    if len(frames) < _FEWEST or outside.check is None or not outside.is_told_by_check:
        return 0.0
    both, says = np.concatenate((frames[:-1], frames[1:]), axis=1), one.number.values(frames)
    most = 0.0
    for first in range(1, length):
        turned = both[:, first : first + length]
        values, holds = one.number.values(turned), outside.check.holds(turned)
        if one.number.sign is not None:
            holds &= one.number.sign.is_known(turned)
        others = holds & np.isfinite(values) & (values != says[:-1]) & (values != says[1:])
        most = max(most, float((others[:-1] & holds[1:]).mean()))
    return most


def more_header(one: Fit, outside: Outside) -> Outside | None:
    """Give the same frames with a longer header, by which fewer seem to begin inside of others; or None."""
    share = begun_inside(one, outside)
    if share == 0.0 or not outside.header:
        return None
    longer = [(begun_inside(one, each), len(each.header), each) for each in _with_one_more(one, outside)]
    best = min(longer, key=lambda each: each[:2], default=None)
    return best[2] if best is not None and best[0] < share else None


def _with_one_more(one: Fit, outside: Outside) -> Iterator[Outside]:
    """Give the same frames, told by one more of the bytes that stay, where it can be no value that passes."""
    fixed, header = fixed_bytes(_in_order(one, outside)), outside.header
    number = places_of(one) | upper_places(one.number, outside.length)
    taken = number | (outside.check.places if outside.check is not None else frozenset())
    for place in range(len(header), outside.length - len(outside.terminator)):
        byte = fixed[place]
        if byte is None or place in taken or byte in NOT_NEEDED or may_be_charge(byte):
            continue
        is_repeated = place == len(header) and byte == header[-1]
        if is_repeated or not _is_beside_clock(one, fixed, place):
            yield replace(outside, header=(*header, *(None,) * (place - len(header)), byte))


def _is_beside_clock(one: Fit, fixed: Sequence[int | None], place: int) -> bool:
    """Say whether a byte that stays may be an upper one of what goes one way on either side, also at rest."""
    for way in (1, -1):
        near = range(place + way, place + way * _WIDEST, way)
        lower = next((at for at in near if 0 <= at < len(fixed) and fixed[at] is None), None)
        if lower is None:
            continue
        column = one.kind.frames[:, lower].astype(np.float64)
        changes = changes_of(column)
        if changes.size > _SELDOM:
            changes = np.concatenate([changes_of(column[rows]) for rows in one.kind.settled])
        if changes.size and abs(np.sign(changes).sum()) > _ONE_WAY * changes.size:
            return True
    return False


def names_messages(outside: Outside, joined: ByteStream) -> bool:
    """Say whether the last byte of a header tells messages of another kind from these.

    The others come between these and begin alike but for that byte, which is the same each time, as is their
    length.
    """
    begins = places_found(outside, joined)
    ends = begins[:-1] + outside.length
    before, code = outside.header[:-1], outside.header[-1]
    others = Counter[tuple[int, int]]()
    for first, last in zip(ends.tolist(), begins[1:].tolist(), strict=True):
        data = joined.data[first : min(last, first + outside.length)]
        if len(data) > len(before) and last - first != outside.length and data[len(before)] != code:
            is_alike = all(byte in (None, at) for byte, at in zip(before, data.tolist(), strict=False))
            others[(int(data[len(before)]), last - first)] += is_alike
    return max(others.values(), default=0) > _FEWEST


def _in_order(one: Fit, outside: Outside) -> Frames:
    frames = one.kind.frames[rows_in_place(one)]
    return np.asarray(frames if outside.check is None else frames[outside.check.holds(frames)])
