"""The Cramér-Rao bound of a pour's end whose spout drips on: how well any method at all could know it.

The flow falls in a straight ramp, and what drips on begins at ``a`` and fades as ``a exp(-u / tau)``; the
end is where it falls below 0.1 g/s, ``tau ln(a / 0.1)`` after the ramp. Unknown are the level after it, the
flow and its slope, the ramp's end and length, ``a`` and ``tau``. An espresso fades from its whole flow when
the pump stops; there the scale's lag may be unknown as well, which rounds the same bend. What is known of
them beforehand (how much a hand wavers, how long its ramps and a spout's drip take) counts as information,
too, as in the van Trees inequality (van Trees, Detection, Estimation, and Modulation Theory, part I, 1968,
section 2.4).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from logger.curve.edges.fading import ENDS_AT_G_S
from logger.curve.edges.options import WAVERS_PER_S
from logger.curve.edges.shapes import (
    FALL_S,
    Response,
    end_shape,
    fade_shape,
    pressed,
    settled_square,
    shown_square,
)

Floats = NDArray[np.float64]

USUAL_RAMP_SD_S = 0.4
USUAL_FADE_SD_S = 0.3
USUAL_SHOT_FADE_SD_S = 0.8
UNKNOWN_LAG_SD_S = 0.2
"""Of a scale of which nothing is known but that it lags by 0.15 to 0.8 s."""

_STEP = 1e-4
_SHOT_STEP, _AT_ONCE_S = 1e-3, 0.02


def fading_end_g(time_s: Floats, parts: Floats, response: Response) -> Floats:
    """What a scale shows of the end of a pour whose spout drips on, g.

    :param time_s: shape (n,)
    :param parts: level after it, flow, its slope, the ramp's end and length, the drip at first, its fading
    """
    level_g, flow_g_s, slope, stops_s, ramp_s, drip_g_s, fade_s = parts
    since, before = time_s - stops_s, time_s - stops_s + ramp_s
    ended = (pressed(before, response) - pressed(since, response)) / ramp_s
    missing = since + 0.5 * ramp_s - response.delay_s + FALL_S - ended
    wavering = settled_square(before, response) - shown_square(before, response)
    still_to_come = fade_shape(since, float(fade_s), response)
    return np.asarray(level_g + flow_g_s * missing + slope * wavering - drip_g_s * still_to_come)


def fading_end_bound_s(
    noise_g: float,
    response: Response,
    rate_hz: float = 10.0,
    drip_g_s: float = 0.6,
    fade_s: float = 0.45,
    flow_g_s: float = 7.0,
    ramp_s: float = 0.4,
    until_s: float = 4.0,
) -> float:
    """Give the least standard deviation of the end, from 3 s before the stream stops on.

    :param noise_g: standard deviation of one reading
    :param drip_g_s: the flow with which the spout begins to drip on
    :param fade_s: the time constant with which that fades
    :param until_s: until so long after the stream has stopped there are readings
    """
    time_s = np.arange(-3.0, until_s, 1.0 / rate_hz)
    parts = np.array([0.0, flow_g_s, 0.0, 0.0, ramp_s, drip_g_s, fade_s])
    steps = _STEP * np.eye(parts.size)
    answers = [
        (fading_end_g(time_s, parts + step, response) - fading_end_g(time_s, parts - step, response))
        / (2.0 * _STEP)
        for step in steps
    ]
    known = np.array(
        [
            0.0,
            0.0,
            1.0 / (WAVERS_PER_S * flow_g_s) ** 2,
            0.0,
            1.0 / USUAL_RAMP_SD_S**2,
            1.0 / (0.06 * flow_g_s + 0.2) ** 2,
            1.0 / USUAL_FADE_SD_S**2,
        ]
    )
    information = np.array(answers) @ np.array(answers).T / noise_g**2 + np.diag(known)
    moves_end = np.array([0.0, 0.0, 0.0, 1.0, 0.0, fade_s / drip_g_s, float(np.log(drip_g_s / ENDS_AT_G_S))])
    return float(np.sqrt(moves_end @ np.linalg.inv(information) @ moves_end))


def shot_end_g(time_s: Floats, parts: Floats, order: int) -> Floats:
    """What a scale shows of the end of an espresso whose pump stops at once, g.

    :param time_s: shape (n,)
    :param parts: level after it, flow, its slope, when the pump stops, the fading, the scale's whole lag
    :param order: of the scale's lag
    """
    level_g, flow_g_s, slope, stops_s, fade_s, lag_s = parts
    response, since = Response(float(lag_s) / order, order), time_s - stops_s
    missing = end_shape(since, np.array(_AT_ONCE_S), response)
    wavering = settled_square(since, response) - shown_square(since, response)
    still_to_come = fade_shape(since, float(fade_s), response)
    return np.asarray(level_g + flow_g_s * (missing - still_to_come) + slope * wavering)


def shot_end_bound_s(
    noise_g: float,
    response: Response,
    lag_sd_s: float = 0.0,
    rate_hz: float = 10.0,
    flow_g_s: float = 2.0,
    fade_s: float = 0.8,
    until_s: float = 6.0,
) -> float:
    """Give the least standard deviation of an espresso's end, from 5 s before the pump stops on.

    :param noise_g: standard deviation of one reading
    :param lag_sd_s: how well the scale's lag is known
    :param fade_s: the time constant with which the flow fades
    :param until_s: until so long after the pump has stopped there are readings
    """
    time_s = np.arange(-5.0, until_s, 1.0 / rate_hz)
    parts = np.array([0.0, flow_g_s, 0.0, 0.013, fade_s, response.delay_s])
    answers = [
        (shot_end_g(time_s, parts + step, response.order) - shot_end_g(time_s, parts - step, response.order))
        / (2.0 * _SHOT_STEP)
        for step in _SHOT_STEP * np.eye(parts.size)
    ]
    sds = [
        np.inf,
        np.inf,
        WAVERS_PER_S * flow_g_s,
        np.inf,
        USUAL_SHOT_FADE_SD_S,
        max(lag_sd_s, _SHOT_STEP),
    ]
    information = np.array(answers) @ np.array(answers).T / noise_g**2 + np.diag(1.0 / np.square(sds))
    moves_end = np.array([0.0, fade_s / flow_g_s, 0.0, 1.0, float(np.log(flow_g_s / ENDS_AT_G_S)), 0.0])
    return float(np.sqrt(moves_end @ np.linalg.inv(information) @ moves_end))
