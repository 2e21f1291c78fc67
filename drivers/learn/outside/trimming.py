"""Frames cut out of a stream, made no longer than their check says.

A landmark that repeats may take in the end of the frame before, or a message of another kind behind; then
the frames that follow something else are missed. Where a check tells what belongs together, the ends that it
does not cover are taken off as long as more frames can be read without them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from drivers.learn.checks.check_search import find_check
from drivers.learn.numbers.fitting import Fit
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.headers import ENDS, Header, may_fall, places_of
from drivers.learn.packets.arrays import Frames
from drivers.learn.packets.kinds import is_header_like

_FEW_STATES, _NEARLY_ALL = 2, 0.97
"""Things that a byte of flags is as a rule, and the share of frames in which it is one of them."""


def trimmed(one: Fit, outside: Outside) -> Iterator[tuple[Fit, Outside]]:
    """Give shorter frames that the same check still holds for; without one, those that end with an end.

    :param outside: of the frames as they were cut
    """
    check = outside.check
    if not one.kind.is_cut or one.kind.terminator or outside.terminator:
        return
    if check is None:
        if (behind := _behind_end(one)) is not None:
            yield _cut_to(one, outside, 0, behind)
        return
    end = max(check.at + check.width, check.stop, max(places_of(one)) + 1)
    if end < outside.length:
        yield _cut_to(one, outside, 0, end)
    first = outside.header[1] if len(outside.header) > 1 else _usual(one, 1)
    is_doubled = first is not None and outside.header[:1] == (first,)
    if is_doubled and not check.kind.endswith("16"):
        return  # each frame would be looked for one byte too early, and one in 256 be found there
    if check.start >= 1:
        # All before it may be the end of the frame before, or a message that always comes before this one.
        for begin in range(1, min(check.start, *places_of(one)) + 1):
            if _is_beginning(_usual(one, begin), may_be_charge=begin == check.start > 1):
                yield _cut_to(one, outside, begin, end)
        return
    if first is None or not is_header_like(first) or min(places_of(one)) < 2:
        return
    found = find_check(one.kind.frames[:, 1:end], frozenset(at - 1 for at in places_of(one)), 0)
    if found is None or (check.is_plain and not found.is_plain):
        return  # the check covers what would be cut off
    if found.at == check.at - 1 and found.kind == check.kind:
        shorter, without = _cut_to(one, outside, 1, end)
        yield shorter, replace(without, check=found)


def _is_beginning(byte: int | None, *, may_be_charge: bool) -> bool:
    """Say whether a byte that stays is one that frames begin with.

    :param may_be_charge: else it is none that a battery's charge may be, behind what every frame begins with
    """
    return byte is not None and is_header_like(byte) and (may_be_charge or not may_fall(byte))


def ended_sooner(one: Fit, outside: Outside) -> tuple[Fit, Outside] | None:
    """Give frames without a check that begin earlier, with bytes that stay or are flags behind the number.

    Whether a frame ends or begins with those is unknown; where they come first, none is waited for that comes
    with the next frame. What a frame ends with as a rule is left where it is.
    """
    kind, after = one.kind, max(places_of(one)) + 1
    if outside.check is not None or kind.terminator or not kind.is_cut:
        return None
    if outside.terminator:
        return _led_by_end(one, outside) if len(outside.terminator) == 1 else None
    first = kind.length
    while (
        first > after and _usual(one, first - 1) not in ENDS and _is_mark_or_flags(kind.frames[:, first - 1])
    ):
        first -= 1
    while first < kind.length and _usual(one, first) is None:
        first += 1  # flags are rather at the end of a frame than at its beginning
    more = kind.length - first
    if more == 0 or not any(outside.header):
        return None
    return _with_last_first(one, outside, (None,) * more)


def _led_by_end(one: Fit, outside: Outside) -> tuple[Fit, Outside] | None:
    """Give frames that begin with the byte that they seem to end with, where a header may have it first."""
    if not any(outside.header) or one.kind.length - 1 in places_of(one):
        return None
    return _with_last_first(one, replace(outside, terminator=b""), tuple(outside.terminator))


def _with_last_first(one: Fit, outside: Outside, first_bytes: Header) -> tuple[Fit, Outside]:
    """Give frames that begin with their last bytes.

    :param first_bytes: what those are, None for anything
    """
    kind, more = one.kind, len(first_bytes)
    first = kind.length - more
    frames = np.concatenate((np.roll(kind.frames[:, first:], 1, axis=0), kind.frames[:, :first]), axis=1)
    begins = None if kind.begins is None else np.maximum(kind.begins - more, 0)
    earlier = replace(kind, frames=frames, begins=begins, selectors=())
    codes = tuple((at + more, code) for at, code in outside.codes)
    header = (*first_bytes, *outside.header)
    return replace(one, kind=earlier, number=one.number.moved(more)), replace(
        outside, header=header, codes=codes
    )


def _is_mark_or_flags(column: Frames) -> bool:
    """Say whether a byte is one of a few things, and each of them often: what a value is changes more."""
    tally = np.bincount(column)
    return bool(np.sort(tally)[-_FEW_STATES:].sum() > _NEARLY_ALL * column.size)


def _behind_end(one: Fit) -> int | None:
    """Give the place of a last byte that always follows one that frames end with: the next frame's first."""
    last = one.kind.length - 1
    is_fixed = _usual(one, last) is not None and _usual(one, last - 1) in ENDS
    return last if is_fixed and last - 1 > max(places_of(one)) else None


def _usual(one: Fit, place: int) -> int | None:
    column = one.kind.frames[:, place]
    usual = int(column[len(column) // 2])
    return usual if (column == usual).mean() > 0.97 else None


def _cut_to(one: Fit, outside: Outside, first: int, end: int) -> tuple[Fit, Outside]:
    check = outside.check
    kind = replace(one.kind, frames=one.kind.frames[:, first:end], begins=None)
    header = outside.header[first:] or (_usual(one, first),)
    while header and header[-1] is None:
        header = header[:-1]
    moved_check = (
        None
        if check is None
        else replace(check, at=check.at - first, start=max(check.start - first, 0), stop=check.stop - first)
    )
    moved = replace(one, kind=kind, number=one.number.moved(-first))
    return moved, Outside(header, end - first, b"", moved_check)
