"""Pours from rises whose edges are known: what arrived, between which times, and how sure that is."""

from __future__ import annotations

import math

import numpy as np

from logger.curve.brew import Event, Pour
from logger.curve.pours.certainty import Sure
from logger.curve.pours.drying import Drying
from logger.curve.pours.finding import Rise
from logger.curve.pours.fresh_levels import fresh_sd_g
from logger.curve.pours.ranges import (
    ENDS,
    LEVELS,
    STARTS,
    THIN_ENDS,
    THIN_STARTS,
    WALKS,
    Late,
    between_grams,
    between_times,
    coarse_sd_g,
    in_hole,
)
from logger.curve.pours.water_curve import Curve


def that_gained(
    rises: tuple[Rise, ...], sure: tuple[Sure, ...], drying: Drying
) -> tuple[tuple[Rise, ...], tuple[Sure, ...]]:
    """Leave out the rises whose edges, now that they are weighed, hold no water between them."""
    kept = [
        (rise, each)
        for rise, each in zip(rises, sure, strict=True)
        if _gained_g(each, each.end.time_s - each.start.time_s, drying) > 0.0
    ]
    return tuple(rise for rise, _ in kept), tuple(each for _, each in kept)


def _gained_g(sure: Sure, lasts_s: float, drying: Drying) -> float:
    """Give what came between two edges, less what the weight did by itself meanwhile."""
    return sure.end.level_g - sure.start.level_g - drying.moves_g(lasts_s)


def pours_from(
    curve: Curve,
    rises: tuple[Rise, ...],
    sure: tuple[Sure, ...],
    lag_sd_s: float | None,
    drying: Drying,
    events: tuple[Event, ...],
    *,
    step_g: float,
) -> tuple[Pour, ...]:
    """Turn rises into pours whose weights count from the first water.

    :param lag_sd_s: how well the scale's lag is known; None where nothing told it
    :param drying: what the weight does by itself meanwhile
    :param events: what happened besides
    :param step_g: the step of the display
    """
    pours: list[Pour] = []
    poured_g = 0.0
    for number, (rise, each) in enumerate(zip(rises, sure, strict=True)):
        until_s = sure[number + 1].start.time_s if number + 1 < len(sure) else np.inf
        from_s = pours[-1].end_s if pours else -np.inf
        pour = _pour(curve, rise, each, poured_g, (from_s, until_s), lag_sd_s, drying, events, step_g)
        pours.append(pour)
        poured_g = pours[-1].to_g
    return tuple(pours)


def _pour(
    curve: Curve,
    rise: Rise,
    sure: Sure,
    before_g: float,
    between_s: tuple[float, float],
    lag_sd_s: float | None,
    drying: Drying,
    events: tuple[Event, ...],
    step_g: float,
) -> Pour:
    from_s, until_s = between_s
    start_s = max(sure.start.time_s, from_s)
    end_s = max(min(sure.end.time_s, until_s), start_s + curve.step_s)
    lasts_s = end_s - start_s
    gained_g = max(_gained_g(sure, lasts_s, drying), 0.0)
    mean_g_s = gained_g / lasts_s
    late = Late.of(curve.response.delay_s, lag_sd_s, thin=sure.by_itself)
    starts, ends = (THIN_STARTS, THIN_ENDS) if sure.by_itself else (STARTS, ENDS)
    start, end = (in_hole(edge, curve.measured_s) for edge in (sure.start, sure.end))
    levels_sd_g = LEVELS * math.hypot(sure.start.level_sd_g, sure.end.level_sd_g)
    fresh_g = fresh_sd_g(start_s, end_s, events, curve.response.delay_s)
    coarse_g = coarse_sd_g(step_g, curve.noise_g)
    sd_g = math.hypot(levels_sd_g, coarse_g, WALKS * drying.sd_g(lasts_s), fresh_g)
    grams = between_grams(gained_g, sd_g, sure.end.after_g, thin=sure.by_itself)
    return Pour(
        start_s=start_s,
        end_s=end_s,
        from_g=before_g,
        to_g=before_g + gained_g,
        poured_g=gained_g,
        mean_flow_g_s=mean_g_s,
        peak_flow_g_s=max(rise.peak_flow_g_s, mean_g_s),
        start_between_s=between_times(start, start_s, starts, late, rise.start, coarse_g),
        end_between_s=None if sure.cut_off else between_times(end, end_s, ends, late, rise.end),
        poured_between_g=None if sure.cut_off else grams,
    )
