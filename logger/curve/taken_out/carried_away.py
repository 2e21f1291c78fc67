"""Dry coffee that is weighed here and brewed elsewhere: it leaves with its vessel, and another one comes."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import dropwhile, takewhile

import numpy as np

from logger.curve.brew import Event
from logger.curve.pours.finding import Rise

LONGEST_DOSING_S, LARGEST_DOSE_G = 14.0, 60.0

_ESPRESSO = (1.4, 3.5)
"""Espresso per dry coffee (common practice: 1.5 to 3)."""
_FEWEST_TIMES, _LUNGO = 1.8, 9.0
"""Dose and drink, of the dose alone: from a short one on, up to a long one."""

SAME_VESSEL = 0.15
_LIFTED_G, _LIFTED, _HEAVIER_G, _HEAVIER = 3.0, 0.02, 1.0, 0.01
"""What was lifted to swirl it comes back lighter by its drips, so many grams and such a share, and heavier by
no more than a step is known to."""
_LEAVES_WITHIN_S = 60.0


def is_step(event: Event) -> bool:
    """Whether what the pan bears, or what counts as nothing, is another one after it."""
    return event.kind in ("vessel-on", "vessel-off", "tare")


def is_gone(light: Event, tare: Event, events: tuple[Event, ...]) -> bool:
    """Whether something light was taken off again, or let go, before a tare."""
    return any(
        other.kind == "vessel-off"
        and light.end_s <= other.start_s < tare.start_s
        and abs(other.change_g + light.change_g) < max(_LIFTED_G, SAME_VESSEL * light.change_g)
        for other in events
    )


def _brings_another(event: Event) -> bool:
    """Whether another vessel comes, or came in the same move of the hand that took the first: the pan bears
    less than when it was tared last, and the key counts that as nothing.
    """
    return event.kind == "vessel-on" or (event.kind == "tare" and event.change_g > LARGEST_DOSE_G)


def runs_from_machine(rise: Rise, rises: Sequence[Rise], since_s: float) -> bool:
    """Whether all that comes since a time is a machine's stream, and a rise before it was none: no hand that
    pours as fast as that pours so thinly afterwards, and a kettle's water and a machine's make no brew.
    """
    after = [each.is_thin for each in rises if each.start.time_s > since_s]
    return not rise.is_thin and bool(after) and all(after)


def is_for_shot(portions: Sequence[Rise], rises: Sequence[Rise], since_s: float, total_g: float) -> bool:
    """Whether what was tared is the coffee of the one shot that follows, of no more than that makes."""
    dose_g = sum(portion.gained_g for portion in portions)
    shots = sum(each.start.time_s > since_s for each in rises)
    makes = total_g < (_ESPRESSO[1] + 1.0) * dose_g
    return shots == 1 and makes and runs_from_machine(portions[0], rises, since_s)


def is_carried_away(rise: Rise, rises: Sequence[Rise], events: tuple[Event, ...], total_g: float) -> bool:
    """Whether what came as fast as coffee does leaves with its vessel, and others come and are tared: then it
    is coffee, whatever seemed to be one before. A light tin that was tared looks like a dose.
    """
    after = _moved_after(rise, events)[1:]
    come = len(list(takewhile(lambda event: event.kind == "vessel-on", after)))
    # The last that seems to come may be the finger on the key.
    tared = any(_is_tared_then(after[place:]) for place in (come, come - 1) if place >= 0)
    if not tared or rise.lasts_s > LONGEST_DOSING_S:
        return False
    return leaves_with_its_vessel(rise, rises, events, total_g)


def _moved_after(rise: Rise, events: tuple[Event, ...]) -> list[Event]:
    """What is moved after a rise, but for the tare of what came with it: weighed to the gram, it is tared and
    then leaves.
    """
    after = [event for event in events if is_step(event) and event.end_s > rise.end.time_s]
    return list(dropwhile(lambda event: event.kind == "tare" and event.change_g < 0.0, after))


def _is_tared_then(steps: Sequence[Event]) -> bool:
    """Whether the tare key is what comes next, but for a finger that leans on it and lets go."""
    if len(steps) > 2 and steps[0].kind == "vessel-on" and is_gone(steps[0], steps[2], tuple(steps)):
        steps = steps[2:]
    return bool(steps) and steps[0].kind == "tare"


def leaves_with_its_vessel(
    rise: Rise, rises: Sequence[Rise], events: tuple[Event, ...], total_g: float
) -> bool:
    """Whether an espresso's filter holder was filled here, in a portion or a few: it leaves with the coffee,
    and a cup comes.
    """
    after = _moved_after(rise, events)
    if len(after) < 2 or after[0].kind != "vessel-off" or not _brings_another(after[1]):
        return False
    off, on = after[:2]
    leaves_g, heavier_g = -off.change_g, on.change_g + off.change_g
    since_s = max(
        (event.end_s for event in events if event.end_s < rise.start.time_s and is_step(event)),
        default=-np.inf,
    )
    portions = [each for each in rises if since_s < each.start.time_s and each.end.time_s < off.end_s]
    dose_g = sum(portion.gained_g for portion in portions)
    if off.start_s - portions[-1].end.time_s > _LEAVES_WITHIN_S or not dose_g < min(leaves_g, LARGEST_DOSE_G):
        return False
    if on.kind == "tare":  # no bloom is followed by so little
        return _FEWEST_TIMES < total_g / dose_g < _ESPRESSO[1] + 1.0
    tared = _is_tared_then(after[2:])
    if tared and total_g < _LUNGO * dose_g and runs_from_machine(rise, rises, on.end_s):
        return True
    if abs(heavier_g) > SAME_VESSEL * leaves_g:
        return total_g > _FEWEST_TIMES * dose_g
    if tared and all(each.is_thin for each in rises if each.start.time_s > on.end_s):
        return _FEWEST_TIMES * dose_g < total_g < _LUNGO * dose_g  # no kettle pours so
    # A cup may weigh nearly as much as the holder.
    least = _FEWEST_TIMES - 1.0 if tared else _ESPRESSO[0]
    brews = least < total_g / dose_g - 1.0 < _ESPRESSO[1]
    drips_g, nothing_g = _LIFTED_G + _LIFTED * leaves_g, _HEAVIER_G + _HEAVIER * leaves_g
    return brews and not -drips_g < heavier_g < nothing_g
