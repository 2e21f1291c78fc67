"""Who stirs has put the kettle down: a pour does not end in the stirring after it, but as that begins.

No reading of a stirred brew tells an end, and what is drawn through it ends the pour anywhere in there. But
the hand that stirs is the one that poured. Only where so much water came within the stirring that it must
have run on for seconds did two hands do both.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from logger.curve.brew import Event
from logger.curve.edges.choice import Known
from logger.curve.pours.finding import Rise
from logger.curve.pours.pulled import line_through
from logger.curve.pours.water_curve import Curve

FROM_S, UNTIL_S, STOPS_S = 0.5, 2.5, 1.0
"""Stirring is seen to begin half a second before it does, as the bend of a pour's end is taken for its first
turn. An end that is read later than the second after that was no end before the stirring, but where no more
came from then on than the display owed and a stream brings within the third."""

STREAM_S, BESIDE_S, FALLEN = 3.0, 0.8, 0.6
"""Over so long before stirring, but for the last moment, a stream is seen to run; where the display rises in
that moment with less than so much of it, the stream has stopped."""

TAKES_UP_S = 0.25
"""So long, at the least, it takes to put a kettle down and take a spoon up."""


def stirred_end(curve: Curve, rise: Rise, end: Known, stirs: Iterable[Event]) -> Known:
    """Take an end that was read within stirring back to where that begins, or to where it was fitted before
    that; its range reaches to both.

    :param rise: what ends there
    :param end: as it was weighed
    :param stirs: stirring, and a hand that leans on the brewer for seconds
    """
    for stir in stirs:
        begins_s = _hides_from_s(curve, stir)
        if not rise.start.time_s < begins_s + FROM_S < max(end.time_s, rise.end.time_s) + FROM_S:
            continue
        if rise.end.time_s < stir.end_s + FROM_S and _had_fallen(curve, rise, begins_s):
            ended_s = min(rise.end.time_s, begins_s)
        elif end.time_s < min(stir.end_s, begins_s + UNTIL_S) or _had_ended(curve, rise, end, begins_s):
            ended_s = begins_s + FROM_S
        else:
            continue
        if ended_s < end.time_s:
            share = end.share and end.share.sooner(end.time_s - ended_s)
            return replace(end, time_s=ended_s, low_s=min(end.low_s, begins_s - TAKES_UP_S), share=share)
    return end


def _hides_from_s(curve: Curve, stir: Event) -> float:
    """Since when what goes on with stirring hides the curve: a hand that leans on it may have come before."""
    place = int(curve.time_s.searchsorted(stir.start_s)) - 1
    if place < 0 or not curve.replaced[place]:
        return stir.start_s
    seen = int(curve.measured_s.searchsorted(stir.start_s)) - 1
    return float(curve.measured_s[max(seen, 0)])


def _had_fallen(curve: Curve, rise: Rise, begins_s: float) -> bool:
    """Whether the display was seen to fall behind the stream before stirring began: then that had ended."""
    delay_s = curve.response.delay_s
    running = line_through(curve, max(begins_s - STREAM_S - delay_s, rise.start.time_s), begins_s - BESIDE_S)
    last = line_through(curve, begins_s - BESIDE_S, begins_s)
    if running is None or last is None or rise.gained_g > running[1] / FALLEN * rise.lasts_s:
        return False
    return last[1] < FALLEN * running[1]


def _had_ended(curve: Curve, rise: Rise, end: Known, begins_s: float) -> bool:
    """Whether hardly any water came since stirring began: only what the display still owed by then, and what
    a stream brings until it stops.
    """
    shown_g = float(np.interp(begins_s, curve.grid_s, curve.grid_g))
    until_then_g_s = (shown_g - rise.start.level_g) / max(begins_s - rise.start.time_s, 1.0)
    flow_g_s = max(rise.gained_g / max(rise.lasts_s, curve.step_s), until_then_g_s)
    return end.level_g - shown_g < flow_g_s * (curve.response.delay_s + STOPS_S)
