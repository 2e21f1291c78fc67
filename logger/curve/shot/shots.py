"""An espresso as a brewer says it: first drip, the flow's ramp, the stop, the after-drip, the yields.

All of it is read off the weight of beverage alone. Two shapes are fitted to it by least squares, times by
search, levels and flows linearly:

- the ramp: a flow that grows as ``(t / r) ** b`` up to a bend ``r`` seconds after the first drip, and from
  there changes steadily;
- the stop: a flow ``q`` that from the stop on fades as ``q exp(-t / d)``, so that ``q d (1 - exp(-t / d))``
  still arrive.

Times are those of the analysis' own axis. What a scale cannot see is None: the pump's start comes from a mark
or not at all, and where the stream turns blond no scale knows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from logger.curve.brew import Analysis, Floats, Pour
from logger.curve.readings.runs import Flags
from logger.curve.shot.figures import ShotFigures
from logger.curve.shot.shapes import Ramp, Stop, fit_ramp, fit_stop, steepest_g_s

APART_S = 12.0
"""A stream that rests for longer is another espresso; a lever is pulled again, a pump cut in, before that."""

LONGEST_WETTING_S = 90.0
"""A pump that was started longer before the first drip belongs to something else."""

_LEAST_SHARE = 0.5
_NEARLY_ALL = 0.96
_BEFORE_STOP_S, _AFTER_STOP_S = 5.0, 7.0
_CUT_OFF_S = 0.5
_SHAKEN_S = 0.3


def shots_of(analysis: Analysis, pump_s: float | None = None) -> tuple[ShotFigures, ...]:
    """Read every espresso in a recording, in order of time.

    :param analysis: of a weight curve; whether it is one of an espresso is the caller's to know
    :param pump_s: when the pump was started, on the analysis' axis, where somebody marked it
    :raises ValueError: when the mark is no finite number
    """
    if pump_s is not None and not math.isfinite(pump_s):
        raise ValueError(f"the pump's start is marked at {pump_s} s, which is no moment")
    groups = _apart(analysis)
    firsts_s = [group[0].start_s for group in groups]
    belongs = int(np.searchsorted(firsts_s, pump_s)) if pump_s is not None else -1
    shots = []
    for number, group in enumerate(groups):
        until_s = firsts_s[number + 1] if number + 1 < len(groups) else math.inf
        mine = pump_s if number == min(belongs, len(groups) - 1) else None
        shots.append(_figures(analysis, group, until_s, mine))
    return tuple(shots)


def main_shot(shots: Sequence[ShotFigures]) -> ShotFigures | None:
    """The espresso that a recording is about: the first that is no mere rinse; None where there is none."""
    most_g = max((shot.yield_at_rest_g for shot in shots), default=0.0)
    return next((shot for shot in shots if shot.yield_at_rest_g >= _LEAST_SHARE * most_g), None)


def analysis_of_shot(analysis: Analysis, shot: ShotFigures) -> Analysis:
    """The same recording with one espresso alone: its pours, its yield, its end."""
    base_g = shot.pours[0].from_g
    pours = [replace(pour, from_g=pour.from_g - base_g, to_g=pour.to_g - base_g) for pour in shot.pours]
    return replace(
        analysis,
        start_s=shot.first_drip_s,
        end_s=pours[-1].end_s,
        total_g=pours[-1].to_g,
        pours=tuple(pours),
        weight_g=analysis.weight_g - base_g,
    )


def _apart(analysis: Analysis) -> list[tuple[Pour, ...]]:
    """Group the pours into espressos: another one follows a long rest, or another cup."""
    groups: list[list[Pour]] = []
    for pour in analysis.pours:
        last = groups[-1][-1] if groups else None
        if (
            last
            and pour.start_s - last.end_s < APART_S
            and not _cup_moved(analysis, last.end_s, pour.start_s)
        ):
            groups[-1].append(pour)
        else:
            groups.append([pour])
    return [tuple(group) for group in groups]


def _cup_moved(analysis: Analysis, from_s: float, to_s: float) -> bool:
    return any(
        event.kind in ("vessel-on", "vessel-off") and from_s <= event.start_s <= to_s
        for event in analysis.events
    )


def _figures(
    analysis: Analysis, pours: tuple[Pour, ...], until_s: float, pump_s: float | None
) -> ShotFigures:
    first, last = pours[0], pours[-1]
    lifted_s = _lifted_s(analysis, last, until_s)
    remarks = []
    pump_s, doubt = _believed(pump_s, first.start_s)
    remarks += [doubt] if doubt else []
    if len(pours) > 1:
        remarks.append(f"The flow was cut and went on, in {len(pours)} parts; the stop is that of the last.")
    stop, why = _stop(analysis, last, min(lifted_s or math.inf, until_s))
    remarks += [why] if why else []
    ramp = _ramp(analysis, first, stop.time_s if stop and len(pours) == 1 else first.end_s)
    rest_g, rest_seen, why = _at_rest(analysis, last, stop, lifted_s)
    remarks += [why] if why else []
    base_g = first.from_g
    scale_g = math.hypot(analysis.noise_g, analysis.step_g / math.sqrt(12.0))
    stop_sd_s = _uncertainty_s(analysis, stop) if stop else 0.0
    return ShotFigures(
        pump_s=pump_s,
        first_drip_s=first.start_s,
        full_s=first.start_s + ramp.lasts_s if ramp else None,
        full_uncertainty_s=ramp.uncertainty_s if ramp else None,
        full_flow_g_s=ramp.flow_g_s if ramp else None,
        stop_s=stop.time_s if stop else None,
        stop_uncertainty_s=stop_sd_s if stop else None,
        end_s=max(last.end_s, stop.time_s) if stop else last.end_s,
        yield_at_stop_g=min(stop.weight_g, rest_g) - base_g if stop else None,
        yield_at_stop_uncertainty_g=math.hypot(scale_g, stop.flow_g_s * stop_sd_s) if stop else None,
        yield_at_rest_g=rest_g - base_g,
        rest_seen=rest_seen,
        yield_uncertainty_g=scale_g,
        peak_flow_g_s=_peak(analysis, first.start_s, stop.time_s if stop else last.end_s),
        pours=pours,
        remarks=tuple(remarks),
    )


def _believed(pump_s: float | None, first_drip_s: float) -> tuple[float | None, str]:
    """The pump's start, where it can be that of this shot; else why not."""
    if pump_s is None:
        return None, ""
    if pump_s > first_drip_s:
        return None, "The pump's start is marked after the first drip: it was not used."
    if first_drip_s - pump_s > LONGEST_WETTING_S:
        return None, "The pump's start is marked long before the first drip: it was not used."
    return pump_s, ""


