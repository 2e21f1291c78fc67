"""Dry coffee, weighed on the pan before the first water: a tare follows, or its vessel leaves with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Event
from logger.curve.pours.finding import Rise
from logger.curve.taken_out.carried_away import (
    LARGEST_DOSE_G,
    LONGEST_DOSING_S,
    is_for_shot,
    is_gone,
    leaves_with_its_vessel,
)
from logger.curve.taken_out.fingers import is_finger_on_key

LEAST_DOSE_G = 5.0

_LEAST_WATER_PER_DOSE, _WATER_PER_DOSE, _MOST_WATER_PER_DOSE = 4.0, 7.5, 22.0
"""Water per dry coffee: 10 to 20 for filter coffee; a bloom takes two or three times its dose, so that
five to eight times the bloom is poured in all (common practice)."""
_BREWS_UNTARED = 6.0
"""The same where no tare tells that it was weighed."""
_USUAL_DOSE_G, LARGE_DOSE_G, _FALLS_WITHIN_S = 25.0, 35.0, 3.0
"""What is no more than the one is seldom a bloom, nor what is no more than the other and falls in so fast."""
_TRICKLES_G_S = 1.5
"""No kettle pours so thinly; a grinder does, and a spoon."""
TARED_WITHIN_S, _TARED_BEFORE_END_S = 10.0, 2.0
_IN_LUMPS, _LEVELLED_WITHIN_S = 1.6, 20.0
"""So many times its mean flow no kettle's stream comes to, but coffee that falls in lumps does; then the bed
is levelled, and a slow scale comes to rest, before it is tared."""
_NO_BLOOM = 9.5
"""So many times its own weight in water follows no bloom: then it is coffee, however it came."""
_BLOOMS_S, _STRONGEST = 21.0, 3.0
"""A bloom is left for 30 to 45 s (common practice): what is tared, and followed by water sooner than that,
is none, where so many times its weight comes; the strongest of brews takes no less."""
_LONGEST_GRINDING_S, TARED_AT_LAST_S = 45.0, 45.0
"""Ground right into the filter, at 1 to 3 g/s; tared when the bed is level and the kettle is at hand."""
_LARGEST_AT_ONCE_G = 36.0
_RESTS_WITHIN_S = 1.0
"""What comes so soon after a vessel may be the rest of its step."""
_SEEN_TO_COME = 0.6
"""What was seen to come as coffee does may be so much less than what was not."""


@dataclass(frozen=True, slots=True)
class Before:
    """What came before some readings, in the same brew, of which nothing is seen any more.

    :param dosed_g: coffee, tared since
    :param poured_g: water
    """

    dosed_g: float = 0.0
    poured_g: float = 0.0

    @property
    def brews(self) -> bool:
        """Whether there is water on the coffee, which is weighed before it: more than a dose is none."""
        return self.poured_g > (0.0 if self.dosed_g else LARGEST_DOSE_G)


NOTHING_BEFORE = Before()


def is_in_already(
    solids: list[Event], events: tuple[Event, ...], rise: Rise, total_g: float, dosed_g: float = 0.0
) -> bool:
    """Whether the coffee is in already: a dose, and a tare between it and this rise; what fell in at once and
    was tared alone; or what came back with its vessel. A filter's paper is too light for one.

    What is too little for the water that comes was none: a damp filter, a finger, the rest of a step.

    :param total_g: what arrives in all, this rise among it
    :param dosed_g: coffee that came before all this, and was tared
    """
    least_g = max(LEAST_DOSE_G, (total_g - rise.gained_g) / _MOST_WATER_PER_DOSE)
    tares = [event for event in events if event.kind == "tare" and event.start_s < rise.start.time_s]
    tared_s = max((tare.start_s for tare in tares), default=-np.inf)
    doses = [solid for solid in solids if solid.kind == "dose" and solid.end_s - 1.0 < tared_s]
    rests = any(_follows_vessel(dose, events) for dose in doses)
    least_weighed_g = least_g if rests else max(LEAST_DOSE_G, _SEEN_TO_COME * least_g)
    weighed = dosed_g + sum(dose.change_g for dose in doses) > least_weighed_g
    alone = any(
        light.change_g > least_g and -tare.change_g < 1.5 * light.change_g
        for light, tare in _fallen_in(events, tares)
    )
    return weighed or alone or _came_back_filled(events, rise, least_g)


def _follows_vessel(dose: Event, events: tuple[Event, ...]) -> bool:
    """Whether a dose comes so soon after a vessel that it may be the rest of its step."""
    return any(
        event.kind == "vessel-on"
        and event.change_g > LARGEST_DOSE_G
        and event.start_s < dose.start_s < event.end_s + _RESTS_WITHIN_S
        for event in events
    )


def may_be_in_already(events: tuple[Event, ...], rise: Rise) -> bool:
    """Whether the coffee may be in, though it was not seen as such: a tare that took away what was no vessel,
    and weighed as a dose does; or what fell in at once, like the lightest of vessels.

    The rest of a vessel's step, on a scale that still settled or was knocked, weighs as much.
    """
    tares = [event for event in events if event.kind == "tare" and event.start_s < rise.start.time_s]
    unseen = any(LEAST_DOSE_G < _tared_unseen_g(tare, tares, events) < LARGEST_DOSE_G for tare in tares)
    return unseen or bool(_fallen_in(events, tares))


def _fallen_in(events: tuple[Event, ...], tares: list[Event]) -> list[tuple[Event, Event]]:
    """What came at once and weighs no more than a dose, each with a tare soon after it.

    A finger that leant on the key is gone as that works.
    """
    return [
        (event, tare)
        for event in events
        if event.kind == "vessel-on" and LEAST_DOSE_G < event.change_g < _LARGEST_AT_ONCE_G
        if not _follows_vessel(event, events)
        for tare in tares
        if 0.0 < tare.start_s - event.end_s < TARED_WITHIN_S and not is_gone(event, tare, events)
    ]


def _tared_unseen_g(tare: Event, tares: list[Event], events: tuple[Event, ...]) -> float:
    """What a tare took away beside the vessels that had come since the one before it."""
    since_s = max((other.start_s for other in tares if other.start_s < tare.start_s), default=None)
    if since_s is None:
        return 0.0
    vessels_g = sum(
        event.change_g
        for event in events
        if event.kind in ("vessel-on", "vessel-off") and since_s < event.start_s < tare.start_s
    )
    return -tare.change_g - vessels_g


def _came_back_filled(events: tuple[Event, ...], rise: Rise, least_g: float) -> bool:
    """Whether the last vessel was taken off before and put back heavier by a dose."""
    steps = [event for event in events if event.kind.startswith("vessel") and event.end_s < rise.start.time_s]
    if len(steps) < 2 or (steps[-2].kind, steps[-1].kind) != ("vessel-off", "vessel-on"):
        return False
    return least_g < steps[-1].change_g + steps[-2].change_g < LARGEST_DOSE_G


def would_brew(dose_g: float, total_g: float) -> bool:
    """Whether there is enough water for a dose.

    :param total_g: what arrived in all, the dose itself among it
    """
    return total_g > (_BREWS_UNTARED + 1.0) * dose_g


def is_coffee(rise: Rise, rises: Sequence[Rise], dosed: list[Event], events: tuple[Event, ...]) -> bool:
    """Whether what rises before all other water is dry coffee, by what came before it and after it.

    :param rises: all that arrives, in order of time
    :param dosed: the coffee that came before it
    """
    total_g = sum(each.gained_g for each in rises)
    if is_in_already(dosed, events, rise, total_g):
        return False
    return is_dose(rise, rises, events, total_g, surely=may_be_in_already(events, rise))


def is_dose(
    rise: Rise, rises: Sequence[Rise], events: tuple[Event, ...], total_g: float, *, surely: bool = False
) -> bool:
    """Whether a tare follows soon, and the water that comes then would brew such a dose; or the vessel that
    it was put into leaves, and another one comes.

    :param rises: all that arrives, in order of time
    :param events: in order of time, here and in what follows
    :param surely: only where nothing but coffee is followed by so much water, or leaves so
    """
    if rise.gained_g > LARGEST_DOSE_G or rise.lasts_s > _LONGEST_GRINDING_S:
        return False
    tare = next((each for each in events if each.kind == "tare" and _may_end(rise, each)), None)
    tared = False
    if tare is not None:
        portions = [rise, *(each for each in rises if _goes_on(rise, each, tare))]
        brews = (each.start.time_s for each in rises if each.start.time_s > tare.end_s)
        brews_in_s = next(brews, np.inf) - portions[-1].end.time_s
        shot = not surely and is_for_shot(portions, rises, tare.end_s, total_g)
        tared = shot or _was_dosed(portions, tare, total_g, brews_in_s, surely=surely)
    return tared or leaves_with_its_vessel(rise, rises, events, total_g)


def _may_end(rise: Rise, tare: Event) -> bool:
    return rise.end.time_s < tare.start_s + _TARED_BEFORE_END_S


def _goes_on(rise: Rise, other: Rise, tare: Event) -> bool:
    """Whether dosing goes on with another rise, before the key is pressed: no finger on the key."""
    if other.start.time_s <= rise.start.time_s or not _may_end(other, tare):
        return False
    return not is_finger_on_key(other.start.time_s, other.end.time_s, other.gained_g, [tare])


def _was_dosed(portions: list[Rise], tare: Event, total_g: float, brews_in_s: float, *, surely: bool) -> bool:
    """Whether what a tare took away came as a dose does, in one portion or a few.

    :param brews_in_s: after what time water comes
    """
    gained_g = sum(portion.gained_g for portion in portions)
    lasted_s = portions[-1].end.time_s - portions[0].start.time_s
    waited_s = tare.start_s - portions[-1].end.time_s
    if gained_g > LARGEST_DOSE_G:
        return False
    if not surely and brews_in_s < _BLOOMS_S and LEAST_DOSE_G < gained_g < LARGE_DOSE_G:
        return total_g > (_STRONGEST + 1.0) * gained_g
    if LEAST_DOSE_G < gained_g < total_g / (_NO_BLOOM + 1.0):
        return lasted_s < _LONGEST_GRINDING_S and waited_s < TARED_AT_LAST_S
    trickles = gained_g < _TRICKLES_G_S * lasted_s
    longest_s = _LONGEST_GRINDING_S if trickles else LONGEST_DOSING_S
    peak_g_s = max(portion.peak_flow_g_s for portion in portions)
    in_lumps = gained_g < LARGE_DOSE_G and peak_g_s * lasted_s > _IN_LUMPS * gained_g
    within_s = _LEVELLED_WITHIN_S if in_lumps else TARED_WITHIN_S
    if surely or waited_s > within_s or lasted_s > longest_s:
        return False
    usual = gained_g < (LARGE_DOSE_G if lasted_s < _FALLS_WITHIN_S else _USUAL_DOSE_G)
    water_per_dose = _LEAST_WATER_PER_DOSE if usual else _WATER_PER_DOSE
    return total_g > (water_per_dose + 1.0) * gained_g


def is_tared_soon(rise: Rise, events: tuple[Event, ...]) -> bool:
    """Whether the tare key is pressed soon after."""
    return any(
        event.kind == "tare" and -_TARED_BEFORE_END_S <= event.start_s - rise.end.time_s <= TARED_WITHIN_S
        for event in events
    )
