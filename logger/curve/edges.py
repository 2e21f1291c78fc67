"""The edge of a pour: flow ramps up, or down, and the scale shows it through its own lag.

With ``Q(u) = u^2 / 2`` for ``u > 0``, a flow that ramps from 0 to 1 within ``r`` seconds puts
``(Q(u) - Q(u - r)) / r`` on the pan ``u`` seconds after its first water. A scale of first order with time
constant ``T`` shows ``Q`` as ``u^2/2 - T u + T^2 (1 - exp(-u/T))``; twice the first order shows it as
``u^2/2 - 2 T u + 3 T^2 - (3 T^2 + T u) exp(-u/T)`` (both from the Laplace transform of ``1/(1 + T s)^m``).
Every edge is fitted with these shapes: level and flow by least squares, time and ramp by search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats


@dataclass(frozen=True, slots=True)
class Response:
    """How a scale lags behind its load: ``order`` equal first-order stages of ``stage_s`` each."""

    stage_s: float
    order: int = 1

    @property
    def delay_s(self) -> float:
        """By how much a steady ramp is shown late."""
        return self.stage_s * self.order


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge, fitted.

    :param time_s: the first water of a start; the last water of an end
    :param level_g: the weight before a start; after an end
    :param flow_g_s: the flow that the ramp leads to, or comes from
    :param ramp_s: how long the ramp takes
    :param misfit_g2: mean squared residual
    """

    time_s: float
    level_g: float
    flow_g_s: float
    ramp_s: float
    misfit_g2: float


FALL_S = 0.1
"""A stream that falls on the pan presses on it as well, with its flow times its speed. In units of weight
that is flow times speed over gravity, the time of the fall: 0.1 s from 5 cm, 0.14 s from 10 cm. The force
comes with the stream and goes with it."""

RAMPS_S = np.array([0.15, 0.4, 0.8, 1.3, 2.0])


def shown_square(u: Floats, response: Response) -> Floats:
    """What the scale shows of ``Q(u)``: see the module's text."""
    stage_s, after = response.stage_s, np.maximum(u, 0.0)
    if stage_s <= 1e-3:
        return np.asarray(0.5 * after**2)
    decay = np.exp(-after / stage_s)
    if response.order == 1:
        return np.asarray(0.5 * after**2 - stage_s * after + stage_s**2 * (1.0 - decay))
    settled = 0.5 * after**2 - 2.0 * stage_s * after + 3.0 * stage_s**2
    return np.asarray(settled - (3.0 * stage_s**2 + stage_s * after) * decay)


def start_shape(since_s: Floats, ramp_s: Floats, response: Response) -> Floats:
    """What the scale shows of a start with flow 1, ``since_s`` after its first water."""
    water = (shown_square(since_s, response) - shown_square(since_s - ramp_s, response)) / ramp_s
    return np.asarray(water + FALL_S * shown_flow(since_s, ramp_s, response))


def end_shape(since_s: Floats, ramp_s: Floats, response: Response) -> Floats:
    """What is still missing on the display, with flow 1, ``since_s`` after the last water (or before it)."""
    ended = start_shape(since_s + ramp_s, ramp_s, response)
    return np.asarray(since_s + 0.5 * ramp_s - response.delay_s + FALL_S - ended)


def shown_flow(since_s: Floats, ramp_s: Floats, response: Response) -> Floats:
    """What the scale would show of a force equal to a flow that ramps from 0 to 1 (``r`` seconds long)."""
    return np.asarray((_shown_rise(since_s, response) - _shown_rise(since_s - ramp_s, response)) / ramp_s)


def _shown_rise(u: Floats, response: Response) -> Floats:
    """The derivative of ``shown_square``: what the scale shows of ``u`` for ``u > 0``."""
    stage_s, after = response.stage_s, np.maximum(u, 0.0)
    if stage_s <= 1e-3:
        return np.asarray(after)
    decay = np.exp(-after / stage_s)
    if response.order == 1:
        return np.asarray(after - stage_s * (1.0 - decay))
    return np.asarray(after - 2.0 * stage_s + (2.0 * stage_s + after) * decay)


def fit_edge(
    time_s: Floats,
    weight_g: Floats,
    candidates_s: Floats,
    response: Response,
    *,
    is_start: bool,
    ramps_s: Floats = RAMPS_S,
) -> Edge:
    """Fit one edge to samples around it.

    :param time_s: times of the samples, shape (n,), n >= 4
    :param weight_g: their weights, shape (n,)
    :param candidates_s: evenly spaced times at which the edge may be, shape (c,)
    :param response: the scale's lag
    :param is_start: a start (nothing before it), or an end (nothing after it)
    :param ramps_s: ramp durations to try, shape (k,)
    """
    misfits = _trials(time_s, weight_g, candidates_s, ramps_s, response, is_start)[1]
    # Half a candidate's step moves the curve by more than the noise: ramps compare at the best time of each.
    lows = [_lowest_between(candidates_s, misfit) for misfit in misfits]
    ramp = int(np.argmin([misfit for _, misfit in lows]))
    at_s = np.array([lows[ramp][0]])
    best = _trials(time_s, weight_g, at_s, ramps_s[ramp : ramp + 1], response, is_start)
    flow, misfit, mean = (float(each[0, 0]) for each in best)
    level = float(weight_g.mean()) - flow * mean
    return Edge(float(at_s[0]), level, flow, float(ramps_s[ramp]), max(misfit, 0.0) / time_s.size)


def _trials(
    time_s: Floats, weight_g: Floats, at_s: Floats, ramps_s: Floats, response: Response, is_start: bool
) -> tuple[Floats, Floats, Floats]:
    """Flow, squared misfit and the shape's mean for each ramp and each time; shapes (k, c)."""
    shape = start_shape if is_start else end_shape
    template = shape(time_s - at_s[:, None], ramps_s[:, None, None], response)
    mean = template.mean(axis=2)
    centred = template - mean[:, :, None]
    weight = weight_g - weight_g.mean()
    power = np.maximum((centred**2).sum(axis=2), 1e-12)
    flow = np.maximum((centred @ weight) / power, 0.0)
    return flow, (weight @ weight) - flow**2 * power, mean


def _lowest_between(at: Floats, misfit: Floats) -> tuple[float, float]:
    """Put a parabola through the lowest candidate and its neighbours: the time of its bottom, and how low."""
    place = int(np.argmin(misfit))
    if not 0 < place < at.size - 1:
        return float(at[place]), float(misfit[place])
    before, lowest, after = misfit[place - 1 : place + 2]
    bend = before - 2.0 * lowest + after
    shift = float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend > 0 else 0.0
    return float(at[place] + shift * (at[1] - at[0])), float(lowest - 0.25 * (before - after) * shift)
