"""The outside of the chosen packets: what they begin with, how they are told from others, their check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from drivers.learn.capture import Load, Quantity
from drivers.learn.check_search import find_check
from drivers.learn.checks import Check
from drivers.learn.choosing import kind_rows
from drivers.learn.fitting import Fit, fit
from drivers.learn.framing import ByteStream, apart
from drivers.learn.headers import Header, end_mark, packet_header, places_of, stream_header
from drivers.learn.kinds import Kind, fixed_bytes, is_header_like
from drivers.learn.neighbours import upper_places
from drivers.learn.numbers import Frames

_LAST_TELLING, _USUAL, _ALIKE = 10, 0.85, 0.5
_FEWEST_OTHERS, _OTHERS, _DAMAGED = 4, 0.01, 0.035
"""Packets of another kind: how many, and their share where damaged ones are known and where they are not."""


@dataclass(frozen=True, slots=True)
class Outside:
    """How a frame is found and held to be in order.

    :param header: what it begins with; None for a byte that may be anything
    """

    header: Header
    length: int
    terminator: bytes
    check: Check | None


def outside_of(one: Fit, others: Frames | None, stream: Frames | None) -> Outside:
    """Work out the outside of the frames that hold the chosen number.

    :param others: packets of the same length and place that are of other kinds, or None
    :param stream: for frames cut out of a stream, all its bytes
    """
    kind = one.kind
    good = kind.frames[kind_rows(kind, one)]
    fixed = fixed_bytes(good)
    terminator = kind.terminator or _terminator(good, fixed, one)
    check = find_check(good, places_of(one), len(terminator))
    if check is not None:
        good = good[check.holds(good)]
        fixed = fixed_bytes(good)
    if kind.terminator and kind.is_cut:
        return Outside((), kind.length, terminator, check)
    if stream is not None:
        header = stream_header(kind, fixed, good, stream, check, one)
        end = b"" if check is not None else end_mark(fixed, one)
        return Outside(header, kind.length, end, check)
    return Outside(packet_header(kind, good, fixed, others, one), kind.length, b"", check)


def picked_out(
    one: Fit, outside: Outside, joined: ByteStream | None, loads: Sequence[Load], quantity: Quantity
) -> Fit:
    """Leave out packets of another kind, which do not hold the load and which one of the first bytes tells.

    :param joined: the stream, for frames that were cut out of one
    """
    kind, check = one.kind, outside.check
    every = _all_frames(kind, outside, joined, loads) if joined is not None else kind
    at_rest = np.concatenate(every.settled)
    frames, weighs = every.frames[at_rest], _is_at_its_load(every, one)[at_rest]
    at_load = np.repeat(np.arange(len(loads)), [rows.size for rows in every.settled])
    if check is not None:
        whole = check.holds(frames)
        frames, weighs, at_load = frames[whole], weighs[whole], at_load[whole]
    least = max(_FEWEST_OTHERS, (_OTHERS if check is not None else _DAMAGED) * len(frames))
    if (~weighs).sum() < least:
        return one
    taken = places_of(one) | upper_places(one.number, kind.length) | (check.places if check else frozenset())
    for place, value in enumerate(fixed_bytes(frames[weighs], _USUAL)[:_LAST_TELLING]):
        if value is None or place in taken:
            continue
        others = frames[:, place] != value
        if others.sum() < least or weighs[others].mean() > _ALIKE:
            continue
        if min(others[at_load == each].sum() for each in range(len(loads))) == 0:
            continue  # something has shaken the pan; messages of another kind come all the time
        rows = kind.frames[:, place] == value
        seen = replace(
            kind, time_s=kind.time_s[rows], frames=kind.frames[rows], begins=None,
            selectors=(*kind.selectors, (place, value)), part_of=kind.whole,
        ).seen_with(loads)  # fmt: skip
        return (fit(seen, one.number, loads, quantity) if seen is not None else None) or one
    return one


def _is_at_its_load(kind: Kind, one: Fit) -> np.ndarray:
    """Say for each packet at rest whether it says the load, more closely than damage would tell."""
    values = one.number.values(kind.frames)
    near = 0.006 * float(np.ptp(one.levels)) + 8.0 * one.noise + 3.0 * one.grid
    good = np.zeros(len(values), dtype=bool)
    with np.errstate(invalid="ignore"):
        for rows, level in zip(kind.settled, one.levels, strict=True):
            good[rows] = np.abs(values[rows] - level) <= near
    return good


def _all_frames(kind: Kind, outside: Outside, joined: ByteStream, loads: Sequence[Load]) -> Kind:
    """Give all frames of a stream that a description would read one after the other, whatever is in them."""
    data, length = joined.data, outside.length
    begins = np.ones(max(len(data) - length + 1, 0), dtype=bool)
    for place, byte in enumerate(outside.header):
        if byte is not None:
            begins &= data[place : place + len(begins)] == byte
    at = np.flatnonzero(begins)
    if outside.check is not None:
        at = at[outside.check.holds(np.asarray(data[at[:, None] + np.arange(length)]))] if at.size else at
    at = apart(at, length)
    frames = np.asarray(data[at[:, None] + np.arange(length)])
    every = replace(kind, frames=frames, time_s=joined.time_s[at + length - 1], begins=None)
    return every.seen_with(loads) or kind


def likelihood_of(outside: Outside) -> float:
    """Say how much a frame looks like one that somebody has designed."""
    score = 0.0
    if outside.check is not None:
        plain = outside.check.init in (0, 0xFF, 0xFFFF) and outside.check.xorout in (0, 0xFF, 0xFFFF)
        end = outside.check.at + outside.check.width
        score += 6.0 + 4.0 * plain + 2.0 * (outside.check.init == outside.check.xorout == 0)
        score += 1.0 * (outside.length - 2 <= end) + 0.02 * (outside.check.stop - outside.check.start)
    solid = [byte for byte in outside.header if byte is not None]
    if solid:
        score += (
            2.0 * is_header_like(solid[0])
            - 3.0 * (solid[0] in (0x00, 0x0A, 0x0D, 0xFF) or solid == [0x20])
            + 0.3 * min(len(solid), 2)
        )
    else:
        score -= 4.0 * (not outside.terminator)
    return score


def is_weakly_marked(outside: Outside) -> bool:
    """Say whether a frame in a stream begins with one byte of no particular kind, and has no check."""
    if outside.check is not None or outside.terminator:
        return False
    header = outside.header
    run = header[: header.index(None)] if None in header else header
    return not run or (len(run) == 1 and not is_header_like(run[0] or 0))


def _terminator(frames: Frames, fixed: list[int | None], one: Fit) -> bytes:
    tail = fixed[-2:]
    if tail == [0x0D, 0x0A]:
        return b"\r\n"
    return b"\n" if tail[-1:] == [0x0A] else b""
