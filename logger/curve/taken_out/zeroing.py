"""What ends at zero: the tare key, or a vessel that is lifted off a pan that was never tared.

Most scales take a tare between two readings; some let it through their filter, so that it falls like a vessel
that is taken off. What comes next tells them apart: water needs a vessel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from logger.curve.brew import Event, EventKind
from logger.curve.pours.finding import Rise
from logger.curve.readings.timebase import Samples
from logger.curve.taken_out.carried_away import LARGEST_DOSE_G, SAME_VESSEL
from logger.curve.taken_out.fingers import BESIDE_KEY_S
from logger.curve.taken_out.left_behind import AS_IT_WAS_G
from logger.curve.taken_out.steps import SMALLEST_VESSEL_G, Move

COMES_BACK_S = 30.0
MORE_THAN_A_DOSE_G = 30.0
RUNS_ON_S = 1.0
"""What ends so long after a fall was not lifted with it."""
ABOVE_ZERO_G, BELOW_ZERO_G = 1.0, 12.0
"""Who presses the key leans on the scale: let go, it shows some grams less than nothing."""
LEVEL_OVER_S = 0.7
LOWEST = 3
"""The third lowest of its readings: one or two may be a knock's."""


def lifts_among(
    tares: tuple[Event, ...], moves: tuple[Move, ...], samples: Samples, rises: tuple[Rise, ...] = ()
) -> tuple[Event, ...]:
    """Rename those jumps to zero that are a vessel's lift: the pan had never been tared, so that empty it
    shows zero, and the same vessel comes back soon, or it was full and no water follows.

    :param rises: what arrived; nothing does while the vessel is away
    """
    seen: list[Event] = []
    for tare in tares:
        on_before = [move.change_g for move in moves if move.end_s <= tare.start_s and move.change_g > 0]
        comes_back = any(
            0.0 <= move.start_s - tare.end_s < COMES_BACK_S
            and any(abs(move.change_g - vessel) < SAME_VESSEL * vessel for vessel in on_before)
            and not any(tare.end_s < rise.start.time_s < move.start_s for rise in rises)
            for move in moves
        )
        full = bool(on_before) and -tare.change_g > max(on_before) + MORE_THAN_A_DOSE_G
        emptied = comes_back or (full and _stays_empty(tare, moves, samples))
        never_tared = all(event.kind != "tare" for event in seen)
        lifted = emptied and never_tared and tare.change_g < 0.0 and not _bears_something(tare, moves)
        kind: EventKind = "vessel-off" if lifted else "tare"
        seen.append(Event(kind, tare.start_s, tare.end_s, tare.change_g))
    return tuple(seen)


def _bears_something(tare: Event, moves: tuple[Move, ...]) -> bool:
    """Whether the next thing that moves is lifted: off an empty pan nothing is."""
    after = (move.change_g for move in moves if move.start_s >= tare.end_s and not move.returns)
    return next(after, 0.0) < 0.0


def _stays_empty(tare: Event, moves: tuple[Move, ...], samples: Samples) -> bool:
    """Whether nothing is poured before the next vessel, or the end."""
    until_s = min((move.start_s for move in moves if move.start_s > tare.end_s), default=np.inf)
    after = (samples.time_s >= tare.end_s) & (samples.time_s < until_s)
    return bool(samples.weight_g[after].max(initial=0.0) < SMALLEST_VESSEL_G)


def tares_among(
    events: tuple[Event, ...],
    tares: tuple[Event, ...],
    rises: tuple[Rise, ...],
    samples: Samples,
    noise_g: float,
    step_g: float,
    faded: tuple[Event, ...] = (),
) -> tuple[Event, ...]:
    """Rename what seems to be lifted, lands at zero and has water coming after it: that was the tare key.

    :param events: named by their moves alone
    :param faded: those of them whose shape shows that they end at zero, though water may run meanwhile
    :param tares: the jumps to zero; a finger that leaves the key before it works lands nowhere near
    :param samples: as they were shown
    """
    unsure_g = unsure_of_zero_g(noise_g, step_g)
    named = []
    for event in events:
        fades = event in faded
        zeroes = fades or lands_at_zero(event, (*events, *tares), samples, unsure_g)
        if event.kind == "vessel-off" and zeroes:
            came = [(_comes_s(rise, event, through=fades), rise.gained_g) for rise in rises]
            water_s = min((came_s for came_s, _ in came), default=np.inf)
            after = [other for other in events if other.start_s > event.start_s]
            others_s = [
                other.start_s for other in after if _is_vessel(other) and not _comes_back(other, after)
            ]
            watered = water_s < min(others_s, default=np.inf) and not _is_put_back(event, events, came)
            if watered or _is_borne_still(event, (*events, *tares)):
                event = replace(event, kind="tare")
        named.append(event)
    return tuple(named)


