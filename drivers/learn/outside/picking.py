"""Messages of another kind among those that hold the load, told by one of their first bytes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from drivers.learn.captures.capture import Load, Quantity
from drivers.learn.checks.check import Check
from drivers.learn.numbers.fitting import Fit, fit, rows_in_place
from drivers.learn.numbers.neighbours import NOT_NEEDED, upper_places
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.headers import places_of
from drivers.learn.packets.arrays import Floats, Frames, Marks, Places
from drivers.learn.packets.framing import ByteStream, apart
from drivers.learn.packets.kinds import FEWEST, Kind, fixed_bytes

_LAST_TELLING, _USUAL, _ALIKE = 10, 0.85, 0.5
_FEWEST_OTHERS, _OTHERS, _DAMAGED = 4, 0.01, 0.035
"""Packets of another kind: how many, and their share where damaged ones are known and where they are not."""

_FEWEST_ALIKE, _SELDOM = 3, 0.5
"""Fewer of them, that share a byte: how many, and the share of those that hold the load by chance."""

_GOES_ON = 0.8

_MOST_LOST, _OFTEN = 2, 0.01
"""Bytes that a frame loses at most, and the share of frames in which a byte is often something."""


def picked_out(
    one: Fit, outside: Outside, joined: ByteStream | None, loads: Sequence[Load], quantity: Quantity
) -> Fit:
    """Leave out packets of another kind, which do not hold the load and which one of the first bytes tells.

    :param joined: the stream, for frames that were cut out of one
    """
    kind, check = one.kind, outside.check
    every, begins = kind, np.empty(0, dtype=np.int64)
    if joined is not None:
        begins = places_found(outside, joined)
        every = frames_at(begins, outside.length, kind, joined, loads)
    whole = check.holds(every.frames) if check is not None else np.ones(len(every.frames), dtype=bool)
    frames, follows = every.frames[whole], goes_on(every, one)[whole]
    if (~follows).sum() < _FEWEST_ALIKE:
        return one
    during = np.searchsorted([load.start_s for load in loads], every.time_s[whole], side="right")
    rest = np.isin(np.flatnonzero(whole), np.concatenate(every.settled))
    least = max(_FEWEST_OTHERS, (_OTHERS if check is not None else _DAMAGED) * rest.sum())
    taken = places_of(one) | (check.places if check else frozenset())
    taken |= set(range(outside.length - len(outside.terminator), outside.length))
    upper = upper_places(one.number, kind.length)
    # A frame that has lost a byte ends with the first one of the next.
    marks = {byte for byte in outside.header if byte is not None} if kind.is_cut else set()
    is_short = np.zeros(len(frames), dtype=bool)
    if joined is not None and every is not kind:
        is_short = _end_early(begins[whole], outside.length, fixed_bytes(frames[follows]), joined.data)
    usual = fixed_bytes(frames[rest & follows], _USUAL)[:_LAST_TELLING]
    # What may be the upper byte of another number names messages last of all: below nought it is another one.
    for place, value in sorted(enumerate(usual), key=lambda each: each[1] in NOT_NEEDED):
        if value is None or place in taken or (place in upper and value in NOT_NEEDED):
            continue
        column = frames[:, place]
        slipped = _of_next_places(frames[follows], place) if check is None and kind.is_cut else set()
        if not (
            _come_all_the_time((column != value)[rest], follows[rest], during[rest], least)
            or _are_alike(column, {value, *marks, *slipped}, follows, is_short, during)
        ) or _is_flag_of_same(every, one, check, place, value):
            continue
        rows = kind.frames[:, place] == value
        seen = replace(
            kind, time_s=kind.time_s[rows], frames=kind.frames[rows], begins=None,
            selectors=(*kind.selectors, (place, value)), part_of=kind.whole,
        ).seen_with(loads)  # fmt: skip
        return (fit(seen, one.number, loads, quantity) if seen is not None else None) or one
    return one


def _come_all_the_time(others: Marks, weighs: Marks, during: Places, least: float) -> bool:
    """Say whether many packets do not hold the load, at every load: at some, something has shaken the pan.

    :param others: which packets have another byte than the usual one, shape (n,)
    :param weighs: which of all hold their load
    :param during: which load is there
    """
    if others.sum() < least or weighs[others].mean() > _ALIKE:
        return False
    return np.unique(during[others]).size == np.unique(during).size


def _of_next_places(frames: Frames, place: int) -> set[int]:
    """Give what often stands one or two places further on: a frame that has lost bytes shows it too early."""
    nexts = frames[:, place + 1 : place + 1 + _MOST_LOST]
    often = [np.bincount(column, minlength=256) >= _OFTEN * len(column) for column in nexts.T]
    return set(np.flatnonzero(np.any(often, axis=0)).tolist()) if often else set()


def _end_early(begins: Places, length: int, fixed: Sequence[int | None], data: Frames) -> Marks:
    """Say which frames of a stream have lost their end, or bytes of it: the next one begins before that.

    It does so anywhere, and else where another kind of message is as long as that.

    :param begins: where the frames begin in the stream, shape (n,)
    :param fixed: the bytes that stay in a frame, None for what changes
    :param data: all bytes of the stream
    """
    after = np.append(_where(enumerate(fixed), length, data), len(data))
    lengths = after[np.searchsorted(after, begins, side="right").clip(max=after.size - 1)] - begins
    is_early = lengths < length
    tally = np.bincount(lengths[is_early & (lengths < length - _MOST_LOST)], minlength=length)
    usual = int(tally.argmax())
    return np.asarray(is_early & ((lengths != usual) | (tally[usual] <= _ALIKE * tally.sum())))


def _are_alike(column: Frames, usual: set[int], follows: Marks, is_short: Marks, during: Places) -> bool:
    """Say whether a few packets that do not go on with the load share a byte: damaged ones differ each time.

    :param column: a byte of each packet
    :param usual: what it is as a rule, or in frames that are damaged
    :param is_short: frames that end with the first bytes of the next one, which are the same each time
    """
    others = ~follows & ~is_short & ~np.isin(column, list(usual))
    tally = np.bincount(column[others], minlength=256)
    alike = np.isin(column, np.flatnonzero(tally >= _FEWEST_ALIKE))
    if not alike.any():
        return False
    return bool(follows[alike].mean() <= _SELDOM and np.unique(during[alike & ~follows]).size > 1)


def _is_flag_of_same(every: Kind, one: Fit, check: Check | None, place: int, value: int) -> bool:
    """Say whether frames with another byte there go on with the load as well: it is a flag of the same kind.

    Such a byte may hardly come at rest, where frames cut too early or too late are more than those.
    """
    column, says = every.frames[:, place], one.number.values(every.frames)
    usual = np.flatnonzero((column == value) & rows_in_place(one, every))
    if usual.size < FEWEST:
        return False
    on_way = is_between_nearest(says, usual, _reach(one)) | goes_on(every, one)
    whole = check.holds(every.frames) if check is not None else np.ones(len(says), dtype=bool)
    tally = np.bincount(column[whole & (column != value)], minlength=256)
    return any(
        on_way[whole & (column == code)].mean() > _GOES_ON for code in np.flatnonzero(tally >= _FEWEST_OTHERS)
    )


def goes_on(kind: Kind, one: Fit) -> Marks:
    """Say which packets hold the load: at rest their own, else what is between those before and behind."""
    says = one.number.values(kind.frames)
    good = is_between(says, np.roll(says, 1), np.roll(says, -1), _reach(one) + _swings(says))
    at_rest = np.concatenate(kind.settled)
    good[at_rest] = _is_at_its_load(kind, one)[at_rest]
    return good


def _reach(one: Fit) -> float:
    """By how much a number may leave its neighbours, in its own counts."""
    return 3.0 * one.grid + 8.0 * one.noise


def _swings(says: Floats) -> Floats:
    """Give how far a number went just before each packet, or goes just after: a pan that comes to rest swings
    about its load, and each time less far than the time before.
    """
    gone = np.nan_to_num(np.abs(np.diff(says, prepend=says[:1])))
    return np.asarray(np.maximum(np.roll(gone, 1), np.roll(gone, -2)))


def is_between(says: Floats, before: Floats, behind: Floats, reach: float | Floats) -> Marks:
    """Say which numbers lie between those before and behind, or no further off than a reach."""
    with np.errstate(invalid="ignore"):
        return np.asarray(
            (says >= np.minimum(before, behind) - reach) & (says <= np.maximum(before, behind) + reach)
        )


def is_between_nearest(says: Floats, usual: Places, reach: float) -> Marks:
    """Say which numbers lie between those of the nearest usual packets before and behind, or nearly so.

    :param usual: in order, at least one
    """
    behind = np.searchsorted(usual, np.arange(len(says)))
    before, after = (says[usual[np.clip(at, 0, usual.size - 1)]] for at in (behind - 1, behind))
    return is_between(says, before, after, reach)


def _is_at_its_load(kind: Kind, one: Fit) -> Marks:
    """Say for each packet at rest whether it says the load, more closely than damage would tell."""
    values = one.number.values(kind.frames)
    near = 0.006 * float(np.ptp(one.levels)) + 8.0 * one.noise + 3.0 * one.grid
    good = np.zeros(len(values), dtype=bool)
    with np.errstate(invalid="ignore"):
        for rows, level in zip(kind.settled, one.levels, strict=True):
            good[rows] = np.abs(values[rows] - level) <= near
    return good


def frames_at(begins: Places, length: int, kind: Kind, joined: ByteStream, loads: Sequence[Load]) -> Kind:
    """Give the frames of a stream that begin at some places as packets of a kind, whatever is in them.

    :returns: the kind as it is, where those are too few to hold the loads
    """
    frames = np.asarray(joined.data[begins[:, None] + np.arange(length)])
    every = replace(kind, frames=frames, time_s=joined.time_s[begins + length - 1], begins=None)
    return every.seen_with(loads) or kind


def places_found(outside: Outside, joined: ByteStream) -> Places:
    """Give where in a stream the frames begin that a description would read one after the other."""
    return apart(places_in_order(outside, joined), outside.length)


def places_in_order(outside: Outside, joined: ByteStream) -> Places:
    """Give where in a stream frames begin that are in order, also such as begin inside another one."""
    data, length = joined.data, outside.length
    ends = enumerate(outside.terminator, length - len(outside.terminator))
    at = _where((*enumerate(outside.header), *ends), length, data)
    if outside.check is not None:
        at = at[outside.check.holds(np.asarray(data[at[:, None] + np.arange(length)]))] if at.size else at
    return at


def _where(fixed: Iterable[tuple[int, int | None]], length: int, data: Frames) -> Places:
    """Give where in a stream whole frames may begin that have these bytes, None for any, at these places."""
    begins = np.ones(max(len(data) - length + 1, 0), dtype=bool)
    for place, byte in fixed:
        if byte is not None:
            begins &= data[place : place + len(begins)] == byte
    return np.flatnonzero(begins)