def _lifted_s(analysis: Analysis, last: Pour, until_s: float) -> float | None:
    """When the cup was lifted off after, or in, the last stretch of flow."""
    moves = [
        event.start_s
        for event in analysis.events
        if event.kind == "vessel-off" and last.start_s < event.start_s < until_s
    ]
    return moves[0] if moves else None


def _between(analysis: Analysis, from_s: float, to_s: float) -> tuple[Floats, Floats]:
    time_s = analysis.time_s
    first, last = np.searchsorted(time_s, [from_s, to_s])
    time_s, weight_g = time_s[first:last], analysis.weight_g[first:last]
    known = np.isfinite(weight_g)
    return time_s[known], weight_g[known]


def _stop(analysis: Analysis, last: Pour, until_s: float) -> tuple[Stop | None, str]:
    """Fit the stop of the last stretch of flow; None with the reason where it was not seen."""
    seen_s = float(analysis.time_s[-1]) if analysis.time_s.size else -math.inf
    if seen_s < last.end_s + _CUT_OFF_S:
        return None, "The readings end while espresso still ran: no stop was seen."
    near_s = _nearly_all_s(analysis, last)
    if any(e.kind == "gap" and e.start_s < near_s + 0.5 and e.end_s > near_s - 1.5 for e in analysis.events):
        return None, "There are no readings around the stop."
    from_s = max(last.start_s + 0.3 * (last.end_s - last.start_s), near_s - _BEFORE_STOP_S)
    time_s, weight_g = _between(analysis, from_s, min(near_s + _AFTER_STOP_S, until_s - 0.2))
    calm = _calm(analysis, time_s)
    time_s, weight_g = time_s[calm], weight_g[calm]
    stop = fit_stop(time_s, weight_g, _grid_noise_g(analysis))
    if stop is not None:
        return stop, ""
    if until_s < last.end_s + 1.0:
        return None, "The cup was lifted while espresso still ran: no stop was seen."
    return None, "The stop cannot be told from the curve."


def _uncertainty_s(analysis: Analysis, stop: Stop) -> float:
    """Of a stop: that of the fit, and half the time in which the display's step fills."""
    return math.hypot(stop.uncertainty_s, 0.5 * analysis.step_g / stop.flow_g_s)


def _nearly_all_s(analysis: Analysis, pour: Pour) -> float:
    """When nearly all of a stretch had arrived: near its stop, whatever its last drops did."""
    time_s, weight_g = _between(analysis, pour.start_s, pour.end_s + _CUT_OFF_S)
    reached = np.flatnonzero(weight_g >= pour.from_g + _NEARLY_ALL * pour.poured_g)
    return float(time_s[reached[0]]) if reached.size else pour.end_s


def _calm(analysis: Analysis, time_s: Floats) -> Flags:
    """Where nothing shook the scale."""
    calm = np.ones(time_s.size, dtype=np.bool_)
    for event in analysis.events:
        if event.kind in ("knock", "stir", "gap"):
            calm &= (time_s < event.start_s - _SHAKEN_S) | (time_s > event.end_s + _SHAKEN_S)
    return calm


def _ramp(analysis: Analysis, first: Pour, until_s: float) -> Ramp | None:
    time_s, weight_g = _between(analysis, first.start_s, until_s)
    return fit_ramp(time_s - first.start_s, weight_g, _grid_noise_g(analysis))


def _at_rest(
    analysis: Analysis, last: Pour, stop: Stop | None, lifted_s: float | None
) -> tuple[float, bool, str]:
    """The weight at the end, whether it was at rest by then, and what has to be said of it."""
    if lifted_s is None:
        if stop is None:
            return last.to_g, False, ""
        return last.to_g, True, ""
    still_s = stop.end_s if stop else last.end_s
    if lifted_s >= still_s + 0.3:
        return last.to_g, stop is not None, ""
    _, weight_g = _between(analysis, lifted_s - 0.6, lifted_s - 0.1)
    seen_g = float(weight_g[-1]) if weight_g.size else last.to_g
    after = f", {lifted_s - stop.time_s:.1f} s after the stop" if stop and lifted_s > stop.time_s else ""
    return seen_g, False, f"The cup was lifted before the last drops{after}: the yield is what was seen."


def _peak(analysis: Analysis, from_s: float, to_s: float) -> float | None:
    time_s, weight_g = _between(analysis, from_s, to_s)
    return steepest_g_s(time_s, weight_g)


def _grid_noise_g(analysis: Analysis) -> float:
    """Noise of one value of the grid, at least what the display's step makes of it."""
    return max(analysis.noise_g, analysis.step_g / math.sqrt(12.0), 1e-3)
