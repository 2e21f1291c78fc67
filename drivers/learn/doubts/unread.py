"""What is left out by a description and holds the load as well: packets, frames or lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.learn.captures.capture import Capture
from drivers.learn.description.proving import Proof, near
from drivers.learn.doubts.left_lines import lines_unread
from drivers.learn.numbers.fitting import Fit
from drivers.learn.numbers.neighbours import NOT_NEEDED
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.headers import Header, places_of
from drivers.learn.packets.arrays import Floats, Frames, Places
from drivers.learn.packets.framing import ByteStream, apart
from drivers.learn.packets.kinds import fixed_bytes, settled_rows
from drivers.learn.packets.line_makes import LineMake

_MOST_TRIED, _FEWEST_MARKS = 4, 3
_LONG_HEADER, _MOST_REFUSED = 3, 0.3
_SELDOM, _FEWEST_RESTING = 0.6, 4
"""Share of messages of another kind that look like the load by chance, and how many come at rest."""


@dataclass(frozen=True, slots=True)
class Unread:
    """What is not read, and holds the load as well.

    :param missed: how many packets, frames or lines are left out
    :param held: of how many
    :param in_order: how many of those missed a check shows to be undamaged
    """

    missed: int
    held: int
    in_order: int = 0


def unread(capture: Capture, one: Fit, outside: Outside, proof: Proof, joined: ByteStream | None) -> Unread:
    """Count what holds the load as well and is not read.

    :param joined: the stream, for frames that were cut out of one
    """
    if isinstance(one.kind.make, LineMake):
        return Unread(*lines_unread(capture, one, one.kind.make, joined))
    if one.kind.terminator:
        return Unread(0, 0)
    if joined is not None and outside.check is not None:
        begun, refused = _refused(joined, outside)
        if refused > _MOST_REFUSED * begun:
            return Unread(refused, begun, refused)
    begins, times, frames = _packets(capture, one) if joined is None else _places(joined, one, outside)
    if not len(frames):
        return Unread(0, 0)
    says = one.loads_of(one.number.values(frames))
    good = outside.begins(frames)
    if outside.check is not None:
        good &= outside.check.holds(frames)
    if outside.terminator:
        good &= (frames[:, -len(outside.terminator) :] == np.frombuffer(outside.terminator, np.uint8)).all(
            axis=1
        )
    if joined is not None:
        good[good] = np.isin(begins[good], apart(begins[good], frames.shape[1]))  # read one after the other
    # What looks like a frame inside one that is read is chance.
    free = good | ~_overlaps(begins, begins[good], frames.shape[1])
    at_rest, weighs = np.zeros(len(frames), dtype=bool), np.zeros(len(frames), dtype=bool)
    for load in capture.loads:
        here = np.zeros(len(frames), dtype=bool)
        here[settled_rows(times, load)] = True
        here &= free
        with np.errstate(invalid="ignore"):
            weighs |= here & (np.abs(says - load.value) <= np.where(good, near(one), closely(one)))
        at_rest |= here
    strange = _of_other_kinds(frames, outside, at_rest & ~good, weighs)
    weighs &= good | ~strange
    is_marked = outside.check is not None or len(_solid(outside.header)) > 1 or _is_marked_behind(one)
    if is_marked or joined is None:
        weighs |= free & ~at_rest & ~good & ~strange & _between_loads(says, one, capture)
    held, read = int(weighs.sum()), int((weighs & good).sum())
    # A frame taken for twice its length swallows the next one, header and all.
    missed = max(held - read, int((weighs & at_rest).sum()) - proof.at_rest)
    if outside.check is None:
        return Unread(missed, held)
    in_order = missed if joined is not None else int((weighs & ~good & outside.check.holds(frames)).sum())
    return Unread(missed, held, in_order)


def _refused(joined: ByteStream, outside: Outside) -> tuple[int, int]:
    """Count frames that begin with a long header, and how many of them the check refuses.

    Where the check holds by chance, in two messages taken for one, it refuses many that begin alike.
    """
    header = _solid(outside.header)
    if len(header) < max(_LONG_HEADER, len(outside.header)) or outside.check is None:
        return 0, 0
    begins = np.arange(max(len(joined.data) - outside.length + 1, 0))
    for place, byte in enumerate(header):
        begins = begins[joined.data[begins + place] == byte]
    holds = outside.check.holds(joined.data[begins[:, None] + np.arange(outside.length)])
    refused = begins[~holds]
    return len(begins), int((~_overlaps(refused, begins[holds], outside.length)).sum())


def _solid(header: Header) -> list[int]:
    return [byte for byte in header if byte is not None]


def _between_loads(says: Floats, one: Fit, capture: Capture) -> NDArray[np.bool_]:
    """Say which packets hold something between the lightest load and the heaviest, none of them nought."""
    loads = [load.value for load in capture.loads]
    with np.errstate(invalid="ignore"):
        return np.asarray((says > min(loads) + closely(one)) & (says < max(loads) - closely(one)))


def _of_other_kinds(
    frames: Frames, outside: Outside, at_rest: NDArray[np.bool_], weighs: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Say which packets are messages of another kind: what looks like a weight in them seldom is the load."""
    others = np.zeros(len(frames), dtype=bool)
    for place, byte in enumerate(outside.header):
        if byte is None:
            continue
        codes = [byte, *(code for at, code in outside.codes if at == place)]
        unlike = ~others & ~np.isin(frames[:, place], codes)
        resting = int((unlike & at_rest).sum())
        if resting >= _FEWEST_RESTING and (unlike & weighs).sum() < _SELDOM * resting:
            others |= unlike
    return others


