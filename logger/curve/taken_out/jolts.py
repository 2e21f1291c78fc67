"""A thin stream that is jolted as it stops: the switch of a machine shakes the tray that the scale stands on.

A slow scale smears a knock over seconds. Where the stream runs on, the display comes back to its line, and so
a knock is found (see ``disturbances``). Where the stream stops meanwhile it never does: the display jumps and
stays, as if the last grams had come at once. But no bed lets them through so fast: a thin stream that jumps
and then falls behind its own line was struck.
"""

from __future__ import annotations

import math

import numpy as np

from logger.curve.brew import Event
from logger.curve.readings.runs import runs_of
from logger.curve.readings.timebase import Grid

JUMPS_S, BEFORE_S, AFTER_S = 0.3, 2.0, 1.5
"""How fast it jumps; so long before it the stream shows its line, so long after it that it has stopped."""
THINLY_G_S, STEADY = (0.4, 3.6), 0.5
"""A machine pours between these, and within a second it changes by less than that share of it."""
STANDS_OUT = 8.0
"""It jumps by so many times what it strayed from its line before: coffee that comes in portions jumps, too,
but not for the first time."""
BACK = 0.5
"""A stream that stops is back at its line, but for so much of the jump; one that had grown would go on."""
LEFT_G = 0.05
"""Less than that of what a knock leaves on the display moves no edge."""


def find_jolts(grid: Grid, noise_g: float, least_g: float, delay_s: float) -> list[Event]:
    """Find what strikes a thin stream as it stops, from the jump until the scale has forgotten it.

    :param grid: the curve with steps taken out
    :param noise_g: of one reading
    :param least_g: less is no knock
    :param delay_s: the scale's lag
    """
    weight, step_s = grid.weight_g, grid.step_s
    before, jump = max(round(BEFORE_S / step_s), 2), max(round(JUMPS_S / step_s), 2)
    half, after = before // 2, jump + max(round(AFTER_S / step_s), 1)
    last = weight.size - after
    if last <= before:
        return []
    rises = weight[before + jump : last + jump] - weight[before:last] > least_g
    at = before + rises.nonzero()[0]
    flow_g_s = (weight[at] - weight[at - before]) / (before * step_s)
    thin = ((flow_g_s > THINLY_G_S[0]) & (flow_g_s < THINLY_G_S[1])).nonzero()[0]
    if not thin.size:
        return []
    at, flow_g_s = at[thin], flow_g_s[thin]
    from_g = weight[at]
    lately_g_s = (from_g - weight[at - half]) / (half * step_s)
    usual_g = jump * step_s * flow_g_s
    over_g = weight[at + jump] - from_g - usual_g
    later_g = weight[at + after] - from_g - after * step_s * flow_g_s
    struck = (over_g > np.maximum(usual_g, least_g)) & (later_g < BACK * over_g)
    struck &= np.abs(lately_g_s - flow_g_s) < STEADY * flow_g_s
    if not struck.any():
        return []
    height_g = np.zeros(weight.size)
    height_g[at[struck]] = over_g[struck]
    found: list[Event] = []
    for first, final in runs_of(height_g > 0.0, jump):
        highest_g = float(height_g[first : final + 1].max())
        if highest_g > STANDS_OUT * _roughness_g(grid, first - before, first):
            rings_s = delay_s * math.log(max(highest_g / max(noise_g, LEFT_G), 1.0))
            begin_s, struck_s = grid.time_s[[first, final + jump]].tolist()
            found.append(Event("knock", begin_s, struck_s + rings_s, 0.0))
    return found


def _roughness_g(grid: Grid, first: int, last: int) -> float:
    """How far the weight strays from a straight line between two grid indices, root mean square."""
    since_s, weight_g = grid.time_s[first:last], grid.weight_g[first:last]
    since_s, weight_g = since_s - since_s.mean(), weight_g - weight_g.mean()
    off_g = weight_g - since_s * (since_s @ weight_g) / (since_s @ since_s)
    return float(np.sqrt(np.mean(off_g**2)))
