"""Everything that arrived, sorted by kinds of packets; and what in them follows the loads."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from drivers.described.description import Checksum
from drivers.learn.captures.capture import Capture, Load
from drivers.learn.checks.cut_by_check import cut_by_check
from drivers.learn.checks.line_check import find_line_check
from drivers.learn.description.texts import text_kinds
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.numbers.following import Tried, rough_fits
from drivers.learn.numbers.last_digits import ends_in_another
from drivers.learn.numbers.neighbours import NOT_NEEDED
from drivers.learn.outside.headers import is_clear_mark
from drivers.learn.packets.arrays import Places
from drivers.learn.packets.framing import (
    ByteStream,
    frame_kinds,
    is_text,
    line_kinds,
    lines_in,
    lines_of,
    stream_of,
)
from drivers.learn.packets.kinds import Kind, fixed_bytes, kinds_of
from drivers.learn.packets.line_makes import LineMake

_FULL = 20
"""Bytes of a notification at most, where nothing else has been agreed on: Bluetooth Core, vol 3 F, 3.2.8."""

_ALL_BUT_DAMAGED = 0.95
"""Share of notifications that are of one length where all are whole, and some have lost bytes."""

_COARSEST = 0.1
"""Share of the loads' span that a step of what explains them may be."""

_ENOUGH_WAYS = 3
"""Ways to cut a stream that are looked into, once they explain it: all hold the same."""

_DOUBLE = 0.97
"""Share of the frames that begin where others do, of one way to cut a stream that is another one again."""

_CLEAR, _IN_PART = 2.5, 0.965
"""Cost of a number that is hardly one by chance; share of packets, where the others are of another kind."""

_PADDED = 0.9
"""Share of the lines in which nothing but blanks stands before a number that is no part of a longer one."""

_POINT, _DIGITS = ord("."), tuple(b"0123456789")

_MARK = 2
"""Bytes that stay at the end of a frame, by which the next one is found."""


def in_pieces(capture: Capture) -> list[int]:
    """Give the characteristics that send packets of several lengths, as one does that passes a stream on."""
    if capture.link != "ble":
        return []
    found = []
    for index in range(len(capture.streams)):
        lengths = Counter(len(one.data) for one in capture.of_stream(index))
        if not lengths:
            continue
        (usual, count), *_ = lengths.most_common(1)
        if count < _ALL_BUT_DAMAGED * sum(lengths.values()) or usual == _FULL:
            found.append(index)
    return found


def plainest(kinds: Sequence[Kind]) -> tuple[Kind, ...]:
    """Give the kinds in which a slip is looked for: not every part of every way to cut a stream."""
    whole = [kind for kind in kinds if not kind.is_cut]
    cut = [kind for kind in kinds if kind.is_cut and not kind.selectors]
    return (*whole, *cut[:4])


@dataclass(frozen=True, eq=False)
class Packets:
    """What came by one way: by kinds, and joined where it is a stream of bytes."""

    kinds: tuple[Kind, ...]
    joined: ByteStream | None


NOTHING = Packets((), None)


def streams_of(capture: Capture, *, joined: Collection[int] = ()) -> list[Packets]:
    """Sort everything that arrived by kinds.

    :param joined: the characteristics whose notifications are taken for pieces of one stream
    """
    found = []
    for index in range(len(capture.streams)):
        arrivals = [(one.time_s, one.data) for one in capture.of_stream(index)]
        if not arrivals:
            found.append(NOTHING)
        elif capture.link == "serial" or index in joined:
            found.append(_cut(stream_of(index, arrivals)))
        else:
            times = np.array([time_s for time_s, _ in arrivals])
            lines = [(time_s, line) for time_s, data in arrivals for line in lines_in(data)]
            is_lines = is_text(stream_of(index, [(time_s, data + b"\n") for time_s, data in arrivals]).data)
            check = find_line_check([line for _, line in lines]) if is_lines else None
            packets = [data for _, data in arrivals]
            kinds = list(kinds_of(index, times, packets, check.width if check is not None else 0))
            kinds += _text_kinds(index, lines, check) if is_lines else []
            found.append(Packets(tuple(kinds), None))
    return found


def _cut(joined: ByteStream) -> Packets:
    if is_text(joined.data):
        lines = lines_of(joined)
        check = find_line_check([line for _, line in lines])
        kinds = line_kinds(joined, check.width if check is not None else 0)
        return Packets((*kinds, *_text_kinds(joined.stream, lines, check)), joined)
    cut = tuple(frame_kinds(joined))
    return Packets(cut_by_check(cut, joined) or cut, joined)


