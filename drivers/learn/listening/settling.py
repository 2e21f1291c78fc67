"""Whether the load on an unknown instrument has changed and come to rest, while nothing is decoded yet.

Some number among the bytes must stand still now, have stood still at the load before, and be elsewhere. A
counter or a clock never stands still; a battery moves by a step or two. Of what falls silent at rest, the
last packet stands.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from drivers.learn.captures.capture import Arrival
from drivers.learn.numbers.numerals import all_numbers
from drivers.learn.packets.arrays import Floats, Frames
from drivers.learn.packets.framing import frame_kinds, is_text, line_kinds, stream_of
from drivers.learn.packets.kinds import Kind, falls_silent, kinds_of, usual_gap_s

WINDOW_S = 1.2
_FURTHER = 10.0
_FEWEST = 6
_LOOKED_BACK_S = 40.0
_LAST_OF_STREAM = 48
"""Arrivals of each stream that are kept however old they are: what is silent at rest sent them long ago."""

_FEWEST_SAID, _SILENT_GAPS = 4, 10.0
"""Packets by which a stream that is silent at rest says that the weight has changed: a key takes one or two;
and how long it is silent then, in usual times between two of them."""

_LEFT_ALONE_S = 6.0
"""How long an empty pan is listened to of which nothing more comes."""


def has_settled(arrivals: Sequence[Arrival], since_s: float, now_s: float, *, is_serial: bool) -> bool:
    """Say whether another load than before lies still on the pan.

    :param since_s: when the load before was last at rest
    :param now_s: the present, on the arrivals' clock
    """
    if any(_has_spoken(times_s, since_s, now_s) for times_s in _times_of_streams(arrivals)):
        return True
    recent = _recent(arrivals, since_s, now_s)
    return any(_moved_to(kind, since_s, now_s) for kind in _kinds(recent, is_serial))


def _times_of_streams(arrivals: Sequence[Arrival]) -> list[Floats]:
    times_s: dict[int, list[float]] = {}
    for one in arrivals:
        times_s.setdefault(one.stream, []).append(one.time_s)
    return [np.array(each_s) for each_s in times_s.values()]


def _has_spoken(times_s: Floats, since_s: float, now_s: float) -> bool:
    """Say whether a stream was silent, then sent several packets soon one after another, and is silent again.

    :param times_s: when something arrived by it
    """
    before, after = times_s[times_s <= since_s], times_s[times_s > since_s]
    if before.size == 0 or after.size < _FEWEST_SAID:
        return False
    silent_s = max(2.0 * WINDOW_S, _SILENT_GAPS * usual_gap_s(after))
    return bool(since_s - before[-1] > silent_s and now_s - after[-1] > silent_s)


def is_still(arrivals: Sequence[Arrival], since_s: float, now_s: float) -> bool:
    """Say whether enough has arrived to take the first load, the empty pan, for settled.

    What sends only as the weight changes has told once what it shows, and nothing more comes.
    """
    count = sum(1 for one in arrivals if one.time_s >= since_s)
    listened_s = now_s - since_s
    return (listened_s >= 2.0 * WINDOW_S and count >= _FEWEST) or bool(
        arrivals and listened_s >= _LEFT_ALONE_S
    )


def _recent(arrivals: Sequence[Arrival], since_s: float, now_s: float) -> list[Arrival]:
    """Leave out what tells nothing of the load before nor of the present one.

    However long the brewer has taken, what came before is needed to see that it is another load.
    """
    later, before = Counter[int](), Counter[int]()
    recent = []
    for one in reversed(arrivals):
        is_before = one.time_s <= since_s
        count = before if is_before else later
        count[one.stream] += 1
        is_near = one.time_s >= now_s - _LOOKED_BACK_S or (is_before and one.time_s >= since_s - 2 * WINDOW_S)
        if is_near or count[one.stream] <= _LAST_OF_STREAM:
            recent.append(one)
    return recent[::-1]


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
    """Give the packets of a stretch of time; where they fell silent, the last one for those missing."""
    first, last = (int(np.searchsorted(kind.time_s, time_s)) for time_s in (first_s, last_s))
    rows = np.arange(first, last)
    whole = kind.whole if isinstance(kind.whole, Kind) else kind
    if rows.size < _FEWEST and last and falls_silent(whole.time_s, float(kind.time_s[last - 1]), last_s):
        rows = np.append(rows, np.full(_FEWEST - rows.size, last - 1))
    return np.asarray(kind.frames[rows])


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
