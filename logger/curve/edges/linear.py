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
    shapes: Floats,
    waverings: Floats,
    fades: Sequence[Floats],
    around: Around,
    priors: Priors,
    dripped: Floats | None = None,
    drips_g_s: Sequence[float] = (0.0,),
    *,
    of_one: bool = False,
) -> Fits:
    """Fit ``level + flow * shape + a * wavering + b * fade`` for every combination.

    :param shapes: for each ramp what the display shows of a flow 1 at each time, shape (e, r, c, n)
    :param waverings: for each ramp the same of a flow that changes by 1 a second, shape (e, r, c, n)
    :param fades: for each fade the same of a flow 1 that fades, shape (e, c, n) each
    :param around: the samples
    :param dripped: what is in the weights besides where 1 g/s drips, shape (e, c, n)
    :param drips_g_s: how much may drip; the fits for each of them follow one another along the first axis
    :param of_one: whether all are one edge, seen in several ways: what the best of these leaves is noise then
    """
    mean_g = around.weight_g.sum(axis=1) / around.counts
    weight_g = around.weight_g - mean_g[:, None]
    edges, ramps, times, samples = shapes.shape
    # The first fade is none: a column of nothing.
    faded = [0.0, *fades] if fades else []
    others = [*faded, around.there[:, None], weight_g[:, None], *([] if dripped is None else [dripped])]
    rows = np.empty((edges, len(others) + 2 * ramps, times, samples))
    for place, other in enumerate(others):
        rows[:, place] = other
    rows[:, -2 * ramps : -ramps], rows[:, -ramps:] = shapes, waverings
    if not (around.believed == 1.0).all():
        rows *= around.believed[:, None]
    noise2 = around.noise_g[:, None] ** 2
    fitted = _eliminated(_Sums.of(rows, ramps, len(faded), drips_g_s, priors, noise2))
    least = fitted.misfit.min(axis=(1, 2, 3, 4))
    least = np.full_like(least, least.min()) if of_one else least
    spread2 = np.maximum(around.noise_g**2, least / np.maximum(around.counts - 5, 1))
    spread2 = spread2[:, None, None, None, None]
    close = _how_close(around)
    whole, ways = fitted.misfit.shape, (edges, -1, ramps, times)

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
        rows: Floats,
        ramps: int,
        fades: int,
        drips_g_s: Sequence[float],
        priors: Priors,
        noise2: Floats,
    ) -> _Sums:
        """Sum over the samples.

        :param rows: the columns of all fades, of the level, of the weights, of what drips where anything may,
            of all ramps, and of their waverings; shape (e, k, c, n)
        """
        level, weight, drips = fades, fades + 1, fades + 2
        of_fades, of_shapes, of_waverings = slice(fades), slice(-2 * ramps, -ramps), slice(-ramps, None)
        shapes, waverings, others = rows[:, of_shapes], rows[:, of_waverings], rows[:, : -2 * ramps]
        products = rows.swapaxes(1, 2) @ others.transpose(0, 2, 3, 1)
        # Each of the others with all, shape (e, o, k, c): times come last, as arrays are quickest so.
        by_other = np.ascontiguousarray(products.transpose(0, 3, 2, 1))
        with_fades, with_1 = by_other[:, of_fades], by_other[:, None, level]
        with_y = by_other[:, None, weight]
        power = with_y[:, :, weight]
        if drips < by_other.shape[1]:
            drip, with_drips = np.array(drips_g_s)[:, None, None], by_other[:, None, drips]
            with_y = with_y - drip * with_drips
            power = with_y[:, :, weight] - drip[:, 0] * with_y[:, :, drips]
        wavering, of_fade = (
            (known * noise2)[:, :, None, None, None] for known in (priors.wavering, priors.fading)
        )
        around_g_s = priors.fading_g_s[:, :, None, None, None]
        return cls(
            ss=_summed(shapes, shapes) + 1e-9,
            sw=_summed(shapes, waverings),
            ww=_summed(waverings, waverings) + wavering,
            s1=with_1[:, :, None, of_shapes],
            w1=with_1[:, :, None, of_waverings],
            sy=with_y[:, :, None, of_shapes],
            wy=with_y[:, :, None, of_waverings],
            sf=with_fades[:, None, :, of_shapes],
            wf=with_fades[:, None, :, of_waverings],
            ff=_summed(rows[:, of_fades], rows[:, of_fades]).swapaxes(2, 3) + of_fade,
            f1=with_1[:, :, of_fades, None],
            fy=with_y[:, :, of_fades, None] + of_fade * around_g_s,
            one=with_1[:, :, level, None, None],
            one_y=with_y[:, :, level, None, None],
            power=power[:, :, None, None],
            wavering=wavering,
            fading=of_fade,
            missed=of_fade * around_g_s**2,
        )


def _summed(columns: Floats, others: Floats) -> Floats:
    """Sum each column times its other over the samples, shape (e, 1, 1, r, c).

    :param columns: shape (e, r, c, n), with ``others`` alike
    """
    return np.asarray(np.vecdot(columns, others)[:, None, None])


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
