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
    """One fit for each fade (none first), time and ramp; all of shape (f + 1, r, c).

    :param score: logarithm of the evidence, up to a constant
    :param fading_g_s: what fades, at first
    :param fading_sd_g_s: its standard deviation
    """

    score: Floats
    level_g: Floats
    level_sd_g: Floats
    flow_g_s: Floats
    fading_g_s: Floats
    fading_sd_g_s: Floats


def fit_all(
    shapes: Sequence[Floats],
    waverings: Sequence[Floats],
    fades: Sequence[Floats],
    weight_g: Floats,
    noise_g: float,
    wavering_prior: float,
    fading_prior: float = 1.0,
    fading_g_s: float = 0.0,
) -> Fits:
    """Fit ``level + flow * shape + a * wavering + b * fade`` for every combination.

    :param shapes: for each ramp what the display shows of a flow 1 at each time, shape (c, n) each
    :param waverings: for each ramp the same of a flow that changes by 1 a second, shape (c, n) each
    :param fades: for each fade the same of a flow 1 that fades, shape (c, n) each
    :param weight_g: shape (n,)
    :param noise_g: standard deviation of one weight
    :param wavering_prior: precision of the wavering's prior, around none
    :param fading_prior: precision of the fade's prior
    :param fading_g_s: what that prior is around
    """
    ramps, mean_g = len(shapes), float(weight_g.mean())
    # One product for each time: columns of all ramps, of all fades, the level's and the weights.
    columns = [*shapes, *waverings, *fades, np.ones_like(weight_g), weight_g - mean_g]
    rows = np.empty((shapes[0].shape[0], len(columns), weight_g.size))
    for place, column in enumerate(columns):
        rows[:, place] = column
    products = rows @ rows.swapaxes(1, 2)
    noise2 = noise_g**2
    sums = _Sums.of(products, ramps, wavering_prior * noise2, fading_prior * noise2, fading_g_s)
    fitted = _eliminated(sums)
    spread2 = max(noise2, float(fitted.misfit.min()) / max(weight_g.size - 5, 1))
    fading_variance = 1.0 / fitted.fading_pivot + fitted.fading_per_level**2 / fitted.pivot
    return Fits(
        score=-0.5 * (fitted.misfit / spread2 + fitted.size),
        level_g=fitted.level_g + mean_g,
        level_sd_g=np.sqrt(spread2 / fitted.pivot),
        flow_g_s=fitted.flow_g_s,
        fading_g_s=fitted.fading_g_s,
        fading_sd_g_s=np.sqrt(spread2 * fading_variance),
    )


@dataclass(frozen=True, slots=True)
class _Sums:
    """Products of the columns: s shape, w wavering, f fade, 1 level, y weights; together of shape (f, r, c).

    The first fade is none: its column is nothing, and its prior alone keeps it there.
    """

    ss: Floats
    sw: Floats
    ww: Floats
    s1: Floats
    w1: Floats
    sy: Floats
    wy: Floats
    sf: Floats
    wf: Floats
    ff: Floats
    f1: Floats
    fy: Floats
    one: float
    one_y: float
    power: float
    priors: tuple[float, float]
    missed: float

    @classmethod
    def of(cls, products: Floats, ramps: int, wavering: float, fading: float, expected: float) -> _Sums:
        """Take them out of all products, shape (c, k, k); times come last: arrays are quickest along them."""
        by_pair = np.ascontiguousarray(products.transpose(1, 2, 0))
        level, weight = by_pair.shape[0] - 2, by_pair.shape[0] - 1
        ramp, wavers, fade = np.arange(ramps), ramps + np.arange(ramps), np.arange(2 * ramps, level)

        def with_none(of_fades: Floats) -> Floats:
            """Put no fade before the fades."""
            return np.concatenate((np.zeros((1, *of_fades.shape[1:])), of_fades))

        return cls(
            ss=by_pair[ramp, ramp] + 1e-9,
            sw=by_pair[ramp, wavers],
            ww=by_pair[wavers, wavers] + wavering,
            s1=by_pair[:ramps, level],
            w1=by_pair[ramps : 2 * ramps, level],
            sy=by_pair[:ramps, weight],
            wy=by_pair[ramps : 2 * ramps, weight],
            sf=with_none(by_pair[2 * ramps : level, :ramps]),
            wf=with_none(by_pair[2 * ramps : level, ramps : 2 * ramps]),
            ff=with_none(by_pair[fade, fade][:, None]) + fading,
            f1=with_none(by_pair[2 * ramps : level, level][:, None]),
            fy=with_none(by_pair[2 * ramps : level, weight][:, None]) + fading * expected,
            one=float(products[0, level, level]),
            one_y=float(products[0, level, weight]),
            power=float(products[0, weight, weight]),
            priors=(wavering, fading),
            missed=fading * expected**2,
        )


@dataclass(frozen=True, slots=True)
class _Fitted:
    misfit: Floats
    size: Floats
    level_g: Floats
    pivot: Floats
    flow_g_s: Floats
    fading_g_s: Floats
    fading_pivot: Floats
    fading_per_level: Floats


def _eliminated(p: _Sums) -> _Fitted:
    """Eliminate flow, wavering, fade and level, in this order; the last pivot is the level's precision."""
    to_w, to_1, to_y = p.sw / p.ss, p.s1 / p.ss, p.sy / p.ss
    ww = np.maximum(p.ww - to_w * p.sw, 1e-12)
    w1, wy = p.w1 - to_w * p.s1, p.wy - to_w * p.sy
    share_1, share_y = w1 / ww, wy / ww
    one, one_y = p.one - to_1 * p.s1 - share_1 * w1, p.one_y - to_1 * p.sy - share_1 * wy
    misfit = p.power - to_y * p.sy - share_y * wy
    # From here on for every fade.
    to_f = p.sf / p.ss
    wf = p.wf - to_w * p.sf
    share_f = wf / ww
    ff = np.maximum(p.ff - to_f * p.sf - share_f * wf, 1e-12)
    f1 = p.f1 - to_f * p.s1 - share_f * w1
    fy = p.fy - to_f * p.sy - share_f * wy
    one, one_y = np.maximum(one - f1 * f1 / ff, 1e-9), one_y - f1 * fy / ff
    level = one_y / one
    misfit = np.maximum(misfit + p.missed - fy * fy / ff - level * one_y, 0.0)
    fading = (fy - f1 * level) / ff
    wavers = share_y - share_f * fading - share_1 * level
    flow = to_y - to_1 * level - to_f * fading - to_w * wavers
    size = np.log(ww * ff) - np.log(p.priors[0] * p.priors[1])
    return _Fitted(misfit, size, level, one, flow, fading, ff, f1 / ff)
