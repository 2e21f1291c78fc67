"""What something that passes leaves behind: it rises a little and is neither water nor a thing put down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from logger.curve.brew import Event
from logger.curve.edges.shapes import Response
from logger.curve.pours.finding import Rise
from logger.curve.pours.water_curve import Curve

_LEAST, _LEAST_G = 0.008, 3.0
"""Share of all that arrives, and grams: what is less than both is no pour."""

_REMAINDER, _CREEPS = 0.06, 0.01
"""Shares of a vessel's step that may still come a moment after it: in a short rise, and in one that goes on
for seconds, as a load cell creeps."""

_STIRRED, _UNDER_A_HAND = 0.02, 0.05
"""Shares of all that arrives that stirring or a knock leaves behind, and a hand that rests on the brewer."""

_LEANS, _LEANS_S, _GONE, _LOWEST = 0.03, 12.0, 0.6, 3
"""What leans on the pan bears so little of the brew's weight, for so long, and takes so much of it along; the
third lowest reading tells, as two may be a knock's."""

_TORN_OFF, _TORN_OFF_S, _TORN_OFF_TARED_S = 0.35, 3.5, 6.0
"""Share of a vessel's step that may be torn off it at most, and for how long that rises; for how long where a
tare follows."""

_TARED_AT_ONCE_S, _WITH_IT = 6.0, 1.5
"""A tare so soon is of what has just come; one of so many times as much took a vessel along."""

AS_IT_WAS_G = 3.0
"""Within that a vessel that is lifted and put back leaves the display where it was."""

_PUT_DOWN_WITHIN_S, _AT_MOST = 1.5, 2.0
"""A vessel bears on the pan within that, also a filter that is put on its server; of what the lag still holds
back then, no more than so many times comes later."""


def is_left_behind(
    rise: Rise, rises: Sequence[Rise], events: tuple[Event, ...], total_g: float, curve: Curve
) -> bool:
    """Whether a rise is too little to be a pour, or left behind by an event beside it, or soon gone again.

    :param rises: all that rises, in order of time
    :param total_g: what arrives in all
    """
    too_little = rise.gained_g < min(_LEAST * total_g, _LEAST_G)
    return (
        too_little
        or _drips_back(rise, events, curve)
        or any(_is_left_by(event, rise, events, total_g, curve) for event in events)
        or (rise.gained_g < _LEANS * total_g and _is_gone_again(rise, rises, curve))
    )


def _drips_back(rise: Rise, events: Sequence[Event], curve: Curve) -> bool:
    """Whether a vessel that is held above the pan lets fall what rises, and is put back lighter by that."""
    vessels = [event for event in events if event.kind.startswith("vessel")]
    near_s = _near_s(curve)
    return any(
        (off.kind, on.kind) == ("vessel-off", "vessel-on")
        and off.start_s - near_s < rise.start.time_s
        and rise.end.time_s < on.end_s + near_s
        and abs(off.change_g + rise.gained_g + on.change_g) < AS_IT_WAS_G
        for off, on in pairwise(vessels)
    )


def _near_s(curve: Curve) -> float:
    """How close to an event a rise is beside it."""
    return max(0.7, 2.5 * curve.step_s)


def _is_left_by(event: Event, rise: Rise, events: tuple[Event, ...], total_g: float, curve: Curve) -> bool:
    """Whether it is one event that left a rise behind."""
    near_s = _near_s(curve)
    near = event.start_s - near_s < rise.end.time_s and rise.start.time_s < event.end_s + near_s
    if event.kind.startswith("vessel"):
        if not near or not _may_remain(rise, event, events, curve.response):
            return False
        remains_g = (_REMAINDER if rise.lasts_s < _TORN_OFF_TARED_S else _CREEPS) * abs(event.change_g)
        rests = event.kind == "vessel-on" and _is_rest_of_vessel(rise, event, events, curve.response.delay_s)
        return rise.gained_g < remains_g or rests
    if event.kind == "stir":
        beside = event.start_s - 2.0 < rise.end.time_s and rise.start.time_s < event.end_s + 2.0
        return beside and rise.gained_g < _STIRRED * total_g
    if event.kind == "knock":
        within = event.start_s - near_s < rise.start.time_s and rise.end.time_s < event.end_s + near_s
        return within and rise.gained_g < _STIRRED * total_g
    # While a hand is on the brewer nobody begins to pour.
    under = event.start_s < rise.start.time_s < event.end_s - 1.0
    return event.kind == "press" and under and rise.gained_g < _UNDER_A_HAND * total_g


def _is_gone_again(rise: Rise, rises: Sequence[Rise], curve: Curve) -> bool:
    """Whether a rise falls back to where it came from, as no water does: a hand or a spoon leant on the pan.

    :param rises: all that rises, in order of time: the next of them ends what is looked at
    """
    since_s = rise.end.time_s + 2.0 * curve.response.delay_s
    later_s = (other.start.time_s for other in rises if other.start.time_s > rise.end.time_s)
    until_s = min(rise.end.time_s + _LEANS_S, next(later_s, math.inf))
    first, last = curve.grid_s.searchsorted([since_s, until_s]).tolist()
    after = curve.grid_g[first:last]
    if after.size < 2 * _LOWEST:
        return False
    lowest_g = float(np.partition(after, _LOWEST - 1)[_LOWEST - 1])
    return rise.end.level_g - lowest_g > max(_GONE * rise.gained_g, 4.0 * curve.grid_noise_g)


def _may_remain(rise: Rise, vessel: Event, events: tuple[Event, ...], response: Response) -> bool:
    """Whether the lag may have held back so much of a vessel's step, or a silence hid when that came."""
    if vessel.change_g < 0.0 or any(event.kind == "gap" and _overlap(event, vessel) for event in events):
        return True
    late_s = rise.start.time_s - vessel.start_s - _PUT_DOWN_WITHIN_S
    return rise.gained_g < _AT_MOST * vessel.change_g * _still_to_show(late_s, response)


def _is_rest_of_vessel(rise: Rise, vessel: Event, events: tuple[Event, ...], delay_s: float) -> bool:
    """Whether a rise beside a vessel is the rest of its step, which a silence or a slow scale tore off.

    Nobody puts a vessel down and pours a little within the same moment; and what is tared away with it is no
    water.

    :param delay_s: the scale's lag: the longer it is, the longer the rest may take
    """
    if rise.gained_g > _TORN_OFF * vessel.change_g:
        return False
    tared_g = _tared_at_once_g(rise, events)
    if tared_g > _WITH_IT * rise.gained_g:
        return rise.lasts_s < _TORN_OFF_TARED_S + 2.0 * delay_s
    return rise.lasts_s < (_TORN_OFF_TARED_S if tared_g else _TORN_OFF_S)


def _still_to_show(since_s: float, response: Response) -> float:
    """What a display has still to show of a step; a share of it."""
    stages = max(since_s, 0.0) / max(response.stage_s, 1e-3)
    return math.exp(-stages) * (1.0 + (response.order - 1) * stages)


def _overlap(one: Event, other: Event) -> bool:
    return one.start_s < other.end_s and other.start_s < one.end_s


def _tared_at_once_g(rise: Rise, events: tuple[Event, ...]) -> float:
    """What is tared away right after a rise; 0 where nothing is."""
    tared_g = [
        -event.change_g
        for event in events
        if event.kind == "tare" and -1.0 < event.start_s - rise.end.time_s < _TARED_AT_ONCE_S
    ]
    return max(tared_g, default=0.0)
