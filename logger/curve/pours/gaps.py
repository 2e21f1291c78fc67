"""The silences in a curve.

Nobody knows what happened while nothing was heard. But where the weight stood still just before a silence,
the pour before it was over; and where it stood still just after, the pour in it was.
"""

from __future__ import annotations

import numpy as np

from logger.curve.pours.water_curve import Curve

STILL_S = 0.8
STILL_G_S = 0.45
STILL_SHARE = 0.3
TELLS_SHARE = 0.75
"""Where even so much of the flow would pass for standing still, nothing is told by it."""


def cut_at_gaps(curve: Curve, first: int, last: int) -> list[tuple[int, int]]:
    """Cut a stretch of flow where it stood still beside a silence.

    :param first: the stretch's first grid index
    :param last: its last
    """
    parts, begin = [], first
    for since_s, until_s in curve.gaps_s:
        since, until = curve.grid_s.searchsorted((since_s, until_s)).tolist()
        if not begin < since <= until < last:
            continue
        flow_g_s = (curve.grid_g[last] - curve.grid_g[begin]) / (curve.grid_s[last] - curve.grid_s[begin])
        if _stands_still(curve, since_s - STILL_S, since_s, float(flow_g_s)):
            parts.append((begin, since))
            begin = since
        elif _stands_still(curve, until_s, until_s + STILL_S, float(flow_g_s)):
            parts.append((begin, until))
            begin = until
    return [*parts, (begin, last)]


def _stands_still(curve: Curve, from_s: float, to_s: float, flow_g_s: float) -> bool:
    """Whether the measured samples between two times show no more than a trickle.

    False for too few, or where a coarse or restless display stands still for as long while water runs.

    :param flow_g_s: of the stretch around them
    """
    time, weight = curve.measured(from_s - 1e-6, to_s + 1e-6)
    if time.size < 4 or time[-1] - time[0] < 0.5 * STILL_S:
        return False
    centred = time - float(time.sum()) / time.size
    power = float(centred @ centred)
    still_g_s = max(STILL_G_S, STILL_SHARE * flow_g_s) + 2.0 * curve.noise_g / float(np.sqrt(power))
    return float(centred @ weight) / power < still_g_s < TELLS_SHARE * flow_g_s
