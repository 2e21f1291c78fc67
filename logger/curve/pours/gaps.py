"""The silences in a curve.

Nobody knows what happened while nothing was heard. But where the weight stood still just before a silence,
the pour before it was over; and where it stood still just after, the pour in it was. A stream that seems to
have stood still, and of which no water is missing when it is heard of again, ran on: a coarse display, or
readings that came in bursts, stood still, not the stream.
"""

from __future__ import annotations

import numpy as np

from logger.curve.pours.water_curve import Curve

STILL_S = 0.8
STILL_G_S = 0.45
STILL_SHARE = 0.3
MISSING_SHARE, FOLLOWED_S = 0.5, 3.0
"""Of what a stream brings while it seems to stand still, so much at the least is missing if it stood; for its
flow it is followed for so long beside that."""
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
        runs_s = float(curve.grid_s[begin]), float(curve.grid_s[last])
        flow_g_s = float(curve.grid_g[last] - curve.grid_g[begin]) / (runs_s[1] - runs_s[0])
        stood_s, stands_s = since_s - STILL_S, until_s + STILL_S
        if _stands_still(curve, stood_s, since_s, flow_g_s) and _lacks(curve, stood_s, until_s, runs_s):
            parts.append((begin, since))
            begin = since
        elif _stands_still(curve, until_s, stands_s, flow_g_s) and _lacks(curve, since_s, stands_s, runs_s):
            parts.append((begin, until))
            begin = until
    return [*parts, (begin, last)]


def ran_through(curve: Curve, from_s: float, to_s: float, runs_s: tuple[float, float]) -> bool:
    """Whether a stream that seems to pause beside a silence, or in it, lacks no water after both.

    :param from_s: from when to when it seems to pause
    :param runs_s: from when to when the stream is seen to run
    """
    beside = [gap_s for gap_s in curve.gaps_s if gap_s[0] < to_s and gap_s[1] > from_s]
    if not beside:
        return False
    return not _lacks(curve, min(from_s, beside[0][0]), max(to_s, beside[-1][1]), runs_s)


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


def _lacks(curve: Curve, from_s: float, to_s: float, runs_s: tuple[float, float]) -> bool:
    """Whether less arrived between two times than the stream beside them brings, by as much as it would if it
    had stood still.

    :param runs_s: from when to when the stream is seen to run
    """
    since_s, until_s = max(from_s - FOLLOWED_S, runs_s[0]), min(to_s + FOLLOWED_S, runs_s[1])
    shown_g = np.interp([since_s, from_s, to_s, until_s], curve.grid_s, curve.grid_g)
    before_g, came_g, after_g = np.diff(shown_g).tolist()
    runs_g_s = max(before_g / max(from_s - since_s, STILL_S), after_g / max(until_s - to_s, STILL_S))
    lost_s = to_s - from_s - MISSING_SHARE * STILL_S
    return bool(came_g + 2.0 * curve.noise_g < runs_g_s * lost_s)
