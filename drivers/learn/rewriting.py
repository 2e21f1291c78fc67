"""A shorter description, or one with more codes, where more of the capture can be read by that."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from drivers.learn.captures.capture import Capture
from drivers.learn.description.findings import clock_in
from drivers.learn.description.proving import Proof
from drivers.learn.doubts.unread import unread
from drivers.learn.numbers.fitting import Fit, fit
from drivers.learn.outside.codes import with_codes
from drivers.learn.outside.false_starts import (
    SELDOM_INSIDE,
    begun_inside,
    more_header,
    names_messages,
    read_inside,
)
from drivers.learn.outside.framed import Outside, outside_of
from drivers.learn.outside.headers import Header, has_mark, is_clear_mark, may_be_charge, places_of
from drivers.learn.outside.passing import drifts, may_be_upper
from drivers.learn.outside.picking import places_found
from drivers.learn.outside.trimming import ended_sooner, trimmed
from drivers.learn.packets.kinds import fixed_bytes
from drivers.learn.packets.pauses import where_blocks_begin
from drivers.learn.signs.flags import goes_by_one
from drivers.learn.streams import Packets
from drivers.learn.ways import is_paused, signed_in_order
from drivers.learn.weight.choosing import settled
from drivers.learn.written import Written, written_if_told

_SHORTEST_HEADER, _MORE_READ, _CLEARLY = 2, 3, 1.004
"""By how much more must be read in frames that begin elsewhere."""

_OF_OTHERS = 0.1
"""Share of readings at rest far from their load, of those that are read only without a byte of the header."""

_LINE_ENDS = (b"\n", b"\r")
_STARTS_OF_TEXT, _ENDS_OF_TEXT = ((0x01,), (0x02,)), (b"\x03", b"\x04")
"""SOH and STX, ETX and EOT of ISO 646."""

_ONE_DAMAGED, _DAMAGED, _HARDLY = 1, 0.002, 0.01
"""Damaged packets, and their share, that a byte of a header may keep from being read; and the share that may
be lost where the last byte that marks a frame comes inside of one as well."""


def best_written(
    name: str, capture: Capture, stream: Packets, found: tuple[Fit, Outside, Written]
) -> tuple[Fit, Outside, Written]:
    """Write the description in which most of the capture can be read, and read in time.

    :param found: a number, what stands around it, and the description as it was written at first
    """
    one, outside, written = _no_longer_than_needed(name, capture, stream, found)
    for rewrite in (without_needless_mark, _with_less_header, _without_passing_marks, _with_more_header):
        outside, written = rewrite(name, capture, stream, (one, outside, written))
    found = _with_all_codes(name, capture, stream, (one, outside, written))
    return _read_sooner(name, capture, stream, found)


def _with_less_header(
    name: str, capture: Capture, stream: Packets, found: tuple[Fit, Outside, Written]
) -> tuple[Outside, Written]:
    """Take the last byte off a header of a stream as long as more is read without it.

    It may be the upper byte of a field that hardly ever changes. Where that field is seen to go on behind it,
    it goes as soon as no less is read without it. Without a check, it goes for that alone: more that is read
    may be anything.
    """
    one, outside, written = found
    if stream.joined is None:
        return outside, written
    # Something must tell where it begins.
    while outside.header and (has_mark(outside.header[:-1]) or outside.has_check_of_all):
        is_upper = may_be_upper(outside, one)
        if not is_upper and (
            outside.check is None
            or len(outside.header) <= _SHORTEST_HEADER
            or not unread(capture, one, outside, written.proof, stream.joined).missed
        ):
            break
        shorter = replace(outside, header=outside.header[:-1])
        if _begins_elsewhere(one, shorter, outside, is_upper=is_upper) or names_messages(
            outside, stream.joined
        ):
            break
        rewritten = written_if_told(name, capture, stream, one, shorter)
        if rewritten is None or rewritten.proof.right < written.proof.right + _MORE_READ * (not is_upper):
            break
        if _more_is_of_others(rewritten.proof, written.proof):
            break
        outside, written = shorter, rewritten
    return outside, written


def _begins_elsewhere(one: Fit, shorter: Outside, outside: Outside, *, is_upper: bool) -> bool:
    """Say whether frames with a shorter header seem to begin inside of others, where they did not before.

    :param is_upper: whether what is left out passes some day: then a check may hold inside of a few by chance
    """
    if shorter.is_told_by_check:
        return read_inside(one, shorter) > SELDOM_INSIDE
    allowed = SELDOM_INSIDE if is_upper and outside.check is not None else 0.0
    return begun_inside(one, shorter) > max(begun_inside(one, outside), allowed)


def _more_is_of_others(more: Proof, before: Proof) -> bool:
    """Say whether what is read besides is something else, which is near the load at times by chance."""
    return more.astray - before.astray > _OF_OTHERS * (more.at_rest - before.at_rest) + 1


def _with_more_header(
    name: str, capture: Capture, stream: Packets, found: tuple[Fit, Outside, Written]
) -> tuple[Outside, Written]:
    """Tell where frames of a stream begin by more of the bytes that stay, where they seem to begin elsewhere.

    A decoder that has lost its step may go on from there, until the bytes there are others.
    """
    one, outside, written = found
    while stream.joined is not None and (longer := more_header(one, outside)) is not None:
        rewritten = written_if_told(name, capture, stream, one, longer)
        if rewritten is None or rewritten.proof.right < (1.0 - _HARDLY) * written.proof.right:
            break
        outside, written = longer, rewritten
    return outside, written


def without_needless_mark(
    name: str, capture: Capture, stream: Packets, found: tuple[Fit, Outside, Written]
) -> tuple[Outside, Written]:
    """Take the last byte off a header where it stands behind some that change, and tells no messages apart.

    Without it as much is read, and nothing more that is far from the load. It may be the upper byte of a
    battery's voltage or of a clock, which is another one some day.
    """
    one, outside, written = found
    while outside.header and None in outside.header:
        shorter = outside.header[:-1]
        while shorter and shorter[-1] is None:
            shorter = shorter[:-1]
        without = replace(outside, header=shorter)
        if (rewritten := written_if_told(name, capture, stream, one, without)) is None:
            break
        old, new = written.proof, rewritten.proof
        damaged = max(_ONE_DAMAGED, _DAMAGED * new.readings)
        if new.right < old.right or new.astray > old.astray or new.beyond > old.beyond + damaged:
            break
        outside, written = without, rewritten
    return outside, written


def _without_passing_marks(
    name: str, capture: Capture, stream: Packets, found: tuple[Fit, Outside, Written]
) -> tuple[Outside, Written]:
    """Take a byte off what frames of a stream begin or end with that may be another one some day.

    Nothing would be read then. As long as others tell where a frame is, hardly less is read without it.
    """
    one, outside, written = found
    if stream.joined is None:
        return outside, written
    for marks, fewest_more in _without_passing(outside, one):
        if (rewritten := written_if_told(name, capture, stream, one, marks)) is None:
            continue
        old, new = written.proof, rewritten.proof
        # An end, where there is no check, keeps all from being read that has lost a byte.
        is_unended = bool(outside.terminator and not marks.terminator)
        damaged = max(_ONE_DAMAGED, (_HARDLY if is_unended else _DAMAGED) * new.readings)
        reads_enough = new.right >= (old.right + fewest_more if fewest_more else (1.0 - _HARDLY) * old.right)
        if reads_enough and new.astray <= old.astray + damaged and new.beyond <= old.beyond + damaged:
            outside, written = marks, rewritten
    return outside, written


def _without_passing(outside: Outside, one: Fit) -> Iterator[tuple[Outside, int]]:
    """Give the same frames without a byte of their header or end that may be a charge; or without the first
    one where it may be the upper byte of what goes slowly at the end of the frame before, or a state there.

    :returns: each with how many more readings it must give; 0 where it may give a few less
    """
    header, end, last = outside.header, outside.terminator, one.kind.length - 1
    solid = [byte for byte in header if byte is not None]
    # Bytes that are all alike are found a byte too early as well.
    are_enough = len(solid) > _SHORTEST_HEADER and len({*solid[:-1]}) > 1
    if are_enough and header[-1] is not None and may_be_charge(header[-1]):
        yield replace(outside, header=header[:-1]), 0
    if len(end) > 1 and outside.check is not None and may_be_charge(end[0]) and not may_be_charge(end[-1]):
        yield replace(outside, terminator=end[1:]), 0
    may_pass = len(end) == 1 and end not in _LINE_ENDS and outside.check is None
    if may_pass and may_be_charge(end[0]) and len(solid) >= _SHORTEST_HEADER:
        yield replace(outside, terminator=b""), 0  # so may a temperature be, in whole degrees
    elif may_pass and solid and last in clock_in(one):
        yield replace(outside, terminator=b""), 0  # nor does a clock's upper byte end a frame
    if _may_be_bars(end, header) and outside.check is None and (run := _first_of(one)):
        yield replace(outside, header=max(run, header, key=len), terminator=b""), 0
    if len(solid) < _SHORTEST_HEADER or end or outside.check is not None:
        return
    first, second = header[0] or 0, header[1] or 0
    without_first = replace(outside, header=(None, *header[1:]))
    are_enough = len({*solid[1:]}) > _SHORTEST_HEADER
    is_upper = last not in places_of(one) and not is_clear_mark(first)
    column = one.kind.frames[:, last]
    if is_upper and (is_clear_mark(second) or are_enough) and (drifts(column) or goes_by_one(column)):
        yield without_first, 0
    elif are_enough:
        yield without_first, _MORE_READ


def _first_of(one: Fit) -> Header:
    """Give the first bytes of frames where those stay, and are none of the number; else nothing."""
    first = tuple(fixed_bytes(one.kind.frames)[:_SHORTEST_HEADER])
    return () if None in first or min(places_of(one)) < _SHORTEST_HEADER else first


def _may_be_bars(end: bytes, header: Header) -> bool:
    """Say whether what frames end with may be a battery's bars: ETX and EOT end what STX or SOH begins."""
    return len(end) == 1 and end in _ENDS_OF_TEXT and header[:1] not in _STARTS_OF_TEXT


