"""Solids told apart from water: dry coffee that is dosed, a lid or a spoon that is laid on.

Solids arrive at once, in one portion or a few, and the display follows with the scale's own lag; water
takes its time. Both are fitted to each short rise, and the better one is believed. And a dose is followed by
a tare; and what a passing vessel leaves behind is neither (``left_behind``).
"""

from __future__ import annotations

import numpy as np

from logger.curve.brew import Event, EventKind, Floats
from logger.curve.edges.shapes import Response, start_shape
from logger.curve.pours.finding import Rise
from logger.curve.pours.water_curve import Curve
from logger.curve.readings.runs import Flags
from logger.curve.taken_out.carried_away import (
    LARGEST_DOSE_G,
    LONGEST_DOSING_S,
    is_carried_away,
    is_step,
)
from logger.curve.taken_out.dosing import (
    NOTHING_BEFORE,
    Before,
    is_dose,
    is_in_already,
    is_tared_soon,
    may_be_in_already,
    would_brew,
)
from logger.curve.taken_out.fast_water import FASTEST_POUR_G_S
from logger.curve.taken_out.fingers import is_finger_on_key
from logger.curve.taken_out.left_behind import is_left_behind
from logger.curve.taken_out.rinsing import is_rinse

AT_ONCE_S = 1.2
AT_ONCE_AT_FIRST_S = 1.5
"""Nobody's first pour is as short as that: what arrives so fast before any water is dry coffee."""
TRICKLES_S = 8.0
LARGEST_SOLID_G = 120.0
MOST_PORTIONS = 5
LEAST_PORTION_S = 0.8
_DROPS_S, _EVERY_S = 0.3, 0.1
"""How long a portion takes to drop, and how far apart the times are at which one may."""

_RAMPS_S = ((0.3, 0.3), (0.9, 0.9), (3.0, 0.9), (6.0, 0.9), (6.0, 3.0))
"""How a flow begins and ends: a kettle's at once, an espresso's over seconds."""

LONGEST_LAYING_S, LAID_FOR_S = 2.0, 30.0
_DRIPS_G, _AS_IT_CAME = 2.0, 0.15
"""What a wet spoon leaves behind, or stirring beside it seems to add, in g or as a share."""

_STRAIGHT = 0.02
"""Five even portions, the most that are tried, leave a line by a fifth of the whole over sqrt(12): 0.06."""
_ALIKE = (0.6, 1.6)


def told_apart(
    curve: Curve,
    rises: tuple[Rise, ...],
    events: tuple[Event, ...],
    expected_g: float | None = None,
    before: Before = NOTHING_BEFORE,
) -> tuple[tuple[Rise, ...], tuple[Event, ...]]:
    """Split rises into water and solids; what a vessel's step or stirring left behind is dropped.

    :param expected_g: the brew's water, where it is known better than by what has arrived
    :param before: what came before all this, of which nothing is seen any more
    :returns: the rises that are water, and an event for each solid
    """
    arrived_g = sum(rise.gained_g for rise in rises)
    events = tuple(sorted(events, key=lambda event: event.start_s))
    water, solids = list[Rise](), list[Event]()
    for rise in rises:
        # What is expected is water alone; if this is coffee, it comes besides.
        total_g = max(arrived_g, expected_g + rise.gained_g if expected_g else 0.0)
        if is_left_behind(rise, rises, events, total_g, curve):
            continue
        alike = any(_ALIKE[0] < rise.gained_g / other.gained_g < _ALIKE[1] for other in water)
        brews = bool(water) or before.brews
        before_water = not brews and (
            not is_in_already(solids, events, rise, total_g, before.dosed_g)
            or is_carried_away(rise, rises, events, total_g)
        )
        # Nobody rinses a filter that has the coffee in it.
        later_s = (other.start.time_s for other in rises if other.start.time_s > rise.start.time_s)
        rinsed = before_water and is_rinse(rise.end.time_s, rise.gained_g, later_s, events)
        if before_water and may_be_in_already(events, rise):
            before_water = is_dose(rise, rises, events, total_g, surely=True)
        if (
            (before_water and is_dose(rise, rises, events, total_g))
            or rise.laid_down
            or _came_at_once(curve, rise, events, total_g, before_water=before_water, alike=alike)
            or _is_taken_off(rise, events, curve.response.delay_s)
            or (water and is_finger_on_key(rise.start.time_s, rise.end.time_s, rise.gained_g, events))
            or rinsed
        ):
            coffee = before_water and rise.gained_g <= LARGEST_DOSE_G and not rinsed
            kind: EventKind = "dose" if coffee else "vessel-on"
            end_s = max(rise.end.time_s, rise.start.time_s + curve.step_s)
            solids.append(Event(kind, rise.start.time_s, end_s, rise.gained_g))
        else:
            water.append(rise)
    if not water:
        trickled = _trickled(solids, events)
        solids = [solid for solid in solids if solid not in trickled]
        starts_s = {solid.start_s for solid in trickled}
        water = [rise for rise in rises if rise.start.time_s in starts_s]
    return tuple(water), tuple(solids)


