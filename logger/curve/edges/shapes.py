"""What a scale shows of a flow that begins and ends: the closed answers of its own lag.

With ``Q(u) = u^2 / 2`` for ``u > 0``, a flow that ramps from 0 to 1 within ``r`` seconds puts
``(Q(u) - Q(u - r)) / r`` on the pan ``u`` seconds after its first water. A scale of first order with time
constant ``T`` shows ``Q`` as ``u^2/2 - T u + T^2 (1 - exp(-u/T))``; twice the first order shows it as
``u^2/2 - 2 T u + 3 T^2 - (3 T^2 + T u) exp(-u/T)`` (both from the Laplace transform of ``1/(1 + T s)^m``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
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
_MOST_STAGES = 250.0
"""So many stages of a lag apart, nothing of it is left; an exponential of several times that is no number."""


def faded(time_s: Floats, turns_s: Floats, stages_s: Sequence[float]) -> list[Floats]:
    """How much of each of some lags is left: ``exp(-u / T)`` at ``u > 0`` after a turn, all of it before.

    Worked out by products, of one exponential for each time and one for each turn, not one for each pair.

    :param time_s: shape (e, n)
    :param turns_s: in order, shape (e, c), or (k, e, c) where they differ from lag to lag
    :returns: shape (e, c, n) each
    """
    middle_s = 0.5 * (turns_s[..., :1] + turns_s[..., -1:])
    stages = np.maximum(stages_s, _AT_ONCE_S)[:, None, None]
    turns, times = (turns_s - middle_s) / stages, (middle_s - time_s) / stages
    if turns.max() > _MOST_STAGES:
        pairs = zip(turns, times, strict=True)
        return [np.exp(np.minimum(turn[:, :, None] + at[:, None], 0.0)) for turn, at in pairs]
    times = np.exp(np.minimum(np.maximum(times, -2.0 * _MOST_STAGES), _MOST_STAGES))
    pairs = zip(np.exp(turns), times, strict=True)
    return [np.minimum(turn[:, :, None] * at[:, None], 1.0) for turn, at in pairs]


def shown_square(u: Floats, response: Response, fade: Floats | None = None) -> Floats:
    """What the scale shows of ``Q(u)``: see the module's text.

    :param fade: how much of a stage is left at each of them, as ``faded`` has it; None to work it out
    """
    return _shown(u, response, 0.0, fade)


def pressed(u: Floats, response: Response, fade: Floats | None = None) -> Floats:
    """What the scale shows of ``Q(u)``, with the stream's own pressure on the pan; parameters as there."""
    return _shown(u, response, FALL_S, fade)


def _shown(u: Floats, response: Response, fall_s: float, fade: Floats | None) -> Floats:
    """What the scale shows of ``Q(u)`` and, that many times, of its slope; the terms gathered by powers."""
    stage_s, after = response.stage_s, np.maximum(u, 0.0)
    early_s = fall_s - response.delay_s
    if stage_s <= _AT_ONCE_S:
        return np.asarray((0.5 * after + fall_s) * after)
    if fade is None:
        fade = np.exp(after / -stage_s)
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
    since_s: Floats,
    fades_s: Sequence[float],
    response: Response,
    left: Callable[[Sequence[float]], list[Floats]] | None = None,
) -> list[Floats]:
    """Give :func:`fade_shape` for several time constants.

    :param left: gives what ``faded`` does, where that is quicker; asked for the lag's stage first
    """
    stage_s, u = response.stage_s, np.maximum(since_s, 0.0)
    left = left or (lambda each_s: [np.exp(u / -fade_s) for fade_s in each_s])
    if stage_s <= _AT_ONCE_S:
        runs, each_left = since_s > 0.0, left([_AT_ONCE_S, *fades_s])[1:]
        return [
            np.asarray((fade_s - FALL_S * runs) * still_there)
            for fade_s, still_there in zip(fades_s, each_left, strict=True)
        ]
    apart_s = [_apart_from(stage_s, fade_s) for fade_s in fades_s]
    lagged, *each_left = left([stage_s, *apart_s])
    shapes = []
    for fade_s, still_there in zip(apart_s, each_left, strict=True):
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