def _with_all_codes(
    name: str, capture: Capture, stream: Packets, found: tuple[Fit, Outside, Written]
) -> tuple[Fit, Outside, Written]:
    """Tell messages by all codes that a byte has in those that hold the load, where that reads more of them,
    or less that is far from the load.
    """
    one, outside, written = found
    for again, told in _in_all_codes(one, outside, stream, capture):
        if (rewritten := written_if_told(name, capture, stream, again, told)) is None:
            continue
        old, new = written.proof, rewritten.proof
        is_told_alike = told.header == outside.header
        is_better = new.right >= old.right + _MORE_READ
        if not is_told_alike:  # what is damaged is no code: leaving out a few of the others takes it along
            is_better = new.astray < old.astray and new.right >= (1.0 - _HARDLY) * old.right
        if is_better and new.astray <= old.astray and new.beyond <= old.beyond:
            return again, told, rewritten
    return found


def _in_all_codes(
    one: Fit, outside: Outside, stream: Packets, capture: Capture
) -> Iterator[tuple[Fit, Outside]]:
    """Give a number in the messages of all codes that hold the load, where a byte is one of several."""
    loads, quantity = capture.loads, capture.quantity
    for kind, told in with_codes(one, outside, stream.joined, loads):
        bare = replace(one.number, sign=None)
        fits = (fit(kind, number, loads, quantity) for number in (bare, one.number))
        if (again := next(filter(None, fits), None)) is not None:
            yield signed_in_order(settled(again, loads, quantity), told, capture), told


