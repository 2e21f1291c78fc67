"""A cup that is pulled away, or a brewer that is lifted, while it still runs: the pour ends with the lift.

The display is late, and never shows the last of it: what runs at the lift has run since the display's delay.
The stream's own press goes with it: it was shown, and was no water.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from logger.curve.brew import Event
from logger.curve.edges.choice import Known
from logger.curve.edges.shapes import FALL_S
from logger.curve.pours.finding import Rise
from logger.curve.pours.water_curve import Curve

HAND_S = 0.1
"""So long after a lift is seen to begin nothing falls into the cup any more, give or take as much."""
STILL_RUNS = 0.75
_LAST_S, _BEFORE_S = 1.0, 3.0
_REACH_S = 1.5
_FEWEST = 3
_LAG_DIFFERS = 0.15
"""Standard deviation of a lag, as a share of it."""


def pulled_end(curve: Curve, rise: Rise, lifts: Sequence[Event]) -> Known | None:
    """Say when a rise ended, and at what weight, where a lift ended it; None where none did.

    :param lifts: what was taken off, in any order
    """
    delay_s = curve.response.delay_s
    for lift in lifts:
        if not -_REACH_S < lift.start_s - rise.end.time_s < delay_s + _REACH_S:
            continue
        last = line_through(curve, max(lift.start_s - _LAST_S, rise.start.time_s), lift.start_s)
        before = line_through(curve, max(lift.start_s - _BEFORE_S, rise.start.time_s), lift.start_s - _LAST_S)
        if last is None or before is None or last[1] < max(STILL_RUNS * before[1], 0.3):
            continue
        level_g, flow_g_s = last
        sd_g = np.hypot(flow_g_s * np.hypot(_LAG_DIFFERS * delay_s, HAND_S), 2.0 * curve.noise_g)
        at_s = lift.start_s + HAND_S
        return Known(
            at_s,
            at_s - 2.0 * HAND_S,
            at_s + 2.0 * HAND_S,
            level_g + flow_g_s * (delay_s - FALL_S + HAND_S),
            float(sd_g),
        )
    return None


def line_through(curve: Curve, from_s: float, to_s: float) -> tuple[float, float] | None:
    """Level at the end of a stretch, and flow, by a straight line through what was measured in it; None where
    that is too little.
    """
    within = (curve.time_s > from_s) & (curve.time_s <= to_s) & ~curve.replaced
    time, weight = curve.time_s[within], curve.weight_g[within]
    if time.size < _FEWEST or time[-1] - time[0] < 0.3 * (to_s - from_s):
        return None
    flow_g_s, level_g = np.polyfit(time - to_s, weight, 1)
    return float(level_g), float(flow_g_s)
