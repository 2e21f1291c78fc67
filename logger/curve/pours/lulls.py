"""Where a flow may have stopped in between: it falls well below what it is on both sides.

What a slow scale shows of a short pause is no more than a lull; but no pause shows less than the shortest
one, and that is known beforehand. Lulls that are shallower, with no deeper one beside them, are none, and
need not be measured: a hand that wavers, or a stream that pulses, leaves many.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.pours.dips import shortest_pause_falls_to
from logger.curve.pours.flow import half_for, slope_g_s, slope_sd_g_s
from logger.curve.pours.water_curve import Curve
from logger.curve.readings.runs import runs_of
from logger.curve.readings.timebase import Places

FALLS_TO = 0.72
"""A flow that falls to that share of what it is on both sides may have stopped in between."""
SHORTEST_FLOW_S = 3.0
"""A stretch that is as short as that has no room for two pours and a pause."""
HIDES_S, TOGETHER_S = 3.5, 2.5
"""What was drawn so near hides how low a flow fell. And so far before the lowest a pause is looked for: a
lull as near to a deep one may find the same."""
SURELY = 1.0
"""The lowest of several values is low by its noise already."""


@dataclass(frozen=True, slots=True)
class Lulls:
    """The lulls of a stretch of flow.

    :param places: grid indices where the flow is lowest, in order, shape (k,)
    :param falls_to: the least share of the flow beside it that each may have, its noise allowed for; shape
        alike
    :param half: half-width of the window that the flow was taken over, in steps of the grid
    """

    places: Places
    falls_to: Floats
    half: int

    def deep(self, curve: Curve) -> list[int]:
        """Which of them are as deep as the shortest pause is shown through the scale's lag, or beside one."""
        if not self.places.size:
            return []
        # Live, the step is another with every reading, by less than that.
        shown = shortest_pause_falls_to(self.half, round(curve.step_s, 3), curve.response)
        deep = self.places[self.falls_to < shown]
        reach = TOGETHER_S / curve.step_s
        near = deep.searchsorted(self.places - reach) < deep.searchsorted(self.places + reach, side="right")
        found: list[int] = self.places[near].tolist()
        return found


NO_LULLS = Lulls(np.zeros(0, dtype=np.intp), np.zeros(0), 2)


def find_lulls(curve: Curve, first: int, last: int) -> Lulls:
    """Find where the slope is well below what it is on both sides.

    :param first: the stretch's first grid index, with ``last`` its last
    """
    step_s, span_s = curve.step_s, (last - first) * curve.step_s
    if span_s < SHORTEST_FLOW_S:
        return NO_LULLS
    mean = (curve.grid_g[last] - curve.grid_g[first]) / span_s
    half = half_for(curve.grid_noise_g, step_s, max(0.08 * mean, 0.02), 0.5, 2.5)
    flow = slope_g_s(curve.grid_g[max(first - half, 0) : last + half + 1], half, step_s)
    flow = flow[first - max(first - half, 0) :][: last - first + 1]
    edge = max(round(0.5 / step_s), 1)
    low = flow < FALLS_TO * flow.max()
    low[:edge] = low[-edge:] = False
    if not low.any():
        return NO_LULLS
    # The flow is a mean over half a second and more: every quarter of a second shows how high it goes.
    sides = _higher_side(flow, low.nonzero()[0], max(round(5.0 / step_s), 2), max(round(0.25 / step_s), 1))
    low &= flow < FALLS_TO * sides
    lowest = [
        from_ + int(np.argmin(flow[from_ : to + 1]))
        for from_, to in runs_of(low, max(round(0.3 / step_s), 1))
    ]
    if not lowest:
        return NO_LULLS
    unsure_g_s = SURELY * slope_sd_g_s(curve.grid_noise_g, half, step_s)
    falls_to = (flow[lowest] - unsure_g_s) / np.maximum(sides[lowest], 1e-9)
    places = first + np.array(lowest)
    if not curve.all_measured(*curve.grid_s[[first, last]].tolist()):
        at_s = curve.grid_s[places].tolist()
        drawn = [not curve.all_measured(each_s - HIDES_S, each_s + HIDES_S) for each_s in at_s]
        falls_to[drawn] = 0.0
    return Lulls(places, falls_to, half)


def _higher_side(flow: Floats, places: Places, reach: int, every: int) -> Floats:
    """The smaller of what the flow usually reaches before and after some places, one in ``every`` tells; the
    flow itself elsewhere.
    """
    beyond, within = np.zeros(reach), np.arange(0, reach + 1, every)
    begins = np.concatenate((places, places + reach))
    windows = np.concatenate((beyond, flow, beyond)).take(begins[:, None] + within)
    rank = windows.shape[1] - max(windows.shape[1] // 4, 1)
    highest = np.partition(windows, rank, axis=1)[:, rank]
    sides = flow.copy()
    sides[places] = np.minimum(highest[: places.size], highest[places.size :])
    return sides