def _no_longer_than_needed(
    name: str, capture: Capture, stream: Packets, found: tuple[Fit, Outside, Written]
) -> tuple[Fit, Outside, Written]:
    """Take off the ends that a check does not cover, where more is read without them."""
    one, outside, written = found
    for shorter, kept in trimmed(one, outside):
        again = outside_of(shorter, None, stream.joined.data if stream.joined else None)
        without = again if again.check is not None and again.check == kept.check else kept
        if (rewritten := written_if_told(name, capture, stream, shorter, without)) is None:
            continue
        # What only ends earlier is read as soon as it is whole, and not with the next frame's first bytes.
        ends_earlier = shorter.number.offset == one.number.offset
        enough = written.proof.right if ends_earlier else _CLEARLY * written.proof.right + 1e-9
        if rewritten.proof.right >= enough:
            one, outside, written = shorter, without, rewritten
    return one, outside, written


def _read_sooner(
    name: str, capture: Capture, stream: Packets, found: tuple[Fit, Outside, Written]
) -> tuple[Fit, Outside, Written]:
    """Let frames of a stream end with what is needed of them, where they may, and as much is read so."""
    one, outside, written = found
    if stream.joined is None or is_paused(one, stream, capture):
        return found
    if (sooner := ended_sooner(one, outside)) is None:
        return found
    if where_blocks_begin(places_found(outside, stream.joined), outside.length, stream.joined.time_s) == 0:
        return found  # what would come first then ends the frame before
    rewritten = written_if_told(name, capture, stream, *sooner)
    is_one_byte = sooner[0].number.offset == one.number.offset + 1
    lost = _HARDLY * written.proof.right if is_one_byte else 1  # with it, some frames behind damage
    if rewritten is None or rewritten.proof.right < written.proof.right - lost:
        return found
    return (*sooner, rewritten)
