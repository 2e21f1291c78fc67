"""Solids told apart from water: dry coffee that is dosed, a lid or a spoon that is laid on.

All of them arrive at once; water takes its time. What counts is for how long something arrived, less what
the scale's own lag adds; and that a dose is followed by a tare.
"""

from __future__ import annotations

from logger.curve.brew import Event, EventKind
from logger.curve.edges import Response
from logger.curve.pours import Rise

AT_ONCE_S = 1.3
TARE_FOLLOWS_S = 10.0
LARGEST_DOSE_G = 60.0
LEAST_WATER_PER_DOSE = 8.5
"""Less water than this per dry coffee is not brewed as filter coffee (common practice: 10 to 20)."""


def told_apart(
    rises: tuple[Rise, ...], events: tuple[Event, ...], response: Response
) -> tuple[tuple[Rise, ...], tuple[Event, ...]]:
    """Split rises into water and solids.

    :returns: the rises that are water, and an event for each that is not
    """
    total = sum(rise.gained_g for rise in rises)
    water: list[Rise] = []
    solids: list[Event] = []
    for rise in rises:
        if _is_dose(rise, events, total) or rise.lasts_s < AT_ONCE_S:
            kind: EventKind = "dose" if not water and rise.gained_g <= LARGEST_DOSE_G else "vessel-on"
            solids.append(Event(kind, rise.start.time_s, rise.end.time_s, rise.gained_g))
        else:
            water.append(rise)
    return tuple(water), tuple(solids)


def _is_dose(rise: Rise, events: tuple[Event, ...], total_g: float) -> bool:
    """Whether a tare follows soon, and the water that comes then would brew such a dose."""
    tared = any(
        event.kind == "tare" and -2.0 <= event.start_s - rise.end.time_s <= TARE_FOLLOWS_S for event in events
    )
    return tared and rise.gained_g <= LARGEST_DOSE_G and total_g > LEAST_WATER_PER_DOSE * rise.gained_g
