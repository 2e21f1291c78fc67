"""Knocks and stirring: the weight leaves the curve and comes back to it, so nothing has arrived.

A running median follows any curve that only rises, corners included, and ignores what comes back within
half its width. What is left over beyond the noise is a disturbance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from logger.curve.brew import Event, EventKind, Floats
from logger.curve.readings.runs import Flags, runs_of
from logger.curve.readings.timebase import Grid
from logger.curve.taken_out.jolts import find_jolts
from logger.curve.taken_out.steps import Move

WIDTH_S = 3.0
LEAST_KNOCK_G = 0.8
"""Less than that is also what a stream's own pressure leaves when it stops."""
LEAST_STIR_G = 0.25
HUMP_S, LOWEST, FEWEST = 4.0, 3, 9
"""A hand or a spoon that rests on the scale comes and goes within so long, on a slow scale as well; the level
beside it is the third lowest reading, as one or two may be a knock's, of nine at the least."""
BENDS, LEFT_G = 2.0, 0.1
"""What rises by so many times what counts as stirring is a pour that bends the median; and less than the
other of what a swing leaves on the display moves no level."""
_MOVE_KNOWN = 0.015
"""Share of itself to which a move is known that still goes on, or that dripped."""
_AT_ONCE = 8192
"""So many windows are sorted at a time."""


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
    knock_g = max(5.0 * noise_g, 1.3 * step_g, LEAST_KNOCK_G)
    stir_g = _least_stir_g(grid_noise_g, step_g)
    away = departures(grid.weight_g, half, stir_g)
    bridge = max(round(0.9 / grid.step_s), 1)
    found: list[Event] = []
    for first, last in runs_of(np.abs(away) > stir_g, bridge):
        within = away[first : last + 1]
        if _is_stirring(within, stir_g, grid.step_s):
            found.append(_stirring(grid, first, last, stir_g, delay_s))
        elif max(float(within.max()), -float(within.min())) > knock_g:
            whole = _whole_hump(grid, first, last, stir_g) if within.max() > stir_g else (first, last)
            found.append(_event(grid, "knock", (first, last), whole, delay_s))
    found += find_jolts(grid, noise_g, knock_g, delay_s)
    return _merged(sorted(found, key=lambda event: event.start_s))


def that_come_back(events: tuple[Event, ...], moves: Sequence[Move], grid: Grid) -> tuple[Event, ...]:
    """Leave out knocks that are a stream, which rises until something is lifted or put on, and seems to come
    back as the level is known no better after that.

    :param grid: the curve with those moves taken out
    """
    return tuple(
        event
        for event in events
        if event.kind != "knock" or not any(_rises_into(grid, event, move) for move in moves)
    )


def _rises_into(grid: Grid, event: Event, move: Move) -> bool:
    """Whether the curve rises from where an event begins to where it comes back, while a move goes on, by
    more than it lies above that before the move; and lies above it by no more than the move may be off.
    """
    if not event.start_s < move.start_s < event.end_s < move.end_s:
        return False
    first, begins, last = grid.time_s.searchsorted([event.start_s, move.start_s, event.end_s]).tolist()
    comes_back_g = float(grid.weight_g[min(last, grid.time_s.size - 1)])
    above_g = float(grid.weight_g[first : begins + 1].max()) - comes_back_g
    return above_g < min(_MOVE_KNOWN * abs(move.change_g), comes_back_g - float(grid.weight_g[first]))


def shaken(grid: Grid, events: tuple[Event, ...], grid_noise_g: float, step_g: float) -> tuple[Event, ...]:
    """Take knocks and stirring that run into each other as one, and name it by the whole of it.

    :param grid: the curve as it was, disturbances and all
    :param events: knocks and stirring, each found by the part of it that it shows
    """
    stir_g = _least_stir_g(grid_noise_g, step_g)
    named = []
    for event in _merged(sorted(events, key=lambda event: event.start_s)):
        stirring = event.kind == "stir" or _is_stirring(_away(grid, event, stir_g), stir_g, grid.step_s)
        named.append(Event("stir" if stirring else "knock", event.start_s, event.end_s, 0.0))
    return tuple(named)


