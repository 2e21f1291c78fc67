"""What a scale shows of a flow that begins and ends: the closed answers of its own lag.

With ``Q(u) = u^2 / 2`` for ``u > 0``, a flow that ramps from 0 to 1 within ``r`` seconds puts
``(Q(u) - Q(u - r)) / r`` on the pan ``u`` seconds after its first water. A scale of first order with time
constant ``T`` shows ``Q`` as ``u^2/2 - T u + T^2 (1 - exp(-u/T))``; twice the first order shows it as
``u^2/2 - 2 T u + 3 T^2 - (3 T^2 + T u) exp(-u/T)`` (both from the Laplace transform of ``1/(1 + T s)^m``).
"""

from __future__ import annotations

from collections.abc import Sequence
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


FALL_S = 0.1
"""A stream that falls on the pan presses on it as well, with its flow times its speed. In units of weight
that is flow times speed over gravity, the time of the fall: 0.1 s from 5 cm, 0.14 s from 10 cm. The force
comes with the stream and goes with it."""


_AT_ONCE_S = 1e-3
"""A lag as short as that is none."""


def left_of_lag(u: Floats, stage_s: float) -> Floats:
    """How much of a lag, or of what fades, is left: ``exp(-u / T)`` at ``u > 0``, all of it before."""
    return np.asarray(np.exp(np.maximum(u, 0.0) * (-1.0 / max(stage_s, _AT_ONCE_S))))


def left_of_step(since_s: Floats, stage_s: Floats | float, order: int) -> Floats:
    """How much of a step one or two equal stages have still to show: ``(1 + u/T) exp(-u/T)`` for two."""
    stages = np.maximum(since_s, 0.0) / np.maximum(stage_s, _AT_ONCE_S)
    return np.asarray(np.exp(-stages) * (1.0 + (order - 1) * stages))


def shown_square(u: Floats, response: Response) -> Floats:
    """What the scale shows of ``Q(u)``: see the module's text."""
    return _shown(u, response, 0.0)


def pressed(u: Floats, response: Response) -> Floats:
    """What the scale shows of ``Q(u)``, with the stream's own pressure on the pan."""
    return _shown(u, response, FALL_S)


def shown_and_pressed(u: Floats, response: Response, fade: Floats) -> tuple[Floats, Floats]:
    """Give ``shown_square`` and ``pressed`` at once.

    Behind each stage the display lags by the stage's time of its own slope: ``y = x - T y'``.

    :param fade: what ``left_of_lag`` gives of a stage
    """
    stage_s, after = response.stage_s, np.maximum(u, 0.0)
    square, slope = 0.5 * after**2, after
    if stage_s > _AT_ONCE_S:
        late = stage_s * (1.0 - fade)
        slope = after - late
        square -= stage_s * slope
        if response.order == 2:
            slope = slope - late + after * fade
            square -= stage_s * slope
    return square, square + FALL_S * slope


def _shown(u: Floats, response: Response, fall_s: float) -> Floats:
    """What the scale shows of ``Q(u)`` and, that many times, of its slope; the terms gathered by powers."""
    stage_s, after = response.stage_s, np.maximum(u, 0.0)
    early_s = fall_s - response.delay_s
    if stage_s <= _AT_ONCE_S:
        return np.asarray((0.5 * after + fall_s) * after)
    fade = np.exp(after * (-1.0 / stage_s))
    if response.order == 1:
        return np.asarray((0.5 * after + early_s) * after - stage_s * early_s * (1.0 - fade))
    settles_s2 = stage_s * (3.0 * stage_s - 2.0 * fall_s)
    left_s2 = settles_s2 - (fall_s - stage_s) * after
    return np.asarray((0.5 * after + early_s) * after + settles_s2 - left_s2 * fade)


def start_shape(since_s: Floats, ramp_s: Floats, response: Response) -> Floats:
    """What the scale shows of a start with flow 1, ``since_s`` after its first water."""
    begun, full = pressed(np.array((since_s, since_s - ramp_s)), response)
    return np.asarray((begun - full) / ramp_s)


def end_shape(since_s: Floats, ramp_s: Floats, response: Response) -> Floats:
    """What is still missing on the display, with flow 1, ``since_s`` after the last water (or before it)."""
    ended = start_shape(since_s + ramp_s, ramp_s, response)
    return np.asarray(since_s + 0.5 * ramp_s - response.delay_s + FALL_S - ended)


def settled_square(u: Floats, response: Response) -> Floats:
    """What the scale shows of ``u^2 / 2`` that has always been going on, before ``u = 0`` as after it."""
    settles_s2 = 0.5 * response.order * (response.order + 1) * response.stage_s**2
    return np.asarray(0.5 * u**2 - response.delay_s * u + settles_s2)


def fade_shape(since_s: Floats, fade_s: float, response: Response) -> Floats:
    """What is still missing on the display of a flow 1 that fades from ``since_s = 0`` on.

    Still to come on the pan is ``fade_s * exp(-u / fade_s)``, the whole of it before, less what the stream
    presses. The scale's lag follows from the partial fractions of ``1 / ((1 + fade_s s) (1 + T s)^m)``; the
    flow as it is shown is the slope of that.
    """
    return fade_shapes(since_s, (fade_s,), response)[0]


def fade_shapes(
    since_s: Floats, fades_s: Sequence[float], response: Response, lagged: Floats | None = None
) -> list[Floats]:
    """Give :func:`fade_shape` for several time constants.

    :param lagged: what ``left_of_lag`` gives of a stage; None to work it out
    """
    stage_s, u = response.stage_s, np.maximum(since_s, 0.0)
    if stage_s <= _AT_ONCE_S:
        return [np.asarray((fade_s - FALL_S * (since_s > 0.0)) * np.exp(u / -fade_s)) for fade_s in fades_s]
    if lagged is None:
        lagged = np.exp(u / -stage_s)
    shapes = []
    for fade_s in (_apart_from(stage_s, each_s) for each_s in fades_s):
        still_there = np.exp(u / -fade_s)
        share = fade_s / (fade_s - stage_s)
        if response.order == 1:
            missing = share * (fade_s - FALL_S) * still_there - share * (stage_s - FALL_S) * lagged
        else:
            share *= share
            per_s = share / fade_s + (1.0 - share) / stage_s
            of_lag = (1.0 - FALL_S / stage_s) * (1.0 - share) + FALL_S * per_s
            growing = (1.0 - FALL_S / stage_s) * per_s
            missing = share * (fade_s - FALL_S) * still_there + fade_s * (of_lag + growing * u) * lagged
        shapes.append(np.asarray(missing))
    return shapes


def _apart_from(stage_s: float, fade_s: float) -> float:
    """Where the two are the same the fractions are none; a little beside it the answer is the same."""
    if abs(stage_s - fade_s) >= 0.03 * fade_s:
        return fade_s
    return fade_s * (1.03 if fade_s >= stage_s else 0.97)