def _is_put_back(fall: Event, events: Sequence[Event], came: Sequence[tuple[float, float]]) -> bool:
    """Whether the next vessel that comes brings the display back to where a fall began: what was lifted is
    put back, less what it dripped meanwhile.

    :param came: when what rose after the fall came, and how much it was
    """
    after = (step for step in events if step.start_s > fall.start_s and step.kind.startswith("vessel"))
    back = min(after, key=_starts_s, default=None)
    if back is None or back.kind != "vessel-on" or back.start_s - fall.end_s > COMES_BACK_S:
        return False
    dripped_g = sum(gained_g for came_s, gained_g in came if came_s < back.start_s)
    return abs(fall.change_g + back.change_g + dripped_g) < AS_IT_WAS_G


def _is_borne_still(fall: Event, steps: tuple[Event, ...]) -> bool:
    """Whether what a fall to zero seems to have lifted leaves later, with its vessel: nothing is lifted off
    an empty pan. What was laid on just before it, and weighs as much, was taken off again.
    """
    before = max((step for step in steps if step.start_s < fall.start_s), key=_starts_s, default=None)
    after = min((step for step in steps if step.start_s > fall.start_s), key=_starts_s, default=None)
    if after is None or after.kind != "vessel-off" or after.change_g > fall.change_g:
        return False
    laid_on = before is not None and before.kind == "vessel-on" and _is_lifted(before, fall)
    return not laid_on


def _comes_s(rise: Rise, fall: Event, *, through: bool) -> float:
    """When the water of a rise comes after a fall; never, where it came before it.

    :param through: whether it is known that it ran on through the fall, if it ends after that
    """
    if rise.end.time_s <= fall.end_s:
        return np.inf
    began_before = rise.start.time_s <= fall.start_s - BESIDE_KEY_S
    runs_on = through and rise.end.time_s > fall.end_s + RUNS_ON_S
    return np.inf if began_before and not runs_on else rise.start.time_s


def _is_vessel(event: Event) -> bool:
    """Whether something came that holds water: coffee that fell in at once seems a vessel, too."""
    return event.kind == "vessel-on" and event.change_g > LARGEST_DOSE_G


def _comes_back(vessel: Event, events: list[Event]) -> bool:
    """Whether a vessel was lifted among some events before it is put on: it had been there all along."""
    return any(
        event.kind == "vessel-off" and event.end_s <= vessel.start_s and _is_lifted(vessel, event)
        for event in events
    )


def _is_lifted(vessel: Event, lift: Event) -> bool:
    return abs(lift.change_g + vessel.change_g) < SAME_VESSEL * vessel.change_g


def _starts_s(event: Event) -> float:
    return event.start_s


def steps_of_vessels(
    moves: tuple[Move, ...], tares: tuple[Event, ...], samples: Samples, noise_g: float, step_g: float
) -> tuple[Move, ...]:
    """Leave out what falls to zero: a tare that goes through a filter shows how the display follows the key,
    not how it follows the pan.
    """
    unsure_g = unsure_of_zero_g(noise_g, step_g)
    others: tuple[Event | Move, ...] = *moves, *tares
    return tuple(
        move for move in moves if move.change_g > 0.0 or not lands_at_zero(move, others, samples, unsure_g)
    )


def unsure_of_zero_g(noise_g: float, step_g: float) -> float:
    """How far from zero a display may rest that was just tared."""
    return max(4.0 * noise_g, 1.6 * step_g)


def lands_at_zero(
    event: Event | Move, events: Sequence[Event | Move], samples: Samples, unsure_g: float
) -> bool:
    """Whether the display falls to zero and no lower, or where a finger that leant on the key lets it go.

    :param events: whatever else moved: where the next of them begins, the fall is over
    """
    next_s = min((other.start_s for other in events if other.start_s > event.start_s), default=np.inf)
    # Coffee may come before the fall has quite faded: not where it rests tells, but how far down it went.
    until_s = min(event.end_s + LEVEL_OVER_S, max(next_s, event.end_s))
    lowest = _lowest_g(samples, event.start_s, until_s)
    while until_s + LEVEL_OVER_S < next_s:
        lower = _lowest_g(samples, until_s, until_s + LEVEL_OVER_S)
        if not lower < lowest - unsure_g:
            break
        # A slow scale goes on falling when no vessel would any more.
        lowest, until_s = lower, until_s + LEVEL_OVER_S
    return bool(-max(BELOW_ZERO_G, unsure_g) <= lowest <= max(ABOVE_ZERO_G, unsure_g))


def _lowest_g(samples: Samples, from_s: float, to_s: float) -> float:
    """The third lowest reading between two times, and of as many as that needs."""
    first, last = samples.time_s.searchsorted([from_s, to_s]).tolist()
    shown = samples.weight_g[first : max(last, first + LOWEST)]
    return float(np.partition(shown, LOWEST - 1)[LOWEST - 1]) if shown.size >= LOWEST else np.inf
