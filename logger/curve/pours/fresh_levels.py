"""How well a level is known that was seen for a moment only.

A pour's weight is the level after it less the level before. Where a vessel was set down, the tare key
pressed or a knock taken out just before, the display still owes some of that move, and what was taken out of
the curve is not quite what it owed. It fades with the scale's lag. No reading tells it from the level, and
more readings within that moment do not average it out; time does.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from logger.curve.brew import Event

OWES_G, OWES_OF_POUR_G = 0.4, 0.2
"""By so much (one standard deviation) a display may be off just after something moved; and just after a
stream, whose own fade is weighed. On six generators' brews weights that counted from a level of less than a
second were off by three times as much as others, the more so the longer the scale's lag."""
SEEN_S = 3.0
"""So far from an edge at the most its level is seen."""
MOVES_NOTHING = ("gap", "unit", "drift")
"""Events after which a display owes nothing."""


def fresh_sd_g(start_s: float, end_s: float, events: Iterable[Event], delay_s: float) -> float:
    """Say how far the levels on both sides of a pour may be off by what happened beside it.

    :param start_s: of the pour, with ``end_s``
    :param delay_s: the scale's lag
    :returns: standard deviation of the sum of both
    """
    moved = [event for event in events if event.kind not in MOVES_NOTHING]
    since_s = min((start_s - event.end_s for event in moved if event.start_s < start_s), default=math.inf)
    until_s = min((event.start_s - end_s for event in moved if event.end_s > end_s), default=math.inf)
    return math.hypot(OWES_G * _left(since_s, delay_s), OWES_OF_POUR_G * _left(until_s, delay_s))


def _left(seen_for_s: float, delay_s: float) -> float:
    """Give the mean of what fades with the lag, from 1, over the last seconds of a time."""
    if math.isinf(seen_for_s) or delay_s <= 0.0:
        return 0.0
    last_s = max(seen_for_s, 0.0) / delay_s
    first_s = max(seen_for_s - SEEN_S, 0.0) / delay_s
    if last_s - first_s < 1e-6:
        return 1.0
    return (math.exp(-first_s) - math.exp(-last_s)) / (last_s - first_s)