def _trickled(solids: list[Event], events: tuple[Event, ...]) -> list[Event]:
    """Which of the solids were no dose after all: a coarse display shows an espresso in portions, too.

    Dosing takes less time, and is followed by a tare and water.
    """
    tared_s = max((event.start_s for event in events if event.kind == "tare"), default=-np.inf)
    last = [solid for solid in solids if solid.kind == "dose" and solid.end_s > tared_s + 1.0]
    lasted = bool(last) and last[-1].end_s - last[0].start_s > TRICKLES_S
    return last if lasted else []


def _is_taken_off(rise: Rise, events: tuple[Event, ...], delay_s: float) -> bool:
    """Whether what arrived in a moment is taken off again as it came: a spoon that was laid down.

    :param delay_s: the scale's lag; how long something took to arrive is no better known than a part of it
    """
    off = next((event for event in events if event.start_s >= rise.end.time_s and is_step(event)), None)
    if off is None or off.start_s - rise.end.time_s > LAID_FOR_S:
        return False
    if rise.lasts_s > LONGEST_LAYING_S + 0.5 * delay_s:
        return False
    return abs(off.change_g + rise.gained_g) < max(_DRIPS_G, _AS_IT_CAME * rise.gained_g)


def _came_at_once(
    curve: Curve,
    rise: Rise,
    events: tuple[Event, ...],
    total_g: float,
    *,
    before_water: bool,
    alike: bool,
) -> bool:
    """Whether portions that arrive at once explain the rise better than water that flows.

    :param alike: whether there are pours of its size already, so that it is one more of them, most likely
    """
    if rise.lasts_s < (AT_ONCE_AT_FIRST_S if before_water else AT_ONCE_S):
        return True
    # Nothing but coffee arrives in portions over seconds: no more than a dose, or tared away with a vessel.
    as_coffee = rise.gained_g <= LARGEST_DOSE_G
    doses = before_water and (
        would_brew(rise.gained_g, total_g) if as_coffee else is_tared_soon(rise, events)
    )
    if rise.lasts_s > (LONGEST_DOSING_S if doses else 3.0) or rise.gained_g > LARGEST_SOLID_G:
        return False
    reach_s = 1.0 + 2.0 * curve.response.delay_s
    time, weight = curve.measured(rise.start.time_s - 1.0, rise.end.time_s + reach_s)
    if time.size < 8:
        return False
    if rise.lasts_s > 3.0 and any(_falls_in(gap_s, rise) for gap_s in curve.gaps_s):
        return False
    if rise.lasts_s > 3.0 and _runs_straight(time, weight, rise, curve.response.delay_s):
        return False
    # Nobody pours for less than two seconds, so there a tie goes to the solid; later, to the water.
    allowed = 0.5 if alike else 1.4 if rise.lasts_s < 2.0 else 0.8
    allowed_g2 = allowed * _flow_misfit(time, weight, rise, curve.response)
    return _in_portions(time, weight, rise, curve.response, allowed_g2)


def _falls_in(gap_s: tuple[float, float], rise: Rise) -> bool:
    """Whether a silence hides some of how a rise came."""
    return gap_s[0] < rise.end.time_s and rise.start.time_s < gap_s[1]


def _runs_straight(time: Floats, weight: Floats, rise: Rise, delay_s: float) -> bool:
    """Whether the middle of a rise is as straight as a flow; a few portions leave a line by far more."""
    fifth_s = 0.2 * rise.lasts_s
    inner = (time > rise.start.time_s + fifth_s + delay_s) & (time < rise.end.time_s - fifth_s + delay_s)
    if np.count_nonzero(inner) < 10:
        return False
    at, level = time[inner] - time[inner].mean(), weight[inner] - weight[inner].mean()
    off = level - at * float(at @ level) / float(at @ at)
    return float(np.sqrt((off**2).mean())) < _STRAIGHT * rise.gained_g