def _away(grid: Grid, event: Event, least_g: float) -> Floats:
    """How far the curve departs while an event lasts."""
    half = max(round(0.5 * WIDTH_S / grid.step_s), 2)
    first = int(grid.time_s.searchsorted(event.start_s))
    after = int(grid.time_s.searchsorted(event.end_s, "right"))
    since = max(first - half, 0)
    return departures(grid.weight_g[since : after + half], half, least_g)[first - since : after - since]


def _least_stir_g(grid_noise_g: float, step_g: float) -> float:
    return max(4.5 * grid_noise_g, 1.3 * step_g, LEAST_STIR_G)


def _is_stirring(away: Floats, limit_g: float, step_s: float) -> bool:
    """To and fro, for a while."""
    above = away[np.abs(away) > limit_g] > 0.0
    return away.size * step_s > 0.9 and int(np.count_nonzero(above[1:] != above[:-1])) >= 3


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


def departures(values: Floats, half: int, least: float) -> Floats:
    """By how much each value departs from the median of those within ``half`` places, ends held, shape (n,);
    0 where that is no more than ``least``.

    Where nothing before a value lies so much above it, and nothing after it so much below, half of them are
    no more than that above it and half no more than that below: nor is the median further away.
    """
    highest, lowest = _highest_lately(np.array((values, -values[::-1])), half)
    fell, falls = highest - values > least, values + lowest[::-1] > least
    places, away = (fell | falls).nonzero()[0], np.zeros(values.size)
    if not places.size:
        return away
    padded = np.concatenate((np.full(half, values[0]), values, np.full(half, values[-1])))
    within = np.arange(2 * half + 1)
    # In slices, so that a day's recording does not need a day's windows in memory at once.
    for first in range(0, places.size, _AT_ONCE):
        some = places[first : first + _AT_ONCE]
        windows = padded.take(some[:, None] + within)
        away[some] = values[some] - np.partition(windows, half, axis=1)[:, half]
    return away


def _highest_lately(values: Floats, reach: int) -> Floats:
    """The highest of each value and of ``reach`` before it, row by row; by windows that double in width.

    :param values: shape (rows, n); used up
    """
    width = 1
    while width <= reach:
        further = min(width, reach + 1 - width)
        np.maximum(values[:, further:], values[:, :-further], out=values[:, further:])
        width += further
    return values


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


def _event(
    grid: Grid, kind: EventKind, seen: tuple[int, int], whole: tuple[int, int], delay_s: float
) -> Event:
    """Give what was seen between two grid indices, and whose feet are at two others."""
    start_s = float(grid.time_s[whole[0]]) - 2.0 * grid.step_s
    end_s = max(float(grid.time_s[seen[1]]) + delay_s, float(grid.time_s[whole[1]])) + 2.0 * grid.step_s
    return Event(kind, start_s, end_s, 0.0)


def _stirring(grid: Grid, first: int, last: int, least_g: float, delay_s: float) -> Event:
    """Give the stirring that was seen between two grid indices, until the display has forgotten each swing.

    Stirring goes to and fro. Where the weight falls no more, a pour that begins soon bends the curve, and
    swings within the median's reach let the bend seem a part of them.
    """
    seen = _event(grid, "stir", (first, last), (first, last), delay_s)
    weight = grid.weight_g[first : last + 1]
    steps_g = np.diff(weight)
    falls = [(begin, end + 1) for begin, end in runs_of(steps_g < 0.0)]
    falls = [(begin, end) for begin, end in falls if weight[begin] - weight[end] > least_g]
    if len(falls) < 2:
        return seen
    swing = (falls[-1][1] - falls[0][0]) / (2 * len(falls) - 1)
    over_s = [
        (begin + int(steps_g[begin:end].argmin()) + 0.5 + swing) * grid.step_s
        + delay_s * math.log(max(0.5 * float(weight[begin] - weight[end]) / LEFT_G, 1.0))
        for begin, end in falls
    ]
    over = min(first + math.ceil(max(over_s) / grid.step_s), last)
    ahead = min(last + round(0.5 * WIDTH_S / grid.step_s), grid.weight_g.size - 1)
    if grid.weight_g[ahead] - grid.weight_g[over] <= BENDS * least_g:  # nothing begins there
        return seen
    return Event("stir", seen.start_s, min(seen.end_s, float(grid.time_s[first]) + max(over_s)), 0.0)


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
