"""What is seen around the edges of pours: how far on both sides the readings tell of each."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import replace

import numpy as np

from logger.curve.brew import Event, Floats
from logger.curve.edges.around import Seen
from logger.curve.edges.edge import THIN_FLOW_G_S, Edge, still_to_come_g
from logger.curve.pours.finding import Rise
from logger.curve.pours.gaps import STILL_S
from logger.curve.pours.water_curve import Curve

BEFORE_S, BEFORE_THIN_END_S = 3.0, 5.0
AFTER_START_S, AFTER_THIN_START_S = 2.5, 9.0
AFTER_END_S, AFTER_THIN_END_S = 4.0, 6.0

LONGEST_TIP_S, THINNEST_POUR_G_S = 1.5, 1.9
"""A hand tips a kettle within that; and hardly one pours more thinly. Of six generators' brews 97 of 100
espressos built up more slowly or flowed more thinly, and 4 of 100 of the slow blooms that look like one."""


def seen_around(
    curve: Curve,
    rises: tuple[Rise, ...],
    solids: tuple[Event, ...],
    *,
    by_itself: bool,
    is_said: bool = False,
    known: Container[Edge] = (),
) -> tuple[list[Seen | None], list[Seen | None]]:
    """Gather what was seen around the start and the end of every rise; None where it is known already.

    :param by_itself: it is an espresso
    :param is_said: somebody said so, or that it is none
    :param known: the edges that are
    """
    time, weight = curve.measured_s, curve.measured_g
    all_thin = all(rise.is_thin for rise in rises)  # whoever pours a thin bloom pours faster later on
    brewed_here = any(solid.kind == "dose" for solid in solids)  # what is ground into a basket is not
    starts: list[Seen | None] = [None] * len(rises)
    ends: list[Seen | None] = [None] * len(rises)
    for number, rise in enumerate(rises):
        room_s = _room(curve, rises, solids, number)
        if rise.start not in known:
            start = _around_start(curve, time, rise, room_s)
            level = weight[start] + _tail_g(curve, time[start], rises[number - 1] if number else None)
            starts[number] = Seen(time[start], level, rise.start, curve.noise_g, all_thin=all_thin)
        if rise.end not in known:
            end, thin = _around_end(curve, time, rise, room_s), by_itself or rise.is_thin
            seen = Seen(time[end], weight[end], rise.end, curve.noise_g, all_thin=thin)
            is_sure = is_said or not seen.is_fresh or (comes_from_bed(rise) and not brewed_here)
            ends[number] = replace(seen, from_bed=True) if by_itself and is_sure else seen
    return starts, ends


def comes_from_bed(rise: Rise) -> bool:
    """Whether a stream built up more slowly than a hand tips, or is thinner than what a hand pours."""
    return rise.start.ramp_s > LONGEST_TIP_S or rise.gained_g < THINNEST_POUR_G_S * rise.lasts_s


def start_tells_until_s(curve: Curve, rise: Rise) -> float:
    """Until when samples tell of a start."""
    thin = rise.start.flow_g_s < THIN_FLOW_G_S
    return rise.start.time_s + (AFTER_THIN_START_S if thin else AFTER_START_S + 2.0 * curve.response.delay_s)


def end_tells_until_s(curve: Curve, rise: Rise) -> float:
    """Until when samples tell of an end."""
    end_s = rise.end.time_s
    return curve.seen_until_s(end_s, end_s + (AFTER_THIN_END_S if rise.ends_thin else AFTER_END_S))


def _room(
    curve: Curve, rises: tuple[Rise, ...], solids: tuple[Event, ...], number: int
) -> tuple[float, float]:
    """How far a rise's edges may be looked for: half-way to its neighbours, and up to any solid; and to where
    the weight stood still before a silence in which it starts.
    """
    start_s, end_s = rises[number].start.time_s, rises[number].end.time_s
    before_s = -np.inf
    if number:
        ended_s = rises[number - 1].end.time_s
        stood_s = [since_s - STILL_S for since_s, until_s in curve.gaps_s if since_s < start_s < until_s]
        half_way_s = 0.5 * (ended_s + start_s)
        before_s = min(half_way_s, max(ended_s, *stood_s)) if stood_s else half_way_s
    after_s = curve.half_way_s(end_s, rises[number + 1].start.time_s) if number + 1 < len(rises) else np.inf
    middle_s = 0.5 * (start_s + end_s)
    before_s = max([before_s, *(solid.end_s for solid in solids if solid.end_s < middle_s)])
    after_s = min([after_s, *(solid.start_s for solid in solids if solid.start_s > middle_s)])
    return before_s, after_s


def _around_start(curve: Curve, time: Floats, rise: Rise, room_s: tuple[float, float]) -> slice:
    start_s, middle_s = rise.start.time_s, 0.5 * (rise.start.time_s + rise.end.time_s)
    until_s = min(start_tells_until_s(curve, rise), max(middle_s, start_s + 1.5))
    return _between(time, max(start_s - BEFORE_S, room_s[0]), until_s)


def _around_end(curve: Curve, time: Floats, rise: Rise, room_s: tuple[float, float]) -> slice:
    end_s, middle_s = rise.end.time_s, 0.5 * (rise.start.time_s + rise.end.time_s)
    before_s = BEFORE_THIN_END_S if rise.ends_thin else BEFORE_S
    return _between(
        time,
        max(end_s - before_s, min(middle_s, end_s - 1.5)),
        min(end_tells_until_s(curve, rise), room_s[1]),
    )


def _tail_g(curve: Curve, time: Floats, before: Rise | None) -> Floats | float:
    """What the display still owes of the pour before; nothing where the noise hides it."""
    if before is None or not time.size:
        return 0.0
    left_g = still_to_come_g(time, before.end, curve.response)
    return left_g if left_g[0] > curve.noise_g else 0.0


def _between(time: Floats, from_s: float, to_s: float) -> slice:
    first, last = np.searchsorted(time, [from_s, to_s])
    return slice(int(first), int(last))