def _flow_misfit(time: Floats, weight: Floats, rise: Rise, response: Response) -> float:
    """Least squared misfit of one pour: a flow that ramps up, stays and ramps down.

    Level and flow are fitted for every start and end, by the products of what begins and what ends; but for
    those between which no kettle pours so much.
    """
    starts = rise.start.time_s + np.linspace(-0.8, 0.8, 17)
    ends = rise.end.time_s + np.linspace(-0.8, 0.8, 17)
    rest, explained = weight - weight.mean(), 0.0
    ramps = [(begins_s, ends_s) for begins_s, ends_s in _RAMPS_S if begins_s + ends_s < rise.lasts_s + 1.0]
    ramps = ramps or list(_RAMPS_S[:1])
    since_start_s, since_end_s = time - starts[:, None], time - ends[:, None]
    of_start = {each_s: _ramped(since_start_s, each_s, response) for each_s in {begin for begin, _ in ramps}}
    of_end = {each_s: _ramped(since_end_s + each_s, each_s, response) for each_s in {end for _, end in ramps}}
    for begins_s, ends_s in ramps:
        begun, ended = of_start[begins_s], of_end[ends_s]
        along = (begun @ rest)[:, None] - ended @ rest
        power = (begun**2).sum(axis=1)[:, None] - 2.0 * begun @ ended.T + (ended**2).sum(axis=1)
        lasts_s = ends - starts[:, None] - 0.5 * (begins_s + ends_s)
        pours = lasts_s * FASTEST_POUR_G_S > rise.gained_g
        explained = max(explained, float((pours * along**2 / np.maximum(power, 1e-12)).max()))
    return float(rest @ rest) - explained


def _ramped(since_s: Floats, ramp_s: float, response: Response) -> Floats:
    """What the display shows of a flow 1 that ramps up, less its mean over the samples; shape (c, n)."""
    shown = start_shape(since_s, np.array(ramp_s), response)
    return np.asarray(shown - shown.sum(axis=1, keepdims=True) / shown.shape[1])


def _in_portions(time: Floats, weight: Floats, rise: Rise, response: Response, allowed_g2: float) -> bool:
    """Whether a few portions, each dropped within a moment, leave less than a squared misfit; found one after
    another, no more than that takes.

    What the portions found so far explain is taken out of all that are left, so that each step needs one
    product and no new fit.
    """
    # What drops within a moment is a flow that begins less one that begins a moment later.
    begins = np.arange(rise.start.time_s - 0.8, rise.end.time_s + 0.4 + _DROPS_S, _EVERY_S)
    begun = start_shape(time[None, :] - begins[:, None], np.array(_DROPS_S), response)
    later = round(_DROPS_S / _EVERY_S)
    times, portion = begins[:-later], begun[:-later] - begun[later:]
    portion -= portion.mean(axis=1, keepdims=True)
    left, rest = portion, weight - weight.mean()
    along = portion @ rest
    chosen: list[int] = []
    misfit = np.inf
    for _ in range(MOST_PORTIONS):
        power = np.maximum((left**2).sum(axis=1), 1e-12)
        gain = np.where(_apart(times, chosen), np.maximum(left @ rest, 0.0) ** 2 / power, -1.0)
        best = int(np.argmax(gain))
        explained = float(rest @ rest) - float(gain[best])
        chosen.append(best)
        if gain[best] <= 0.0 or explained > 0.85 * misfit or not _all_weigh(portion[chosen], along[chosen]):
            break
        misfit = explained
        if misfit < allowed_g2:
            return True
        direction = left[best] / np.sqrt(power[best])
        rest = rest - (rest @ direction) * direction
        left = left - np.outer(left @ direction, direction)
    return False


def _apart(times: Floats, chosen: list[int]) -> Flags:
    """Which times are no part of a portion that was found already; shape (c,)."""
    apart = np.ones(times.size, dtype=np.bool_)
    for other in chosen:
        apart &= np.abs(times - times[other]) >= LEAST_PORTION_S
    return apart


def _all_weigh(portions: Floats, along: Floats) -> bool:
    """Whether every portion, all fitted together, weighs something.

    :param portions: their shapes less their means, shape (k, n)
    :param along: sums of each times the weights, shape (k,)
    """
    if along.size == 1:
        return bool(along[0] > 0.0)
    weighs, *_ = np.linalg.lstsq(portions @ portions.T, along, rcond=None)
    return bool(weighs.min() > 0.0)
