"""Water that seems to be a step: it came faster than most, or its readings came in bursts."""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.median import median
from logger.curve.readings.timebase import Grid

FASTEST_POUR_G_S = 25.0
"""No hand pours faster through a kettle's spout (common practice: 4 to 12 g/s)."""

FASTEST_FILL_G_S = 45.0
FILLS_S = 3.2
"""A wide kettle, or a tap, fills a brewer faster than that, but it takes its time: no step takes so long from
a tenth to nine tenths, not even on a scale that lags by 0.8 s twice over (2.7 s)."""

STILL_FILLS = 0.3
"""Share of the fastest pour's flow by which a stream is followed to where it began, and to its end."""

SOONER_FILLS_S, SOONER_FILLS_G, EVENLY = 1.5, 40.0, 1.15
"""A stream brings its first half about as fast as its second. A step that takes longer than that takes 1.38
times as long from its half to nine tenths as from a tenth to its half, or more: the scale lags behind it."""

SURELY_RUNS_G_S = 3.0
"""What flows so fast is no drip, and no tail of a move."""

STILL_FLOWS = 0.5
"""By so much of itself a kettle's flow may change within a moment."""

LONGEST_BURST_S = 1.2
"""Over so long no unevenness of the readings' times makes a stream seem too fast: then it is too fast."""

FALLS_BACK_G = 1.0
"""Water does not leave the scale: what falls by that is none."""

MAY_FLOW = 1.25
"""Water may run so much faster within a move than beside it."""

_RUNS_G_S, _RAN_S, _STEADILY = 0.9, 0.8, 0.75
"""What has risen by so much, for so long before a fall, runs; steadily, where its last readings and as many
before them rise one by one, and the last no less than so much of the others."""
_FEWEST_RISING = 4


def is_filled(grid: Grid, slope: Floats, first: int, last: int) -> bool:
    """Whether it is a stream that only goes faster than most for a while: steady, for seconds.

    :param slope: of the grid's weights, g/s, shape (n,)
    :param first: grid index at which it is first too fast for a pour
    :param last: the last such
    """
    step_s = grid.step_s
    if slope[first : last + 1].min() < 0.0:
        return False
    flowing = slope > STILL_FILLS * FASTEST_POUR_G_S
    before, after = (~flowing[:first]).nonzero()[0], (~flowing[last:]).nonzero()[0]
    begin = int(before[-1]) + 1 if before.size else 0
    end = last + int(after[0]) if after.size else slope.size - 1
    if (end - begin) * step_s <= SOONER_FILLS_S:
        return False
    arrived = grid.weight_g[begin : end + 1] - grid.weight_g[begin]
    shares_g = arrived[-1] * np.array([0.1, 0.5, 0.9])
    tenth_s, half_s, most_s = step_s * np.interp(
        shares_g, np.maximum.accumulate(arrived), np.arange(arrived.size)
    )
    evenly = arrived[-1] > SOONER_FILLS_G and most_s - half_s < EVENLY * (half_s - tenth_s)
    evenly = evenly and not grid.silent[begin : end + 1].any()
    if most_s - tenth_s <= (SOONER_FILLS_S if evenly else FILLS_S):
        return False
    near = max(round(0.4 / step_s), 1)
    return bool((arrived[near:] - arrived[:-near]).max(initial=0.0) < FASTEST_FILL_G_S * near * step_s)


def came_in_bursts(grid: Grid, first: int, last: int) -> bool:
    """Whether it only seems too fast for water, as readings came unevenly: it runs before and after, and over
    a longer stretch not too fast.

    :param first: grid index at which what seems to be a move begins
    :param last: at which it ends
    """
    near, reach = max(round(0.8 / grid.step_s), 2), max(round(1.5 / grid.step_s), 3)
    if flow_near_g_s(grid, first - near, first) <= SURELY_RUNS_G_S:
        return False
    if flow_near_g_s(grid, last, last + near) <= SURELY_RUNS_G_S:
        return False
    begin, end = max(first - reach, 0), min(last + reach, grid.weight_g.size - 1)
    gained_g = float(grid.weight_g[end] - grid.weight_g[begin])
    lasts = max(round(LONGEST_BURST_S / grid.step_s), 1)
    at_once_g = (grid.weight_g[begin + lasts : end + 1] - grid.weight_g[begin : end + 1 - lasts]).max(
        initial=0.0
    )
    if at_once_g > FASTEST_POUR_G_S * LONGEST_BURST_S:
        return False
    if np.diff(grid.weight_g[begin : end + 1]).min() < -FALLS_BACK_G:
        return False
    return 0.0 < gained_g < FASTEST_POUR_G_S * (end - begin) * grid.step_s


def flow_before_g_s(grid: Grid, first: int) -> float:
    """The flow of a pour that runs steadily before a move; 0 where none does, as in the tail of another.

    :param first: grid index at which the move begins
    """
    near = max(round(0.4 / grid.step_s), 1)
    early, late, end = (max(first - places * near, 0) for places in (5, 3, 1))
    flow_g_s = flow_near_g_s(grid, late, end)
    came_g_s = (grid.weight_g[late] - grid.weight_g[early]) / (2 * near * grid.step_s)
    steady = abs(came_g_s - flow_g_s) < STILL_FLOWS * flow_g_s
    return flow_g_s if steady and flow_g_s > SURELY_RUNS_G_S else 0.0


def flow_near_g_s(grid: Grid, first: int, last: int) -> float:
    """The flow of water between two indices; 0 where none is seen."""
    weight = grid.weight_g[max(first, 0) : last + 1]
    if weight.size < 2:
        return 0.0
    rises_g = weight[1:] - weight[:-1]
    flow = max(median(rises_g), float(weight[-1] - weight[0]) / rises_g.size) / grid.step_s
    return flow if 0.0 < flow < FASTEST_POUR_G_S else 0.0


def runs_until(grid: Grid, first: int, last: int, before: int) -> tuple[int, int]:
    """Begin a fall where the water that runs in is seen to rise for the last time: the slope at a moment is
    that between its neighbours, and sees the hand too soon.

    :param before: the last grid index of the move before it
    """
    weight, since = grid.weight_g, first - max(round(_RAN_S / grid.step_s), 2)
    if weight[last] > weight[first] or since < before:
        return first, last
    flow_g_s = flow_near_g_s(grid, since, first)
    most_g = MAY_FLOW * grid.step_s * flow_g_s if flow_g_s > _RUNS_G_S else 0.0
    while last - first > 2 and 0.0 < weight[first + 1] - weight[first] < most_g:
        first += 1
    return first, last


def runs_into(weight: Floats, first: int, last_before: int, near: int) -> bool:
    """Whether water runs steadily into what is lifted at a grid index.

    A hand that leans on the pan comes anew, and what a slow scale still owes of a pour more and more slowly.
    """
    near = max(near, _FEWEST_RISING)
    since = first - 2 * near
    if since < last_before or bool((weight[since + 1 : first + 1] <= weight[since:first]).any()):
        return False
    came_g, comes_g = weight[first - near] - weight[since], weight[first] - weight[first - near]
    return bool(_STEADILY * came_g < comes_g < MAY_FLOW * came_g)
