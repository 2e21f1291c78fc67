"""Stirring that swings the display faster than water: one move of the hand, not a vessel for each swing.

A swing by itself looks like a step, and where it ends is no level. To and fro, one after another, they are
told together; and only where the display was before, and where it is after, tells whether anything stayed.
"""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.runs import runs_of
from logger.curve.readings.timebase import Grid
from logger.curve.taken_out.steps import Move, move_between

LEAST_SWING_G, LEAST_SWING_G_S = 2.0, 4.0
"""Of a swing down: no water leaves the scale, and what is less does no harm."""
LONGEST_S, LONGEST_BACK_S = 0.9, 1.6
"""Of swings one way; and from the end of one down to the beginning of the next."""
SETTLES_S = 1.5
REACH_S = 10.0
"""So far beside what moves faster than water the slower swings are looked for."""
OUTSIDE_S = 1.0
"""What begins so long before the swings, or is over so long after them, is more than a swing."""


def swing_that_holds(run: list[Move], grid: Grid, noise_g: float) -> Move | None:
    """Give the one move that holds a run of them, where they are swings that leave nothing behind.

    :param run: in order of time
    :param grid: the curve as it was shown, tares taken out
    :param noise_g: standard deviation of a reading
    """
    start_s, end_s = run[0].start_s, run[-1].end_s
    reach = round(REACH_S / grid.step_s)
    first, last = grid.time_s.searchsorted([start_s, end_s]).tolist()
    since = max(first - reach, 0)
    for begin, end in _swinging(grid.weight_g[since : last + reach], grid.step_s, noise_g):
        whole = move_between(grid, since + begin, since + end, grid.weight_g.size)
        if whole.returns and whole.start_s - OUTSIDE_S < start_s and end_s < whole.end_s + OUTSIDE_S:
            return whole
    return None


def _swinging(weight: Floats, step_s: float, noise_g: float) -> list[tuple[int, int]]:
    """Find where the display falls and rises again, twice or more: from before the first swing to where the
    last one has settled, as indices.
    """
    steps_g = weight[1:] - weight[:-1]
    falls = runs_of(steps_g < -max(LEAST_SWING_G_S * step_s, 2.0 * noise_g))
    least_g = max(LEAST_SWING_G, 6.0 * noise_g)
    falls = [(first, last + 1) for first, last in falls if weight[first] - weight[last + 1] > least_g]
    chains: list[list[tuple[int, int]]] = []
    for first, last in falls:
        goes_on = chains and (first - chains[-1][-1][1]) * step_s < LONGEST_BACK_S
        if goes_on and weight[first] - weight[chains[-1][-1][1]] > least_g:
            chains[-1].append((first, last))
        else:
            chains.append([(first, last)])
    return [
        _whole(weight, step_s, chain, noise_g)
        for chain in chains
        if len(chain) > 1 and _lasts(chain) * step_s < LONGEST_S
    ]


def _lasts(falls: list[tuple[int, int]]) -> int:
    """How long a swing lasts, in steps: there is one up between any two down."""
    return max(round((falls[-1][1] - falls[0][0]) / (2 * len(falls) - 1)), 1)


def _whole(weight: Floats, step_s: float, falls: list[tuple[int, int]], noise_g: float) -> tuple[int, int]:
    """Reach half a swing to and fro back and on, and on to where the display has settled."""
    first, last, half, size = falls[0][0], falls[-1][1], _lasts(falls), weight.size
    calm_g = max(3.0 * noise_g, LEAST_SWING_G_S * step_s)
    until = min(last + half + round(SETTLES_S / step_s), size - 1)
    last = min(last + half, size - 1)
    moving = np.abs(np.diff(weight[last : until + 1])) > calm_g
    settled = int(np.argmin(moving)) if moving.size and not moving.all() else moving.size
    return max(first - half, 0), min(last + settled + 1, size - 1)
