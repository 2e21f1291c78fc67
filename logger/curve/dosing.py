"""Dry coffee, weighed on the pan before the first water: a tare follows, or it leaves with its vessel."""

from __future__ import annotations

from collections.abc import Sequence

from logger.curve.brew import Event
from logger.curve.pours import Rise

LONGEST_DOSING_S = 14.0
LEAST_DOSE_G, LARGEST_DOSE_G = 5.0, 60.0

_LEAST_WATER_PER_DOSE, _WATER_PER_DOSE = 6.0, 7.5
"""Water per dry coffee: 10 to 20 for filter coffee; a bloom takes two or three times its dose, so that
five to eight times the bloom is poured in all (common practice)."""
_USUAL_DOSE_G, _USUALLY_WITHIN_S = 25.0, 6.0
"""What is no more than that and comes so quickly is seldom a bloom."""
TARED_WITHIN_S, _TARED_BEFORE_END_S = 10.0, 2.0

_LARGEST_AT_ONCE_G = 30.0
_SAME_VESSEL = 0.15
_LEAVES_WITHIN_S = 60.0


def is_in_already(solids: list[Event], events: tuple[Event, ...], rise: Rise) -> bool:
    """Whether the coffee is in already: a dose, and a tare between it and this rise; a tare that took away
    what was no vessel, and weighed as a dose does; or what fell in at once, like the lightest of vessels.
    """
    tares = [event for event in events if event.kind == "tare" and event.start_s < rise.start.time_s]
    seen = any(
        solid.kind == "dose" and solid.end_s - 1.0 < tare.start_s for solid in solids for tare in tares
    )
    unseen = any(LEAST_DOSE_G < _tared_unseen_g(tare, tares, events) < LARGEST_DOSE_G for tare in tares)
    at_once = any(
        event.kind == "vessel-on"
        and LEAST_DOSE_G < event.change_g < _LARGEST_AT_ONCE_G
        and any(0.0 < tare.start_s - event.end_s < TARED_WITHIN_S for tare in tares)
        for event in events
    )
    return seen or unseen or at_once or _came_back_filled(events, rise)


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


def _came_back_filled(events: tuple[Event, ...], rise: Rise) -> bool:
    """Whether the last vessel was taken off before and put back heavier by a dose."""
    steps = [event for event in events if event.kind.startswith("vessel") and event.end_s < rise.start.time_s]
    if len(steps) < 2 or (steps[-2].kind, steps[-1].kind) != ("vessel-off", "vessel-on"):
        return False
    return LEAST_DOSE_G < steps[-1].change_g + steps[-2].change_g < LARGEST_DOSE_G


def would_brew(dose_g: float, total_g: float) -> bool:
    """Whether there is enough water for a dose.

    :param total_g: what arrived in all, the dose itself among it
    """
    return total_g > (_LEAST_WATER_PER_DOSE + 1.0) * dose_g


def is_dose(rise: Rise, rises: Sequence[Rise], events: tuple[Event, ...], total_g: float) -> bool:
    """Whether a tare follows soon, and the water that comes then would brew such a dose; or the vessel that
    it was put into leaves, and another one comes.

    :param rises: all that arrives, in order of time
    :param events: in order of time, here and in what follows
    """
    if rise.gained_g > LARGEST_DOSE_G or rise.lasts_s > LONGEST_DOSING_S:
        return False
    tare = next((each for each in events if each.kind == "tare" and _may_end(rise, each)), None)
    tared = tare is not None and _was_dosed(
        [each for each in rises if each.start.time_s >= rise.start.time_s and _may_end(each, tare)],
        tare,
        total_g,
    )
    return tared or _left_with_its_vessel(rise, events, total_g)


def _may_end(rise: Rise, tare: Event) -> bool:
    return rise.end.time_s < tare.start_s + _TARED_BEFORE_END_S


def _was_dosed(portions: list[Rise], tare: Event, total_g: float) -> bool:
    """Whether what a tare took away came as a dose does, in one portion or a few."""
    gained_g = sum(portion.gained_g for portion in portions)
    lasted_s = portions[-1].end.time_s - portions[0].start.time_s
    late = tare.start_s - portions[-1].end.time_s > TARED_WITHIN_S
    if late or lasted_s > LONGEST_DOSING_S or gained_g > LARGEST_DOSE_G:
        return False
    usual = gained_g < _USUAL_DOSE_G and lasted_s < _USUALLY_WITHIN_S
    water_per_dose = _LEAST_WATER_PER_DOSE if usual else _WATER_PER_DOSE
    return total_g > (water_per_dose + 1.0) * gained_g


def is_tared_soon(rise: Rise, events: tuple[Event, ...]) -> bool:
    """Whether the tare key is pressed soon after."""
    return any(
        event.kind == "tare" and -_TARED_BEFORE_END_S <= event.start_s - rise.end.time_s <= TARED_WITHIN_S
        for event in events
    )


def is_step(event: Event) -> bool:
    """Whether what the pan bears, or what counts as nothing, is another one after it."""
    return event.kind in ("vessel-on", "vessel-off", "tare")


def _left_with_its_vessel(rise: Rise, events: tuple[Event, ...], total_g: float) -> bool:
    """Whether an espresso's filter holder was filled here: it leaves with the coffee, and a cup comes."""
    after = [event for event in events if is_step(event) and event.start_s > rise.end.time_s - 1.0]
    if len(after) < 2 or after[0].kind != "vessel-off" or after[1].kind != "vessel-on":
        return False
    off, on = after[:2]
    brewed_later = total_g > 1.8 * rise.gained_g and off.start_s - rise.end.time_s < _LEAVES_WITHIN_S
    leaves_g = -off.change_g
    return brewed_later and leaves_g > rise.gained_g and abs(on.change_g - leaves_g) > _SAME_VESSEL * leaves_g
