"""Least squares for many edges at once: level, flow, its wavering and what fades, each with its prior.

All candidates of an edge share its samples, so that every product of two columns is worked out once and each
fit is a few steps of elimination over whole arrays. Level and flow have no prior: they are what they are, and
the evidence leaves them out (a profile over them); the wavering and the fade have one around none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.curve.brew import Floats
from logger.curve.edges.around import Around


@dataclass(frozen=True, slots=True)
class Fits:
    """One fit for each edge, way to go on, ramp and time; all of shape (e, w, r, c).

    The ways are the fades, none first; where something may drip besides, all of them for each of what drips.

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

    def only(self, edges: NDArray[np.intp]) -> Fits:
        """Take those of some edges."""
        return Fits(
            self.score[edges],
            self.level_g[edges],
            self.level_sd_g[edges],
            self.flow_g_s[edges],
            self.fading_g_s[edges],
            self.fading_sd_g_s[edges],
        )


@dataclass(frozen=True, slots=True)
class Priors:
    """What is known beforehand of each edge; all of shape (e, 1).

    :param wavering: precision of how the flow changes, around not at all
    :param fading: precision of what fades
    :param fading_g_s: what that is around
    """

    wavering: Floats
    fading: Floats
    fading_g_s: Floats


def fit_all(
    shapes: Sequence[Floats],
    waverings: Sequence[Floats],
    fades: Sequence[Floats],
    around: Around,
    priors: Priors,
    dripped: Floats | None = None,
    drips_g_s: Sequence[float] = (0.0,),
) -> Fits:
    """Fit ``level + flow * shape + a * wavering + b * fade`` for every combination.

    :param shapes: for each ramp what the display shows of a flow 1 at each time, shape (e, c, n) each
    :param waverings: for each ramp the same of a flow that changes by 1 a second, shape (e, c, n) each
    :param fades: for each fade the same of a flow 1 that fades, shape (e, c, n) each
    :param around: the samples
    :param dripped: what is in the weights besides where 1 g/s drips, shape (e, c, n)
    :param drips_g_s: how much may drip; the fits for each of them follow one another along the first axis
    """
    mean_g = around.weight_g.sum(axis=1) / around.counts
    weight_g = around.weight_g - mean_g[:, None]
    # One product for each time: columns of all ramps, of all fades, the level's, the weights' and the drips'.
    # The first fade is none: a column of nothing.
    faded = [0.0, *fades] if fades else []
    columns = [*shapes, *waverings, *faded, around.there[:, None], weight_g[:, None]]
    columns += [] if dripped is None else [dripped]
    edges, times, samples = shapes[0].shape
    rows = np.empty((edges, len(columns), times, samples))
    for place, column in enumerate(columns):
        rows[:, place] = column
    if not (around.believed == 1.0).all():
        rows *= around.believed[:, None]
    of_time = rows.swapaxes(1, 2)
    products = of_time @ of_time.swapaxes(2, 3)
    noise2 = around.noise_g[:, None] ** 2
    fitted = _eliminated(_Sums.of(products, len(shapes), len(faded), drips_g_s, priors, noise2))
    least = fitted.misfit.min(axis=(1, 2, 3, 4))
    spread2 = np.maximum(around.noise_g**2, least / np.maximum(around.counts - 5, 1))
    spread2 = spread2[:, None, None, None, None]
    close = _how_close(around)
    whole, ways = fitted.misfit.shape, (edges, -1, len(shapes), times)

    def by_way(of_drips: Floats) -> Floats:
        """Let the fades of each of what drips follow one another."""
        each = of_drips if of_drips.shape == whole else np.repeat(of_drips, whole[1], axis=1)
        return each.reshape(ways)

    return Fits(
        score=by_way(close - 0.5 * (fitted.misfit / spread2 + fitted.size)),
        level_g=by_way(fitted.level_g + mean_g[:, None, None, None, None]),
        level_sd_g=by_way(np.sqrt(spread2 / fitted.pivot)),
        flow_g_s=by_way(fitted.flow_g_s),
        fading_g_s=by_way(fitted.fading_g_s),
        fading_sd_g_s=by_way(np.sqrt(spread2 * fitted.fading_variance)),
    )


def _how_close(around: Around) -> Floats | float:
    """Logarithm of how densely the samples should lie: what expects little of them explains little.

    It counts where candidates differ in what they believe; shape (e, 1, 1, 1, c).
    """
    if around.believed.shape[1] == 1:
        return 0.0
    there = around.there[:, None] > 0.0
    dense = np.log(around.believed, where=there, out=np.zeros_like(around.believed)).sum(axis=2)
    return np.asarray(dense[:, None, None, None])


