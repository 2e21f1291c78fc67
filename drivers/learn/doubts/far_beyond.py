"""Readings far beyond all loads: what damage explains, and what a number says that is misunderstood.

A check of one byte lets some damaged frames pass. Each of those says something else; a sign or a flag that is
taken for a part of the number makes readings that are off by as much each time.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from drivers.learn.captures.capture import Capture
from drivers.learn.description.proving import Proof
from drivers.learn.numbers.fitting import Fit, rows_in_place
from drivers.learn.numbers.number import LARGEST
from drivers.learn.outside.framed import Outside
from drivers.learn.outside.picking import frames_at, places_in_order
from drivers.learn.packets.arrays import Floats
from drivers.learn.packets.framing import ByteStream
from drivers.learn.packets.line_makes import has_known_check

_CHANCE_PASSES = 1
"""Damaged packets that a check of one byte lets pass, and that are far from all loads."""

_MOST_BEYOND = 0.025
"""Share of packets that are damaged and read all the same, where no check refuses them."""

_PASSED = 0.25
"""Share of the damaged frames that a check of one byte lets pass at most. An exclusive or lets one in eight
pass in which two bits are changed; one that breaks off, before the next, may repeat its own beginning."""


def doubts_of_far(
    capture: Capture, one: Fit, clean: Fit | None, outside: Outside, proof: Proof, joined: ByteStream | None
) -> Iterator[str]:
    """Doubt a description that reads what no load comes near, in sentences.

    :param clean: the same number in undamaged packets alone, where those are known
    :param joined: the stream, for frames that were cut out of one
    """
    check, most_read = outside.check, _MOST_BEYOND * proof.readings
    is_strong = check is not None and check.kind == "crc16"
    in_step, out_of_step = _in_order(capture, one, outside, joined)
    unreadable = 0 if clean is None else _count_of_none(clean.number.values(clean.kind.frames))
    if (left := unreadable - _count_of_none(out_of_step)) > (0 if is_strong else _CHANCE_PASSES):
        yield f"{left} packets that are in order cannot be read."
    if check is None and not has_known_check(one.kind.make):
        is_doubtful = proof.beyond_in_row > 0 or proof.beyond > max(_CHANCE_PASSES, most_read)
    else:
        passed = 0 if is_strong else max(_CHANCE_PASSES, _PASSED * min(proof.rejected, most_read))
        far = [g for g in proof.far if _is_among(g, in_step) or not _is_among(g, out_of_step)]
        is_doubtful = proof.beyond > passed or _most_alike(np.array(far), one.span) > _CHANCE_PASSES
    if is_doubtful:
        yield f"{proof.beyond} of {proof.readings} readings are far beyond all loads."


def _count_of_none(says: Floats) -> int:
    return int(np.isnan(says).sum())


def _is_among(reading: float, says: Floats) -> bool:
    is_it = np.isnan(says) if abs(reading) > LARGEST else np.isclose(says, reading, rtol=1e-6)
    return bool(is_it.any())


def _most_alike(far: Floats, span: float) -> int:
    """Give how many readings are off alike, at most: their distances from each other are those of loads.

    :param span: from the lowest load to the highest, g or °C
    """
    ordered = np.sort(far)
    groups = np.cumsum(np.diff(ordered, prepend=ordered[:1]) > span)
    return int(np.bincount(groups).max(initial=0))


def _in_order(
    capture: Capture, one: Fit, outside: Outside, joined: ByteStream | None
) -> tuple[Floats, Floats]:
    """Give what the frames of a stream say that are in order, and apart what those say that are out of step.

    Those overlap with another one whose number is in place: some bytes were lost, and they begin elsewhere.

    :returns: g or °C, NaN where there is no number; none where no frames are known to be in order
    """
    none = np.empty(0), np.empty(0)
    if outside.check is None or joined is None:
        return none
    begins, length = places_in_order(outside, joined), outside.length
    every = frames_at(begins, length, one.kind, joined, capture.loads)
    if every is one.kind:
        return none
    says, is_in_place = one.loads_of(one.number.values(every.frames)), rows_in_place(one, every)
    good = np.concatenate(([-length], begins[is_in_place], [begins[-1] + length]))
    behind = np.searchsorted(good, begins)
    is_apart = (begins - good[behind - 1] >= length) & (good[behind] - begins >= length)
    return says[is_in_place | is_apart], says[~is_in_place & ~is_apart]