def _overlaps(begins: Places, others: Places, length: int) -> NDArray[np.bool_]:
    """Say which frames share bytes with others, themselves among them."""
    if not others.size:
        return np.zeros(begins.size, dtype=bool)
    after = np.searchsorted(others, begins)
    following = others[np.minimum(after, others.size - 1)] - begins
    before = begins - others[np.maximum(after - 1, 0)]
    return np.asarray((np.abs(following) < length) | (np.abs(before) < length))


def _packets(capture: Capture, one: Fit) -> tuple[Places, Floats, Frames]:
    """Give all packets of the length of those that were chosen."""
    packets = [each for each in capture.of_stream(one.kind.stream) if len(each.data) == one.kind.length]
    frames = np.frombuffer(b"".join(each.data for each in packets), dtype=np.uint8)
    times = np.array([each.time_s for each in packets])
    begins = np.arange(len(packets), dtype=np.int64) * one.kind.length
    return begins, times, frames.reshape(len(packets), one.kind.length)


def _places(joined: ByteStream, one: Fit, outside: Outside) -> tuple[Places, Floats, Frames]:
    """Give all places of a stream where a frame may stand, be its header as it was found or not.

    With a check, this is where the first byte and the check are right; without, where all that is fixed
    before the number is, but for what stands next to it, which may be a sign, and for the first, which may be
    the end of the frame before; where hardly anything is, where what is fixed behind it is.
    """
    data = joined.data
    usual = fixed_bytes(one.kind.frames)
    picked = {at for at, _ in one.kind.selectors}  # other packets may hold the weight as well
    marks = [at for at in range(min(places_of(one))) if usual[at] is not None and at not in picked]
    if outside.check is not None:
        marks = marks[:1]
    elif len(marks) > 3:
        marks = [at for at in marks if at not in (one.number.offset - 1, one.number.end)][-2:]
    elif len(marks) < 2 and len(behind := _fixed_behind(usual, one)) >= _FEWEST_MARKS:
        marks = behind
    good = np.ones(max(len(data) - outside.length + 1, 0), dtype=bool)
    for at in marks:
        good &= data[at : at + len(good)] == usual[at]
    begins = np.flatnonzero(good)
    frames = data[begins[:, None] + np.arange(outside.length)]
    if outside.check is not None and len(frames) > _MOST_TRIED * len(one.kind.frames):
        return begins[:0], np.zeros(0), frames[:0]  # the first byte is anywhere, and says nothing
    if outside.check is not None and len(frames):
        holds = outside.check.holds(frames)
        begins, frames = begins[holds], frames[holds]
    return begins, joined.time_s[begins + outside.length - 1], frames


def _fixed_behind(usual: list[int | None], one: Fit) -> list[int]:
    """Give the places behind a number that are fixed, and something else than nothing."""
    first = max(places_of(one)) + 2
    return [at for at in range(first, len(usual)) if usual[at] is not None and usual[at] not in NOT_NEEDED]


def _is_marked_behind(one: Fit) -> bool:
    """Say whether what is fixed behind a number marks its frames."""
    return len(_fixed_behind(fixed_bytes(one.kind.frames), one)) >= _FEWEST_MARKS


def closely(one: Fit) -> float:
    """Give the same where another kind of message may say something near the load by chance, g or °C."""
    return 0.006 * one.span + 8.0 * one.noise_units + 3.0 * one.step
