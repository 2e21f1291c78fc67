"""Whether the load on an unknown instrument has changed and come to rest, while nothing is decoded yet.

Some number among the bytes must stand still now, have stood still at the load before, and be elsewhere. A
counter or a clock never stands still; a battery moves by a step or two.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drivers.learn.captures.capture import Arrival
from drivers.learn.numbers.numerals import all_numbers
from drivers.learn.packets.arrays import Floats, Frames
from drivers.learn.packets.framing import frame_kinds, is_text, line_kinds, stream_of
from drivers.learn.packets.kinds import Kind, kinds_of

WINDOW_S = 1.2
_FURTHER = 10.0
_FEWEST = 6
_LOOKED_BACK_S = 40.0


def has_settled(arrivals: Sequence[Arrival], since_s: float, now_s: float, *, is_serial: bool) -> bool:
    """Say whether another load than before lies still on the pan.

    :param since_s: when the load before was last at rest
    :param now_s: the present, on the arrivals' clock
    """
    # However long the brewer has taken, what came before is needed to see that it is another load.
    recent = [
        one for one in arrivals
        if one.time_s >= now_s - _LOOKED_BACK_S or since_s - 2 * WINDOW_S <= one.time_s <= since_s
    ]  # fmt: skip
    return any(_moved_to(kind, since_s, now_s) for kind in _kinds(recent, is_serial))


def is_still(arrivals: Sequence[Arrival], since_s: float, now_s: float) -> bool:
    """Say whether enough has arrived to take the first load, the empty pan, for settled."""
    count = sum(1 for one in arrivals if one.time_s >= since_s)
    return now_s - since_s >= 2.0 * WINDOW_S and count >= _FEWEST


def _kinds(arrivals: Sequence[Arrival], is_serial: bool) -> list[Kind]:
    if not arrivals:
        return []
    if is_serial:
        joined = stream_of(0, [(one.time_s, one.data) for one in arrivals])
        kinds = line_kinds(joined) if is_text(joined.data) else frame_kinds(joined)
        return [
            kind for kind, _ in zip((each for each in kinds if not each.selectors), range(4), strict=False)
        ]
    found: list[Kind] = []
    for stream in sorted({one.stream for one in arrivals}):
        mine = [one for one in arrivals if one.stream == stream]
        times = np.array([one.time_s for one in mine])
        found += [
            kind for kind in kinds_of(stream, times, [one.data for one in mine]) if len(kind.selectors) < 2
        ]
    return found


def _moved_to(kind: Kind, since_s: float, now_s: float) -> bool:
    before = _rows(kind, since_s - WINDOW_S, since_s)
    middle = _rows(kind, now_s - 2 * WINDOW_S, now_s - WINDOW_S)
    now = _rows(kind, now_s - WINDOW_S, now_s + 1e-6)
    if min(len(before), len(middle), len(now)) < _FEWEST:
        return False
    frames = np.concatenate((before, middle, now))
    moves = np.array([np.unique(column).size > 1 for column in frames.T])
    if not moves.any():
        return False
    first, second = len(before), len(before) + len(middle)
    for numbers, columns in all_numbers(frames, moves):
        step = 1e-3 if numbers[0].encoding in ("float", "ascii") else 1.0
        if _has_moved(columns[:first], columns[first:second], columns[second:], step).any():
            return True
    return False


def _rows(kind: Kind, first_s: float, last_s: float) -> Frames:
    return kind.frames[np.searchsorted(kind.time_s, first_s) : np.searchsorted(kind.time_s, last_s)]


def _has_moved(before: Floats, middle: Floats, now: Floats, step: float) -> np.ndarray:
    """Say which numbers stood still before, stand still now, and are far from where they were."""
    with np.errstate(invalid="ignore"):
        spread = np.maximum(np.maximum(_spread(before), _spread(now)), step)
        apart = np.abs(np.median(now, axis=0) - np.median(before, axis=0))
        creep = np.abs(np.median(now, axis=0) - np.median(middle, axis=0))
        return np.asarray((apart > _FURTHER * spread) & (creep <= 0.4 * np.maximum(_spread(now), 2.0 * step)))


def _spread(part: Floats) -> Floats:
    ordered = np.sort(part, axis=0)
    cut = max(1, len(part) // 12)
    return np.asarray(ordered[-1 - cut] - ordered[cut])
