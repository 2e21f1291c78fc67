"""Landmarks of a stream: short runs of bytes that come again and again at a frame's distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drivers.learn.packets.arrays import Frames, Places
from drivers.learn.packets.kinds import FEWEST

SHORTEST, LONGEST = 3, 128
_LANDMARKS = 60
_MOSTLY_COVERED = 0.85
"""Share of a stream that frames explain which are read in blocks."""

_OFTEN, _IN_MOST, _ALL_ALIKE = 0.04, 0.4, 0.75
"""Shares of frames: with a pause at a place that comes by no damage; at the place where a line waits most
often, at least; and of what as many pauses at all such places would be, by which they are as good as that."""


@dataclass(frozen=True, eq=False)
class Landmark:
    """A run of bytes, and what it cuts a stream into.

    :param places: where it stands
    :param lengths: of the pieces, the most frequent ones first
    :param covered: how much of the stream is pieces of those lengths
    """

    places: Places
    lengths: tuple[int, ...]
    covered: float


def best_cover(data: Frames) -> float:
    """Say how much of a stream the best landmark explains, from 0 to 1."""
    if data.size < 3 * FEWEST:
        return 0.0
    return max((one.covered for one in landmarks_of(data)), default=0.0)


def landmarks_of(data: Frames) -> list[Landmark]:
    """Give the runs of one to four bytes that cut the stream into pieces of few lengths, the best first."""
    found: list[Landmark] = []
    for size in (1, 2, 3, 4):
        codes = np.zeros(data.size - size + 1, dtype=np.int64)
        for at in range(size):
            codes = codes << 8 | data[at : data.size - size + 1 + at].astype(np.int64)
        kinds, counts = np.unique(codes, return_counts=True)
        order = np.argsort(-counts)[:_LANDMARKS]
        for which in order:
            if counts[which] < FEWEST or counts[which] * LONGEST < data.size * 0.3:
                break
            places = np.flatnonzero(codes == kinds[which])
            landmark = landmark_at(places, data.size)
            if landmark is not None:
                found.append(landmark)
    found.sort(key=lambda one: -one.covered)
    if not found:
        return []
    best = found[0].covered
    return [one for one in found if one.covered > 0.6 * best][:24]


def landmark_at(places: Places, size: int) -> Landmark | None:
    """Give what places cut a stream of some bytes into; None where those pieces are of all lengths."""
    gaps = np.diff(places)
    tally = np.bincount(gaps[(gaps >= SHORTEST) & (gaps <= LONGEST)], minlength=LONGEST + 1)
    often = [int(gap) for gap in np.argsort(-tally)[:4] if tally[gap] >= max(FEWEST, 0.04 * gaps.size)]
    if not often:
        return None
    covered = sum(gap * int(tally[gap]) for gap in often) / size
    return Landmark(places, tuple(often), covered - 0.03 * len(often))


def is_alone_between(bursts: Landmark) -> bool:
    """Say whether all that comes between two pauses is of one length, and so a frame."""
    return len(bursts.lengths) == 1 and bursts.covered > 0.88


def differ_by_one(bursts: Landmark) -> bool:
    """Say whether what comes between two pauses is of two lengths, one byte apart: so a slow line is read."""
    return len(bursts.lengths) > 1 and max(bursts.lengths) - min(bursts.lengths) == 1


def are_blocks(bursts: Landmark, landmarks: list[Landmark]) -> bool:
    """Say whether what comes between two pauses is a block that a computer reads, whatever is in it.

    Then bytes come again and again at a distance that has nothing to do with the block's length.
    """
    length = bursts.lengths[0]
    return any(
        one.covered > _MOSTLY_COVERED and all(length % each and each % length for each in one.lengths)
        for one in landmarks
    )


def are_scattered(bursts: Places, landmarks: list[Landmark]) -> bool:
    """Say whether a line waits at other places in each frame, so that none tells where one begins.

    Messages that come in turns, and a computer that is late now and then, leave pauses in the same places.

    :param bursts: the places of the bytes that came after a pause
    """
    return any(one.covered > _MOSTLY_COVERED and _are_scattered_in(bursts, one) for one in landmarks)


def _are_scattered_in(bursts: Places, frames: Landmark) -> bool:
    before = np.searchsorted(frames.places, bursts, side="right") - 1
    offsets = bursts[before >= 0] - frames.places[before[before >= 0]]
    shares = np.bincount(offsets[offsets < frames.lengths[0]]) / frames.places.size
    often = shares[shares > _OFTEN]
    if len(frames.lengths) > 1 or often.size < 3:
        return False
    return bool(often.max() < _IN_MOST or often.sum() < _ALL_ALIKE * often.max() * often.size)
