"""When readings were taken, as against when they arrived.

A scale samples at a steady pace; its readings arrive late by at least the way's shortest time and often by
more, several at once, and some never. Without a clock of its own, each burst is spread over the time since
the burst before it (``timebase.unburst``). With a clock of its own, that clock's offset and rate against the
host's are found by laying a line under how late the readings are: those that came fastest are to be believed.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.timebase import unburst, usual_interval_s

ENVELOPE_S = 6.0
"""Over so long a stretch at least one reading comes without delay, and no clock drifts noticeably."""


def sampling_times(arrival_s: object, device_time_s: object = None) -> Floats:
    """Work out when readings were taken.

    :param arrival_s: arrival on the host's clock, seconds, not falling, shape (n,)
    :param device_time_s: the device's own clock, seconds, shape (n,), NaN where a reading has none; or None
    :returns: the times on the host's clock, not falling, none later than its arrival; shape (n,)
    """
    arrival = np.asarray(arrival_s, dtype=np.float64)
    if arrival.size < 3:
        return arrival.copy()
    device = None if device_time_s is None else np.asarray(device_time_s, dtype=np.float64)
    if device is not None and np.isfinite(device).all():
        return _by_clock(arrival, device)
    return np.minimum(unburst(arrival, usual_interval_s(arrival)), arrival)


def _by_clock(arrival: Floats, device: Floats) -> Floats:
    """Take the device's clock, moved onto the host's; anew wherever it was set or started again."""
    jumps = np.abs(np.diff(device) - np.diff(arrival)) > np.maximum(5.0, 0.5 * np.diff(arrival))
    starts = np.concatenate(([0], np.flatnonzero(jumps | (np.diff(device) < 0)) + 1, [arrival.size]))
    taken = np.concatenate(
        [
            device[first:last] + _envelope(device[first:last], (arrival - device)[first:last])
            for first, last in pairwise(starts)
        ]
    )
    return _in_order(taken, arrival)


def _envelope(at_s: Floats, late_s: Floats) -> Floats:
    """The lower edge of how late readings are, followed over time by a straight line through its lowest."""
    block = np.floor((at_s - at_s[0]) / ENVELOPE_S).astype(int)
    lowest = np.array([first + int(np.argmin(late_s[first : last + 1])) for first, last in _blocks(block)])
    if lowest.size < 3:
        return np.full(at_s.size, late_s.min())
    slope, level = np.polyfit(at_s[lowest], late_s[lowest], 1)
    line = level + slope * at_s
    return np.asarray(line + min(0.0, float(np.min(late_s - line))))


def _blocks(block: np.ndarray[tuple[int], np.dtype[np.int_]]) -> list[tuple[int, int]]:
    breaks = np.flatnonzero(np.diff(block)) + 1
    firsts = np.concatenate(([0], breaks))
    lasts = np.concatenate((breaks, [block.size])) - 1
    return [(int(first), int(last)) for first, last in zip(firsts, lasts, strict=True)]


def _in_order(taken: Floats, arrival: Floats) -> Floats:
    return np.asarray(np.minimum(np.maximum.accumulate(taken), arrival))
