"""When an espresso's first drop may have fallen: before what the scale shows of it.

An espresso comes in single drops before it runs, of 0.03 to 0.06 g each (common practice). The first of them
do not show on the display, and what they bring hides in its step and its noise for as long as they come
slowly: so long before the start that was read the first one may have fallen. Between that drop and the first
half gram any start is right; the range of the start says from when on. What they brought is the espresso's:
its yield counts from the empty cup, as it stood before any of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from logger.curve.brew import Event, Pour
from logger.curve.edges.fading import ENDS_AT_G_S
from logger.curve.pours.certainty import Sure
from logger.curve.pours.water_curve import Curve

DRIPS_FIRST_S = 1.5
"""For so long single drops come before they join into a stream, on the quietest scale as well."""

EMPTY_FOR_S, FEWEST, SETTLED_S = 4.0, 4, 1.0
"""So long before the first drops the empty cup is weighed, by so many readings at the least; what was moved
so shortly before has not come to rest."""


def unseen_drops_s(noise_g: float, step_g: float) -> float:
    """For how long before a start that was read drops may have come that the scale does not show.

    :param noise_g: standard deviation of one reading
    :param step_g: the step of the display
    """
    return DRIPS_FIRST_S + (0.5 * step_g + noise_g) / ENDS_AT_G_S


def with_empty_cups(
    curve: Curve, edges: tuple[Sure, ...], events: Iterable[Event], unseen_s: float
) -> tuple[Sure, ...]:
    """Take the level before each espresso from before its first drops may have fallen, where that was seen.

    :param events: what happened; a level before it is another one
    :param unseen_s: for so long before a start drops may have fallen
    """
    ends_s = [event.end_s for event in events] + [sure.end.high_s + EMPTY_FOR_S for sure in edges]
    settled_s = SETTLED_S + 2.0 * curve.response.delay_s
    weighed = []
    for sure in edges:
        start = sure.start
        until_s = start.time_s - unseen_s
        moved_s = max((end_s for end_s in ends_s if end_s < start.time_s), default=-math.inf)
        time, weight = curve.measured(max(until_s - EMPTY_FOR_S, moved_s + settled_s), until_s)
        # Drops make a cup heavier: on a scale that wanders one may seem to have been lighter with them.
        if time.size >= FEWEST and float(weight.mean()) < start.level_g + curve.noise_g:
            sure = replace(sure, start=replace(start, level_g=float(weight.mean())))
        weighed.append(sure)
    return tuple(weighed)


def with_first_drops(pours: tuple[Pour, ...], noise_g: float, step_g: float) -> tuple[Pour, ...]:
    """Widen an espresso's ranges by what its first drops hide; parameters as above.

    Its starts may be earlier, and what fell until they were seen passes for an empty cup: there may be more.
    """
    unseen_s = unseen_drops_s(noise_g, step_g)
    return tuple(_with_first_drops(pour, unseen_s) for pour in pours)


def _with_first_drops(pour: Pour, unseen_s: float) -> Pour:
    start, grams = pour.start_between_s, pour.poured_between_g
    if start is not None:
        start = pour.start_s - math.hypot(pour.start_s - start[0], unseen_s), start[1]
    if grams is not None:
        grams = grams[0], pour.poured_g + math.hypot(grams[1] - pour.poured_g, ENDS_AT_G_S * unseen_s)
    return replace(pour, start_between_s=start, poured_between_g=grams)
