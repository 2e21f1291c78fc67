"""Pauses of a line: an instrument sends a frame, then waits, and none has a pause in its middle."""

from __future__ import annotations

import numpy as np

from drivers.learn.packets.arrays import Floats, Frames, Marks, Places
from drivers.learn.packets.kinds import FEWEST, is_header_like

_BEHIND_PAUSES = 0.9
"""Share of the frames that come after a pause, at least, where a line waits before each."""

_PAUSED_BY_CHANCE, _PAUSED, _MOSTLY_PAUSED = 0.04, 0.25, 0.8
"""Shares of frames with a pause in the middle, at most: of true ones, of ones that may be true, and of ones
that are true where there is none; more have those that are cut at the wrong place."""

_CLEARLY = 4.0
"""Standard deviations, of counts, by which blocks begin more often at one place than at another."""

_STAYS, _NEARLY_ALL = 0.9, 0.95
"""Shares: of messages that begin with the same byte, but for damage; of a stream that consists of frames."""

_FEWEST_PAUSES = 0.3
"""For each frame: a computer that is late reads several at once."""


def burst_starts(time_s: Floats) -> Places:
    """Give the places of the bytes that came after a pause: instruments send a frame, then wait.

    :param time_s: when each byte arrived, shape (n,)
    """
    gaps = np.diff(time_s)
    arrivals = gaps[gaps > 0]
    if arrivals.size < FEWEST:
        return np.zeros(0, dtype=np.int64)
    pause_s = 0.5 * float(np.quantile(arrivals, 0.9))
    return np.concatenate(([0], np.flatnonzero(gaps > pause_s) + 1))


def arrival_starts(time_s: Floats) -> Places:
    """Give the places of the bytes that came first of what was read at once."""
    return np.concatenate(([0], np.flatnonzero(np.diff(time_s) > 0) + 1))


def begin_after_pauses(begins: Places, length: int, time_s: Floats) -> bool:
    """Say whether a line waits before each of some frames, and in the middle of hardly any.

    :param begins: where the frames begin
    :param time_s: when each byte of the line arrived, shape (n,)
    """
    bursts = burst_starts(time_s)
    is_behind = np.isin(begins, bursts).mean() > _BEHIND_PAUSES
    return bool(is_behind and _are_paused(begins, length, bursts).mean() < _PAUSED_BY_CHANCE)


def where_blocks_begin(begins: Places, length: int, time_s: Floats) -> int | None:
    """Give the place in frames where most blocks begin that arrive; None where no place stands out.

    A computer that reads now and then may begin anywhere, but a line that is silent between two frames ends a
    block there.

    :param begins: where the frames begin
    :param time_s: when each byte of the line arrived, shape (n,)
    """
    begins = begins[begins + length <= len(time_s)]
    starts = arrival_starts(time_s)
    counts = np.array([np.isin(begins + at, starts).sum() for at in range(length)])
    most = int(counts.argmax())
    others = np.delete(counts, most).max(initial=0)
    return most if counts[most] - others > _CLEARLY * np.sqrt(counts[most] + others) else None


def _are_paused(begins: Places, length: int, bursts: Places) -> Marks:
    """Say which frames have a pause in the middle."""
    last = np.searchsorted(bursts, begins + length - 1, "right")
    return np.asarray(last > np.searchsorted(bursts, begins, "right"))


def between_pauses(ways: list[tuple[Places, int]], bursts: Places) -> list[tuple[Places, int]]:
    """Leave out frames with a pause in the middle, where others of that number have none.

    A line that was read in blocks of any size has as many pauses in all of them, and nothing is left out.
    """
    paused = [_are_paused(at, length, bursts) for at, length in ways]
    shares = [float(each.mean()) for each in paused]
    most = max((at.size * length for at, length in ways), default=0)
    clean = [
        at.size for (at, length), share in zip(ways, shares, strict=True)
        if share < _PAUSED_BY_CHANCE and at.size * length > 0.5 * most
        and bursts.size > _FEWEST_PAUSES * at.size
    ]  # fmt: skip
    if not clean:
        return ways
    kept = []
    for (at, length), share, inside in zip(ways, shares, paused, strict=True):
        if share < _PAUSED:
            kept.append((at, length))
        elif share < _MOSTLY_PAUSED and (~inside).sum() >= FEWEST:
            kept.append((at[~inside], length))  # a shorter message, and a part of the next
    return kept


def of_several_blocks(
    ways: list[tuple[Places, int]], bursts: Places, data: Frames
) -> list[tuple[Places, int]]:
    """Give frames that begin after a pause, or are nearly all there is, with one inside where none begins.

    A computer that reads at regular times cuts each frame alike, or every second one. A message of its own
    would begin with a byte that is the same each time, and looks like a beginning.

    :param data: all bytes of the stream, shape (n,)
    """
    found = []
    for at, length in ways:
        inside = np.searchsorted(bursts, at, side="right")
        is_cut = np.append(bursts, data.size)[inside] < at + length
        if at.size * length < _NEARLY_ALL * data.size:
            is_cut &= np.isin(at, bursts)
        if is_cut.mean() > _BEHIND_PAUSES:
            tally = np.bincount(data[bursts[inside[is_cut]]])
            if tally.max() < _STAYS * tally.sum() or not is_header_like(int(tally.argmax())):
                found.append((at, length))
    return found
