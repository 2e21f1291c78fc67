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
from logger.curve.pours.water_curve import Curve

FROM_S, UNTIL_S = 0.5, 2.5
"""Stirring is seen to begin half a second before it does, as the bend of a pour's end is taken for its first
turn. An end that is read later than the other after that was no end before the stirring, but where no more
came from then on than the display owed and a stream brings within the one."""

TAKES_UP_S = 0.25
"""So long, at the least, it takes to put a kettle down and take a spoon up."""


def stirred_end(curve: Curve, rise: Rise, end: Known, stirs: Iterable[Event]) -> Known:
    """Take an end that was read within stirring back to where that begins; its range reaches to both.

    :param rise: what ends there
    :param end: as it was weighed
    :param stirs: events of that kind
    """
    for stir in stirs:
        ended_s = stir.start_s + FROM_S
        if not rise.start.time_s < ended_s < end.time_s:
            continue
        if end.time_s < min(stir.end_s, stir.start_s + UNTIL_S) or _had_ended(curve, rise, end, stir):
            share = end.share and end.share.sooner(end.time_s - ended_s)
            return replace(end, time_s=ended_s, low_s=min(end.low_s, stir.start_s - TAKES_UP_S), share=share)
    return end


def _had_ended(curve: Curve, rise: Rise, end: Known, stir: Event) -> bool:
    """Whether hardly any water came since stirring began: only what the display still owed by then."""
    shown_g = float(np.interp(stir.start_s, curve.grid_s, curve.grid_g))
    flow_g_s = rise.gained_g / max(rise.lasts_s, curve.step_s)
    return end.level_g - shown_g < flow_g_s * (curve.response.delay_s + FROM_S)
