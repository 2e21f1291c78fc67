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
STILL_S = 0.3
"""What rests for less is a swing that turns."""
OUTSIDE_S = 1.0
"""What begins so long before the swings, or is over so long after them, is more than a swing."""


def find_swings(grid: Grid, noise_g: float) -> list[Move]:
    """Find where the display falls and rises again, twice or more, and is then where it was: each from before
    the first swing to where the last one has settled.

    :param grid: the curve as it was shown, tares taken out
    :param noise_g: standard deviation of a reading
    """
    weight, step_s = grid.weight_g, grid.step_s
    falling = weight[1:] - weight[:-1] < -max(LEAST_SWING_G_S * step_s, 2.0 * noise_g)
    least_g = max(LEAST_SWING_G, 6.0 * noise_g)
    chains: list[list[tuple[int, int]]] = []
    for first, before in runs_of(falling):
        last = before + 1
        if weight[first] - weight[last] <= least_g:
            continue
        goes_on = chains and (first - chains[-1][-1][1]) * step_s < LONGEST_BACK_S
        if goes_on and weight[first] - weight[chains[-1][-1][1]] > least_g:
            chains[-1].append((first, last))
        else:
            chains.append([(first, last)])
    swings = [chain for chain in chains if len(chain) > 1 and _lasts(chain) * step_s < LONGEST_S]
    wholes = [move_between(grid, *_whole(weight, step_s, each, noise_g), 0, weight.size) for each in swings]
    return [whole for whole in wholes if whole.returns]


def that_holds(swings: list[Move], run: list[Move]) -> Move | None:
    """Give the one of some swings that holds a run of moves.

    :param run: in order of time
    """
    start_s, end_s = run[0].start_s + OUTSIDE_S, run[-1].end_s - OUTSIDE_S
    return next((each for each in swings if each.start_s < start_s and end_s < each.end_s), None)


def _lasts(falls: list[tuple[int, int]]) -> int:
    """How long a swing lasts, in steps: there is one up between any two down."""
    return max(round((falls[-1][1] - falls[0][0]) / (2 * len(falls) - 1)), 1)


def _whole(weight: Floats, step_s: float, falls: list[tuple[int, int]], noise_g: float) -> tuple[int, int]:
    """Reach half a swing to and fro back and on, and on to where the display has settled."""
    first, last, half, size = falls[0][0], falls[-1][1], _lasts(falls), weight.size
    calm_g = max(3.0 * noise_g, LEAST_SWING_G_S * step_s)
    until = min(last + half + round(SETTLES_S / step_s), size - 1)
    last = min(last + half, size - 1)
    still = max(round(STILL_S / step_s), 1)
    moving = np.abs(np.diff(weight[last : until + 1])) > calm_g
    settled = next((rest for rest, until in runs_of(~moving) if until - rest + 1 >= still), moving.size)
    return max(first - half, 0), min(last + settled + 1, size - 1)
