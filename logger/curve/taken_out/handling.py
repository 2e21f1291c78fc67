"""A hand on the brewer for a while: one event, not one for every move of the display.

Who presses a plunger or wipes the scale moves the display up and down, faster than water, for seconds. To the
brewer that is one thing; and only the whole of it says whether anything stayed on the pan.
"""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Event
from logger.curve.readings.median import median
from logger.curve.readings.timebase import Grid
from logger.curve.taken_out.steps import Move, event_of
from logger.curve.taken_out.swings import swing_that_holds

MOST_APART_S = 2.0
FEWEST_MOVES = 4
SHORTEST_S = 3.0
LEVEL_OVER_S = 0.6


def gathered(
    moves: tuple[Move, ...], grid: Grid, noise_g: float, tares: tuple[Event, ...] = ()
) -> tuple[tuple[Move, ...], tuple[Event, ...]]:
    """Take moves that run into each other as one.

    :param grid: the curve as it was shown, tares taken out
    :param noise_g: standard deviation of a reading
    :param tares: whoever presses the key has let go of the brewer: what moves after it is another thing
    :returns: the moves, each run of many or of swings as one; and an event for each press that left nothing
    """
    runs: list[list[Move]] = []
    for move in moves:
        if runs and _goes_on(runs[-1][-1], move, tares):
            runs[-1].append(move)
        else:
            runs.append([move])
    kept: list[Move] = []
    presses: list[Event] = []
    for run in runs:
        swing = swing_that_holds(run, grid, noise_g)
        if swing is not None:
            if kept[-1:] != [swing]:
                kept.append(swing)
            continue
        if len(run) < FEWEST_MOVES or run[-1].end_s - run[0].start_s < SHORTEST_S:
            kept.extend(run)
            continue
        whole = _whole(run, grid)
        kept.append(whole)
        if whole.returns:
            presses.append(Event("press", whole.start_s, whole.end_s, 0.0))
    return tuple(kept), tuple(presses)


def _goes_on(before: Move, move: Move, tares: tuple[Event, ...]) -> bool:
    """Whether a move belongs to the same hand as the one before it."""
    let_go = any(before.start_s < tare.start_s <= move.start_s for tare in tares)
    return move.start_s - before.end_s < MOST_APART_S and not let_go


def other_than(presses: tuple[Event, ...], events: tuple[Event, ...]) -> tuple[Event, ...]:
    """Leave out what lies within a press: it is part of it."""
    return tuple(
        event
        for event in events
        if not any(event.start_s < press.end_s and event.end_s > press.start_s for press in presses)
    )


def events_of(moves: tuple[Move, ...]) -> tuple[Event, ...]:
    """Name the moves after which something stayed, or left."""
    return tuple(event_of(move) for move in moves if not move.returns)


def _whole(run: list[Move], grid: Grid) -> Move:
    start_s, end_s = run[0].start_s, run[-1].end_s
    first, last = (int(at) for at in np.searchsorted(grid.time_s, [start_s, end_s]))
    near = max(round(LEVEL_OVER_S / grid.step_s), 1)
    before_g = median(grid.weight_g[max(first - near, 0) : max(first, 1)])
    last = min(last, grid.time_s.size - 1)
    away_g = grid.weight_g[first : last + 1] - before_g
    change_g = median(grid.weight_g[last : last + near]) - before_g
    return Move(start_s, end_s, change_g, float(away_g[np.argmax(np.abs(away_g))]))
