"""Knocks and stirring: the weight leaves the curve and comes back to it, so nothing has arrived.

A running median follows any curve that only rises, corners included, and ignores what comes back within
half its width. What is left over beyond the noise is a disturbance.
"""

from __future__ import annotations

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from logger.curve.brew import Event, EventKind, Floats
from logger.curve.readings.runs import Flags, runs_of
from logger.curve.readings.timebase import Grid

WIDTH_S = 3.0
LEAST_KNOCK_G = 0.8
"""Less than that is also what a stream's own pressure leaves when it stops."""
LEAST_STIR_G = 0.25
HUMP_S, LOWEST, FEWEST = 4.0, 3, 9
"""A hand or a spoon that rests on the scale comes and goes within so long, on a slow scale as well; the level
beside it is the third lowest reading, as one or two may be a knock's, of nine at the least."""


def find_disturbances(
    grid: Grid, noise_g: float, grid_noise_g: float, step_g: float, delay_s: float
) -> tuple[Event, ...]:
    """Find knocks (once, away and back) and stirring (to and fro for a while).

    :param grid: the curve with steps taken out
    :param noise_g: of one reading
    :param grid_noise_g: of one value of the grid
    :param delay_s: the scale's lag, for how long a knock rings on
    """
    half = max(round(0.5 * WIDTH_S / grid.step_s), 2)
    if grid.weight_g.size < 4 * half:
        return ()
    away = grid.weight_g - running_median(grid.weight_g, half)
    knock_g = max(5.0 * noise_g, 1.3 * step_g, LEAST_KNOCK_G)
    stir_g = _least_stir_g(grid_noise_g, step_g)
    bridge = max(round(0.9 / grid.step_s), 1)
    found = [
        _event(grid, away, first, last, stir_g, delay_s)
        for first, last in runs_of(np.abs(away) > stir_g, bridge)
        if _is_stirring(away[first : last + 1], stir_g, grid.step_s)
        or np.abs(away[first : last + 1]).max() > knock_g
    ]
    return _merged(found)


def shaken(grid: Grid, events: tuple[Event, ...], grid_noise_g: float, step_g: float) -> tuple[Event, ...]:
    """Take knocks and stirring that run into each other as one, and name it by the whole of it.

    :param grid: the curve as it was, disturbances and all
    :param events: knocks and stirring, each found by the part of it that it shows
    """
    merged = _merged(sorted(events, key=lambda event: event.start_s))
    if not merged:
        return ()
    half = max(round(0.5 * WIDTH_S / grid.step_s), 2)
    away = grid.weight_g - running_median(grid.weight_g, half)
    stir_g = _least_stir_g(grid_noise_g, step_g)
    named = []
    for event in merged:
        within = away[(grid.time_s >= event.start_s) & (grid.time_s <= event.end_s)]
        stirring = event.kind == "stir" or _is_stirring(within, stir_g, grid.step_s)
        named.append(Event("stir" if stirring else "knock", event.start_s, event.end_s, 0.0))
    return tuple(named)


def _least_stir_g(grid_noise_g: float, step_g: float) -> float:
    return max(4.5 * grid_noise_g, 1.3 * step_g, LEAST_STIR_G)


def _is_stirring(away: Floats, limit_g: float, step_s: float) -> bool:
    """To and fro, for a while."""
    turns = int(np.count_nonzero(np.diff(np.sign(away[np.abs(away) > limit_g]))))
    return away.size * step_s > 0.9 and turns >= 3


def without_disturbances(time_s: Floats, weight_g: Floats, events: tuple[Event, ...]) -> tuple[Floats, Flags]:
    """Draw a straight line through each disturbance.

    :returns: the weights, and the samples that were replaced
    """
    replaced = np.zeros(time_s.size, dtype=np.bool_)
    for event in events:
        replaced |= (time_s >= event.start_s) & (time_s <= event.end_s)
    if replaced.all() or not replaced.any():
        return weight_g, replaced
    weight = weight_g.copy()
    weight[replaced] = np.interp(time_s[replaced], time_s[~replaced], weight_g[~replaced])
    return weight, replaced


def running_median(values: Floats, half: int) -> Floats:
    """Median over ``2 * half + 1`` values, ends held, shape as given."""
    padded = np.concatenate((np.full(half, values[0]), values, np.full(half, values[-1])))
    blocks = sliding_window_view(padded, 2 * half + 1)
    # In slices, so that a day's recording does not need a day's windows in memory at once.
    return np.concatenate(
        [np.partition(blocks[at : at + 8192], half, axis=1)[:, half] for at in range(0, values.size, 8192)]
    )


def _merged(events: list[Event]) -> tuple[Event, ...]:
    """Take disturbances that run into each other as one."""
    merged: list[Event] = []
    for event in events:
        if merged and event.start_s <= merged[-1].end_s + 0.5:
            kind: EventKind = "stir" if "stir" in (event.kind, merged[-1].kind) else "knock"
            merged[-1] = Event(kind, merged[-1].start_s, max(merged[-1].end_s, event.end_s), 0.0)
        else:
            merged.append(event)
    return tuple(merged)


def _event(grid: Grid, away: Floats, first: int, last: int, limit_g: float, delay_s: float) -> Event:
    stirring = _is_stirring(away[first : last + 1], limit_g, grid.step_s)
    foot, back = first, last
    if not stirring and away[first : last + 1].max() > limit_g:
        foot, back = _whole_hump(grid, first, last, limit_g)
    start_s = float(grid.time_s[foot]) - 2.0 * grid.step_s
    end_s = max(float(grid.time_s[last]) + delay_s, float(grid.time_s[back])) + 2.0 * grid.step_s
    return Event("stir" if stirring else "knock", start_s, end_s, 0.0)


def _whole_hump(grid: Grid, first: int, last: int, limit_g: float) -> tuple[int, int]:
    """Follow what came and went to both its feet; if it is wide the median sees no more than the top of it.

    Water does not leave the scale: what is gone again was none from where the weight rose above what it
    comes back to.
    """
    reach = round(HUMP_S / grid.step_s)
    after = grid.weight_g[last : last + reach]
    if min(reach, after.size) < FEWEST:
        return first, last
    back_g = float(np.partition(after, LOWEST - 1)[LOWEST - 1]) + limit_g
    if grid.weight_g[first] < back_g + limit_g:
        return first, last
    since = max(first - reach, 0)
    before = np.flatnonzero(grid.weight_g[since : first + 1] <= back_g)
    if not before.size:
        return first, last
    return since + int(before[-1]), last + int(np.argmax(after <= back_g))
