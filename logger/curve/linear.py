"""Least squares for many edges at once: level, flow, its wavering and what fades, each with its prior.

All candidates share their samples, so that every product of two columns is worked out once and each fit is a
few steps of elimination over whole arrays. Level and flow have no prior: they are what they are, and the
evidence leaves them out (a profile over them); the wavering and the fade have one around none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats


@dataclass(frozen=True, slots=True)
class Fits:
    """One fit for each fade (none first), time and ramp; all of shape (f + 1, c, r).

    :param score: logarithm of the evidence, up to a constant
    """

    score: Floats
    level_g: Floats
    level_sd_g: Floats
    flow_g_s: Floats
    fading_g_s: Floats


def fit_all(
    shapes: Sequence[Floats],
    waverings: Sequence[Floats],
    fades: Sequence[Floats],
    weight_g: Floats,
    noise_g: float,
    wavering_prior: float,
    fading_prior: float = 0.0,
) -> Fits:
    """Fit ``level + flow * shape + a * wavering + b * fade`` for every combination.

    :param shapes: for each ramp what the display shows of a flow 1 at each time, shape (c, n) each
    :param waverings: for each ramp the same of a flow that changes by 1 a second, shape (c, n) each
    :param fades: for each fade the same of a flow 1 that fades, shape (c, n) each
    :param weight_g: shape (n,)
    :param noise_g: standard deviation of one weight
    :param wavering_prior: precision of the wavering's prior, around none
    :param fading_prior: precision of the fade's prior, around none
    """
    ramps, count = len(shapes), weight_g.size
    mean_g = float(weight_g.mean())
    rest = weight_g - mean_g
    # One product for each time: all ramps' columns, all fades', and the weights, beside each other.
    columns = [*shapes, *waverings, *fades]
    rows = np.empty((shapes[0].shape[0], len(columns) + 1, count))
    for place, column in enumerate(columns):
        rows[:, place] = column
    rows[:, -1] = rest
    sums = rows.sum(axis=2)
    products = rows @ rows.swapaxes(1, 2)
    ramp, at, weight = np.arange(ramps), slice(None), rows.shape[1] - 1
    noise2 = noise_g**2
    pairs = {
        "ss": products[at, ramp, ramp] + 1e-9,
        "sw": products[at, ramp, ramps + ramp],
        "ww": products[at, ramps + ramp, ramps + ramp] + wavering_prior * noise2,
        "s1": sums[at, ramp],
        "w1": sums[at, ramps + ramp],
        "sy": products[at, ramp, weight],
        "wy": products[at, ramps + ramp, weight],
    }
    power = float(rest @ rest)
    fitted = [_without_fade(pairs, power, count, noise2, wavering_prior)]
    for number in range(len(fades)):
        fade = 2 * ramps + number
        pairs |= {
            "sf": products[at, ramp, fade],
            "wf": products[at, ramps + ramp, fade],
            "ff": products[at, fade, fade, None] + fading_prior * noise2,
            "f1": sums[at, fade, None],
            "fy": products[at, fade, weight, None],
        }
        fitted.append(_with_fade(pairs, power, count, noise2, wavering_prior, fading_prior))
    misfit, size, level, pivot, flow, fading = (np.stack(each) for each in zip(*fitted, strict=True))
    misfit = np.maximum(misfit, 0.0)
    spread2 = max(noise2, float(misfit.min()) / max(count - 5, 1))
    return Fits(
        score=-0.5 * (misfit / spread2 + size),
        level_g=level + mean_g,
        level_sd_g=np.sqrt(spread2 / np.maximum(pivot, 1e-9)),
        flow_g_s=flow,
        fading_g_s=fading,
    )


Fitted = tuple[Floats, Floats, Floats, Floats, Floats, Floats]


def _without_fade(
    p: dict[str, Floats], power: float, count: int, noise2: float, wavering_prior: float
) -> Fitted:
    """Eliminate flow, wavering and level, in this order; the last pivot is the level's precision."""
    to_w, to_1, to_y = p["sw"] / p["ss"], p["s1"] / p["ss"], p["sy"] / p["ss"]
    ww, w1, wy = p["ww"] - to_w * p["sw"], p["w1"] - to_w * p["s1"], p["wy"] - to_w * p["sy"]
    one, one_y = count - to_1 * p["s1"], -to_1 * p["sy"]
    misfit = power - to_y * p["sy"]
    ww = np.maximum(ww, 1e-12)
    one, one_y = one - w1 * w1 / ww, one_y - w1 * wy / ww
    misfit = misfit - wy * wy / ww
    one = np.maximum(one, 1e-9)
    level = one_y / one
    misfit = misfit - level * one_y
    wavers = (wy - w1 * level) / ww
    flow = to_y - to_1 * level - to_w * wavers
    size = np.log(ww) - np.log(wavering_prior * noise2)
    return misfit, size, level, one, flow, np.zeros_like(flow)


def _with_fade(
    p: dict[str, Floats], power: float, count: int, noise2: float, wavering_prior: float, fading_prior: float
) -> Fitted:
    """Eliminate flow, wavering, fade and level, in this order."""
    to_w, to_f, to_1, to_y = (p[key] / p["ss"] for key in ("sw", "sf", "s1", "sy"))
    ww, wf = np.maximum(p["ww"] - to_w * p["sw"], 1e-12), p["wf"] - to_w * p["sf"]
    w1, wy = p["w1"] - to_w * p["s1"], p["wy"] - to_w * p["sy"]
    ff, f1, fy = p["ff"] - to_f * p["sf"], p["f1"] - to_f * p["s1"], p["fy"] - to_f * p["sy"]
    one, one_y = count - to_1 * p["s1"], -to_1 * p["sy"]
    share_f, share_1 = wf / ww, w1 / ww
    ff, f1, fy = np.maximum(ff - share_f * wf, 1e-12), f1 - share_f * w1, fy - share_f * wy
    one, one_y = one - share_1 * w1, one_y - share_1 * wy
    one, one_y = np.maximum(one - f1 * f1 / ff, 1e-9), one_y - f1 * fy / ff
    level = one_y / one
    misfit = power - to_y * p["sy"] - wy * wy / ww - fy * fy / ff - level * one_y
    fading = (fy - f1 * level) / ff
    wavers = (wy - wf * fading - w1 * level) / ww
    flow = to_y - to_1 * level - to_f * fading - to_w * wavers
    size = np.log(ww * ff) - np.log(wavering_prior * fading_prior * noise2**2)
    return misfit, size, level, one, flow, fading
