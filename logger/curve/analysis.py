"""The whole way from readings to a brew."""

from __future__ import annotations

import numpy as np

from logger.curve.brew import METHODS, Analysis, Floats, Method
from logger.curve.drift import drifts_of, with_level_ends
from logger.curve.edges.shapes import Response
from logger.curve.pours.course import flow_courses
from logger.curve.pours.flow import flow_half_for, flow_on_pan_g_s, flow_sd_g_s, slope_g_s, smooth_g
from logger.curve.pours.method import find_method
from logger.curve.readings.median import median
from logger.curve.readings.timebase import Samples, checked, samples_of_checked
from logger.curve.water import Read, read_samples

FEWEST_READINGS = 8
_TIME_DIGITS = 9


def analyse(
    time_s: object, weight_g: object, method: Method | None = None, response_s: float | None = None
) -> Analysis:
    """Split a recorded weight curve into pours and events.

    :param time_s: arrival times, seconds, not falling, shape (n,)
    :param weight_g: weights in g, shape (n,); readings that are not finite are left out
    :param method: ``pour-over``, ``espresso``, ``immersion``, or None to find out
    :param response_s: the scale's own first-order response time, where known; None to estimate it
    :returns: an analysis without pours where the recording holds no brew
    :raises ValueError: when the arrays do not match, time runs backwards, or the method is unknown
    """
    check_method(method)
    if response_s is not None and not 0.0 <= response_s <= 10.0:
        raise ValueError(f"a response time of {response_s!r} s is not one that a scale can have")
    time, weight = checked(time_s, weight_g)
    from_s = float(time[0]) if time.size else 0.0
    # Counted from the first reading, the same brew gives the same numbers at any time of day.
    samples = samples_of_checked(np.round(time - from_s, _TIME_DIGITS), weight)
    if not holds_enough(samples):
        return _empty(response_s)
    read = read_samples(samples, None if response_s is None else Response(response_s), method=method)
    return _result(read, method).later(from_s)


def check_method(method: str | None) -> None:
    """Refuse a method that is none.

    :raises ValueError: naming the known ones
    """
    if method is not None and method not in METHODS:
        raise ValueError(f"method {method!r} is not one of {', '.join(METHODS)}")


def holds_enough(samples: Samples) -> bool:
    """Whether there is anything to analyse: a handful of readings, over some time."""
    return samples.time_s.size >= FEWEST_READINGS and bool(samples.time_s[-1] > samples.time_s[0])


def _result(read: Read, method: Method | None) -> Analysis:
    """Lay flow and weight on the even grid."""
    curve, pours = read.curve, read.pours
    flow, flow_sd, weight = _flow_and_weight(read)
    weight = with_level_ends(curve.grid_s, weight, pours)
    total_g = pours[-1].to_g if pours else 0.0
    events = sorted((*read.events, *drifts_of(read)), key=lambda event: event.start_s)
    return Analysis(
        method=(method or find_method(pours, read.events)) if pours else None,
        start_s=pours[0].start_s if pours else None,
        end_s=pours[-1].end_s if pours else None,
        total_g=total_g,
        pours=pours,
        events=tuple(events),
        time_s=curve.grid_s,
        weight_g=weight,
        flow_g_s=flow,
        flow_sd_g_s=flow_sd,
        response_s=curve.response.delay_s,
        noise_g=curve.noise_g,
        step_g=read.step_g,
        drift_g=float(weight[-1] - weight[0]) - total_g,
    )


def _flow_and_weight(read: Read) -> tuple[Floats, Floats, Floats]:
    """Flow on the pan within pours, its deviation, and the weight of water with the scale's lag taken out."""
    curve = read.curve
    half = flow_half_for(curve.grid_noise_g, curve.step_s, curve.response.delay_s)
    flow = flow_on_pan_g_s(curve.grid_g, half, curve.step_s, curve.response.delay_s)
    noise_g_s = flow_sd_g_s(curve.grid_noise_g, half, curve.step_s, curve.response.delay_s)
    half_s = half * curve.step_s
    course, sd_g_s = flow_courses(curve.grid_s, flow, noise_g_s, half_s, read.pours, read.edges)
    late_g = curve.response.delay_s * slope_g_s(curve.grid_g, half, curve.step_s)
    weight = smooth_g(curve.grid_g, 2) + np.where(course > 0.0, late_g, 0.0)
    for solid in read.solids:
        arrived = np.clip((curve.grid_s - solid.start_s) / (solid.end_s - solid.start_s), 0.0, 1.0)
        weight = weight - solid.change_g * arrived
    return course, sd_g_s, weight - _level_before(weight, read)


def _level_before(weight: Floats, read: Read) -> float:
    """The weight just before the first water, which counts as nothing."""
    if not read.pours:
        return 0.0
    before = read.curve.grid_s < read.pours[0].start_s
    return median(weight[before][-10:]) if before.any() else float(weight[0])


def _empty(response_s: float | None) -> Analysis:
    nothing = np.zeros(0)
    return Analysis(None, None, None, 0.0, (), (), nothing, nothing, nothing, response_s or 0.0, 0.0, 0.0)
