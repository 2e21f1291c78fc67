"""Curves made fit to be drawn: counted from the brew's start, thinned, and broken where there is no data."""

from __future__ import annotations

import numpy as np

from logger.curve import Analysis, Event, Floats

MOST_POINTS = 2_000


def thinned(time_s: Floats, values: Floats, most: int = MOST_POINTS) -> tuple[Floats, Floats]:
    """Keep at most so many points, with each stretch's lowest and highest, so that no peak is lost.

    :param time_s: shape (n,)
    :param values: shape (n,); NaN breaks the line and stays
    """
    if len(time_s) <= most:
        return time_s, values
    stretches = np.array_split(np.arange(len(time_s)), (most - 2) // 3)
    kept = {0, len(time_s) - 1}
    for stretch in stretches:
        part = values[stretch]
        missing = np.isnan(part)
        if missing.any():
            kept.add(int(stretch[np.argmax(missing)]))
        if not missing.all():
            kept.update((int(stretch[np.nanargmin(part)]), int(stretch[np.nanargmax(part)])))
    index = np.array(sorted(kept))
    return time_s[index], values[index]


def brew_curves(analysis: Analysis) -> tuple[Floats, Floats, Floats]:
    """Give time from the brew's start, weight and flow, NaN where the recording has a gap."""
    time_s = np.asarray(analysis.time_s, dtype=np.float64)
    in_gap = _in_gaps(time_s, analysis.events)
    weight_g = np.where(in_gap, np.nan, analysis.weight_g)
    flow_g_s = np.where(in_gap, np.nan, analysis.flow_g_s)
    return time_s - zero_s(analysis), weight_g, flow_g_s


def zero_s(analysis: Analysis) -> float:
    """Say where shown times count from: the brew's start, or the recording's where there is no brew."""
    if analysis.start_s is not None:
        return analysis.start_s
    return float(analysis.time_s[0]) if len(analysis.time_s) else 0.0


def between(time_s: Floats, values: Floats, low_s: float, high_s: float) -> tuple[Floats, Floats]:
    """Keep what lies between two times."""
    kept = (time_s >= low_s) & (time_s <= high_s)
    return time_s[kept], values[kept]


def broken_at_silence(time_s: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Break a line of single readings where the device was silent for five times its usual interval."""
    if len(time_s) < 3:
        return time_s, values
    steps_s = np.diff(time_s)
    silent = np.flatnonzero(steps_s > max(5.0 * float(np.median(steps_s)), 3.0))
    middles_s = (time_s[silent] + time_s[silent + 1]) / 2
    return np.insert(time_s, silent + 1, middles_s), np.insert(values, silent + 1, np.nan)


def _in_gaps(time_s: Floats, events: tuple[Event, ...]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    in_gap = np.zeros(len(time_s), dtype=np.bool_)
    for event in events:
        if event.kind == "gap":
            in_gap |= (time_s > event.start_s) & (time_s < event.end_s)
    return in_gap