@dataclass(frozen=True, slots=True)
class _Sums:
    """Products of the columns: s shape, w wavering, f fade, 1 level, y weights; of shape (e, d, f, r, c).

    The first fade is none: its column is nothing, and its prior alone keeps it there. What drips is taken out
    of the weights: their products come for each of what may drip, those of the other columns once for all.
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
    one: Floats
    one_y: Floats
    power: Floats
    wavering: Floats
    fading: Floats
    missed: Floats

    @classmethod
    def of(
        cls,
        products: Floats,
        ramps: int,
        fades: int,
        drips_g_s: Sequence[float],
        priors: Priors,
        noise2: Floats,
    ) -> _Sums:
        """Take them out of all products, shape (e, c, k, k); times come last: arrays are quickest so."""
        by_pair = np.ascontiguousarray(products.transpose(0, 2, 3, 1))[:, None]
        # Where each kind of column begins; ramps and fades have axes of their own.
        fade, level = 2 * ramps, 2 * ramps + fades
        weight, drips = level + 1, level + 2
        of_shapes, of_waverings, of_fades = slice(ramps), slice(ramps, fade), slice(fade, level)
        each = np.arange(level)
        shape, wavers, fading = each[of_shapes], each[of_waverings], each[of_fades]
        wavering, of_fade = (
            (known * noise2)[:, :, None, None, None] for known in (priors.wavering, priors.fading)
        )
        around_g_s = priors.fading_g_s[:, :, None, None, None]
        with_y, power = by_pair[:, :, weight], by_pair[:, :, weight, weight]
        if drips < by_pair.shape[2]:
            drip = np.array(drips_g_s)[:, None, None]
            with_y = with_y - drip * by_pair[:, :, drips]
            power = with_y[:, :, weight] - drip[:, 0] * with_y[:, :, drips]
        return cls(
            ss=by_pair[:, :, None, shape, shape] + 1e-9,
            sw=by_pair[:, :, None, shape, wavers],
            ww=by_pair[:, :, None, wavers, wavers] + wavering,
            s1=by_pair[:, :, None, of_shapes, level],
            w1=by_pair[:, :, None, of_waverings, level],
            sy=with_y[:, :, None, of_shapes],
            wy=with_y[:, :, None, of_waverings],
            sf=by_pair[:, :, of_fades, of_shapes],
            wf=by_pair[:, :, of_fades, of_waverings],
            ff=by_pair[:, :, fading, fading][:, :, :, None] + of_fade,
            f1=by_pair[:, :, of_fades, level][:, :, :, None],
            fy=with_y[:, :, of_fades, None] + of_fade * around_g_s,
            one=by_pair[:, :, None, level, level][:, :, :, None],
            one_y=with_y[:, :, None, level][:, :, :, None],
            power=power[:, :, None, None],
            wavering=wavering,
            fading=of_fade,
            missed=of_fade * around_g_s**2,
        )


@dataclass(frozen=True, slots=True)
class _Fitted:
    misfit: Floats
    size: Floats
    level_g: Floats
    pivot: Floats
    flow_g_s: Floats
    fading_g_s: Floats
    fading_variance: Floats


def _eliminated(p: _Sums) -> _Fitted:
    """Eliminate flow, wavering, fade and level, in this order; the last pivot is the level's precision."""
    to_w, to_1, to_y = p.sw / p.ss, p.s1 / p.ss, p.sy / p.ss
    ww = np.maximum(p.ww - to_w * p.sw, 1e-12)
    w1, wy = p.w1 - to_w * p.s1, p.wy - to_w * p.sy
    share_1, share_y = w1 / ww, wy / ww
    one, one_y = p.one - to_1 * p.s1 - share_1 * w1, p.one_y - to_1 * p.sy - share_1 * wy
    misfit = p.power - to_y * p.sy - share_y * wy
    if not p.sf.size:
        one = np.maximum(one, 1e-9)
        level = one_y / one
        misfit = np.maximum(misfit - level * one_y, 0.0)
        flow = to_y - to_1 * level - to_w * (share_y - share_1 * level)
        nothing = np.zeros_like(one)
        return _Fitted(misfit, np.log(ww / p.wavering), level, one, flow, nothing, nothing)
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
    size = np.log(ww * ff) - np.log(p.wavering * p.fading)
    variance = 1.0 / ff + (f1 / ff) ** 2 / one
    return _Fitted(misfit, size, level, one, flow, fading, variance)
