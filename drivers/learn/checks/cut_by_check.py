"""Frames of a stream that begin with no mark, cut where a check over all of their bytes is right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from drivers.learn.checks.check import Check
from drivers.learn.checks.check_search import find_check
from drivers.learn.packets.arrays import Frames, Places
from drivers.learn.packets.framing import ByteStream, apart
from drivers.learn.packets.kinds import Kind, fixed_bytes, is_header_like, with_parts

_MOST_LENGTHS, _MOST_STRETCHES = 2, 4
"""Lengths of frames that are looked into, and stretches of the stream in which a check is looked for."""

_LONGEST = 32
"""Bytes of a frame that no mark tells, at most."""

_STRETCH, _FEWEST, _CODES = 32, 12, 0.5
"""Frames of a stretch, which hardly loses bytes; how many of them must differ; and for each that does, things
that the last byte of a check is at least."""

_WIDEST = 2
"""Bytes of a check."""

_NEARLY_ALL = 0.9
"""Share of the stream that is in frames whose check is right."""


def cut_by_check(kinds: Sequence[Kind], joined: ByteStream) -> tuple[Kind, ...]:
    """Give the frames that nearly all of a stream consists of, by their check; none where marks tell them.

    :param kinds: the ways to cut it, those that look most like messages first
    """
    whole = [kind for kind in kinds if kind.is_cut and not kind.selectors]
    if any(map(_is_marked, whole)):
        return ()
    lengths = dict.fromkeys(kind.length for kind in whole if _WIDEST < kind.length <= _LONGEST)
    for length in list(lengths)[:_MOST_LENGTHS]:
        for check in _checks(joined.data, length):
            begins = _in_order(joined.data, length, check)
            if begins.size * length > _NEARLY_ALL * joined.data.size:
                return tuple(with_parts(_kind_at(joined, begins, length, check)))
    return ()


def _is_marked(kind: Kind) -> bool:
    first = fixed_bytes(kind.frames)[0]
    return first is not None and first != 0xFF and is_header_like(first)


def _checks(data: Frames, length: int) -> Iterator[Check]:
    """Give the checks over all bytes of a frame that hold in a stretch of a stream where frames differ most.

    An exclusive or, and a sum to nought, go round: they are right wherever frames are cut.
    """
    size = (_STRETCH + 1) * length
    stretches = [data[at : at + size] for at in range(0, data.size - size + 1, _STRETCH * length)]
    stretches.sort(key=lambda each: -len(_different(each, 0, length)))
    for stretch in stretches[:_MOST_STRETCHES]:
        for first in range(length):
            frames = _different(stretch, first, length)
            if len(frames) < _FEWEST or np.unique(frames[:, -1]).size < _CODES * len(frames):
                continue
            check = find_check(frames, frozenset(range(length - _WIDEST)), 0)
            if check is not None and check.is_plain and check.is_over_all(length) and not check.goes_round:
                yield check


def _different(stretch: Frames, first: int, length: int) -> Frames:
    """Cut a stretch into frames from a place on, and give those that differ, shape (n, length)."""
    return np.unique(stretch[first : first + _STRETCH * length].reshape(-1, length), axis=0)


def _in_order(data: Frames, length: int, check: Check) -> Places:
    """Give where frames begin whose check is right."""
    frames = np.lib.stride_tricks.sliding_window_view(data, length)
    return apart(np.flatnonzero(check.holds(frames)), length)


def _kind_at(joined: ByteStream, begins: Places, length: int, check: Check) -> Kind:
    frames = np.asarray(joined.data[begins[:, None] + np.arange(length)])
    times = joined.time_s[begins + length - 1]
    return Kind(joined.stream, times, frames, is_cut=True, begins=begins, checked=check.places)
