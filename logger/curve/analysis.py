"""The whole way from readings to a brew: time base, steps, lag, disturbances, pours, method."""

from __future__ import annotations

import numpy as np

from logger.curve.brew import METHODS, Analysis, Event, Floats, Method, Pour
from logger.curve.disturbances import find_disturbances, without_disturbances
from logger.curve.edges import Response
from logger.curve.flow import flow_on_pan_g_s, half_for, slope_g_s, smooth_g
from logger.curve.method import find_method
from logger.curve.noise import display_step_g, noise_g
from logger.curve.pours import Curve, Rise, find_rises
from logger.curve.response import USUAL, response_from
from logger.curve.solids import told_apart
from logger.curve.steps import Move, event_of, find_moves, find_tares, lifts_among, without_moves, without_tares
from logger.curve.timebase import Samples, grid_of, samples_from

FEWEST_READINGS = 8


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
    if method is not None and method not in METHODS:
        raise ValueError(f"method {method!r} is not one of {', '.join(METHODS)}")
    if response_s is not None and not 0.0 <= response_s <= 10.0:
        raise ValueError(f"a response time of {response_s!r} s is not one that a scale can have")
    samples = samples_from(time_s, weight_g)
    if samples.time_s.size < FEWEST_READINGS or samples.time_s[-1] <= samples.time_s[0]:
        return _empty(samples, response_s)
    step_g = display_step_g(samples.weight_g)
    noise = noise_g(samples, step_g)
    curve, events = _water_alone(samples, noise, step_g, response_s)
    rises, solids = told_apart(curve, find_rises(curve), events)
    curve, pours = _poured(curve, rises, solids)
    return _result(curve, pours, (*events, *solids), method, step_g)


def _water_alone(
    samples: Samples, noise: float, step_g: float, response_s: float | None
) -> tuple[Curve, tuple[Event, ...]]:
    """Take out of the curve all that is not water and does not rise like it."""
    tares = find_tares(samples, noise, step_g)
    weight = without_tares(samples, tares)
    moves = find_moves(grid_of(Samples(samples.time_s, weight, samples.interval_s)), noise)
    response = _response(samples, weight, moves, response_s)
    weight, stepped = without_moves(samples.time_s, weight, moves)
    grid = grid_of(Samples(samples.time_s, weight, samples.interval_s))
    disturbances = find_disturbances(grid, noise, step_g, response.delay_s)
    weight, disturbed = without_disturbances(samples.time_s, weight, disturbances)
    grid = grid_of(Samples(samples.time_s, weight, samples.interval_s))
    events = (*lifts_among(tares, moves), *(event_of(move) for move in moves), *disturbances, *_gaps(samples, weight))
    curve = Curve(
        samples.time_s,
        weight,
        stepped | disturbed,
        grid.time_s,
        grid.weight_g,
        grid.step_s,
        noise,
        response,
    )
    return curve, tuple(sorted(events, key=lambda event: event.start_s))


def _response(
    samples: Samples, weight: Floats, moves: tuple[Move, ...], response_s: float | None
) -> Response:
    if response_s is not None:
        return Response(response_s)
    return response_from(samples, weight, moves) or USUAL


def _gaps(samples: Samples, weight: Floats) -> tuple[Event, ...]:
    time = samples.time_s
    at = np.flatnonzero(np.diff(time) > samples.gap_s)
    return tuple(
        Event("gap", float(time[i]), float(time[i + 1]), float(weight[i + 1] - weight[i])) for i in at
    )


def _poured(
    curve: Curve, rises: tuple[Rise, ...], solids: tuple[Event, ...]
) -> tuple[Curve, tuple[Pour, ...]]:
    """Turn rises into pours whose weights count from the brew's first water."""
    pours, poured = [], 0.0
    for rise in rises:
        lasts_s = max(rise.lasts_s, curve.step_s)
        mean = rise.gained_g / lasts_s
        pours.append(
            Pour(
                rise.start.time_s,
                rise.start.time_s + lasts_s,
                poured,
                poured + rise.gained_g,
                rise.gained_g,
                mean,
                max(rise.peak_flow_g_s, mean),
            )
        )
        poured += rise.gained_g
    return curve, tuple(pours)


def _result(
    curve: Curve, pours: tuple[Pour, ...], events: tuple[Event, ...], method: Method | None, step_g: float
) -> Analysis:
    """Lay the pours' flow and weight on the even grid."""
    half = half_for(curve.grid_noise_g, curve.step_s, 0.3, 0.6, 2.0)
    flow = flow_on_pan_g_s(curve.grid_g, half, curve.step_s, curve.response.delay_s)
    pouring = np.zeros(curve.grid_s.size, dtype=np.bool_)
    for pour in pours:
        pouring |= (curve.grid_s >= pour.start_s) & (curve.grid_s <= pour.end_s)
    flow = np.where(pouring, np.maximum(flow, 0.0), 0.0)
    weight = smooth_g(curve.grid_g, 2)
    weight = np.where(pouring, weight + curve.response.delay_s * slope_g_s(curve.grid_g, half, curve.step_s), weight)
    if pours:
        before = curve.grid_s < pours[0].start_s
        weight = weight - (float(np.median(weight[before][-10:])) if before.any() else float(weight[0]))
    return Analysis(
        method=(method or find_method(pours, events)) if pours else None,
        start_s=pours[0].start_s if pours else None,
        end_s=pours[-1].end_s if pours else None,
        total_g=pours[-1].to_g if pours else 0.0,
        pours=pours,
        events=tuple(sorted(events, key=lambda event: event.start_s)),
        time_s=curve.grid_s,
        weight_g=weight,
        flow_g_s=flow,
        response_s=curve.response.delay_s,
        noise_g=curve.noise_g,
        step_g=step_g,
    )


def _empty(samples: Samples, response_s: float | None) -> Analysis:
    nothing = np.zeros(0)
    return Analysis(
        None, None, None, 0.0, (), (), nothing, nothing, nothing, response_s or 0.0, 0.0, 0.0
    )