def _text_kinds(index: int, lines: list[tuple[float, bytes]], check: Checksum | None) -> list[Kind]:
    return [replace(kind, make=make) for kind, make in text_kinds(index, lines, check)]


def fits_of(
    streams: Sequence[Packets],
    capture: Capture,
    loads: Sequence[Load],
    tried: dict[Kind, Tried] | None = None,
) -> list[Fit]:
    """Give all numbers that follow the loads.

    :param tried: what has been found for other values of the same loads, and is kept for the next ones
    """
    found = []
    for stream in streams:
        explained = Counter[int]()
        kinds = _without_doubles(stream.kinds)
        for kind in kinds:
            # Where all packets of a length are explained, parts of them tell nothing more.
            name = id(kind.make) if kind.make is not None else 0 if kind.is_cut else kind.length
            if explained[name] >= (1 if kind.selectors else _ENOUGH_WAYS):
                continue
            seen = kind.seen_with(loads)
            if seen is None:
                continue
            numbers = rough_fits(seen, loads, None if tried is None else tried.setdefault(kind, []))
            fits = [fit(seen, number, loads, capture.quantity) for number in numbers]
            whole = [one for one in fits if one is not None and not _is_part_of_text(one)]
            good = _that_can_be_found(whole)
            found += good
            if not kind.selectors and any(map(_explains, good)) and not any(map(_may_be_in_a_part, good)):
                explained[name] += 1
    return found


def _without_doubles(kinds: Sequence[Kind]) -> list[Kind]:
    """Leave out frames that are cut where others are cut already, with all that were picked out of them."""
    kept: list[Kind] = []
    seen: dict[int, list[Places]] = {}
    doubles = set[int]()
    for kind in kinds:
        if id(kind.whole) in doubles:
            continue
        if kind.is_cut and kind.begins is not None and not kind.terminator and not kind.selectors:
            others = seen.setdefault(kind.length, [])
            if any(np.isin(kind.begins, each).mean() > _DOUBLE for each in others):
                doubles.add(id(kind.whole))
                continue
            others.append(kind.begins)
        kept.append(kind)
    return kept


def _explains(one: Fit) -> bool:
    """Say whether a number is read from nearly all packets, so that they are of one kind."""
    return (
        one.inside > 0.982
        and one.scale is not None
        and not one.number.mask  # few bits of a message of another kind may look like a weight
        and one.worst < 0.01 * one.span
        and one.step < _COARSEST * one.span
    )


def _may_be_in_a_part(one: Fit) -> bool:
    """Say whether a number is in most packets only: the others may be of another kind."""
    is_clear = one.scale is not None and one.cost < _CLEAR and one.worst < 0.002 * one.span + one.step
    return is_clear and one.number.encoding == "ascii" and one.inside < _IN_PART


def _is_part_of_text(one: Fit) -> bool:
    """Say whether a number is a part only: decimals, or some of a line whose length changes.

    A pattern reads that whole. Digits 0 to F of which the last is never some others are more than a number.
    """
    before = one.kind.frames[:, : one.number.offset]
    if _are_decimals(one):
        return True
    if isinstance(one.kind.make, LineMake) and one.kind.make.is_hex:
        return ends_in_another(one)
    return one.kind.make is not None and bool((before != ord(" ")).any(axis=1).mean() > 1.0 - _PADDED)


def _are_decimals(one: Fit) -> bool:
    """Say whether a number of text begins with a point, or behind one, that a digit stands before.

    That digit is the number's as well, though it may never have moved.
    """
    first = one.number.offset
    if one.number.encoding != "ascii" or first < 2:
        return False
    before, last, own = one.kind.frames[:, first - 2 : first + 1].T
    begins = (own == _POINT) & np.isin(last, _DIGITS)
    return bool((begins | ((last == _POINT) & np.isin(before, _DIGITS))).mean() > _PADDED)


def _that_can_be_found(fits: list[Fit]) -> list[Fit]:
    """Leave out numbers that frames of a kind begin with, where nothing else tells where one begins."""
    return [one for one in fits if one.kind.checked or not _without_header(one)]


def _without_header(one: Fit) -> bool:
    """Say whether a frame begins with a number itself, and its last byte is no end.

    A mark that stands last tells where one begins as well as one that stands first.
    """
    if not one.kind.is_cut or one.kind.terminator or 0 not in one.number.covers:
        return False
    ends = [end or 0x00 for end in fixed_bytes(one.kind.frames[:, -_MARK:])]
    is_end = ends[-1] == ord("\n") or is_clear_mark(ends[-1])
    return not is_end and bool({*ends} & {*NOT_NEEDED})
