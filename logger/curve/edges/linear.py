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
    columns = [*shapes, *waverings, *fades, around.there[:, None], weight_g[:, None]]
    columns += [] if dripped is None else [dripped]
    edges, times, samples = shapes[0].shape
    rows = np.empty((edges, times, len(columns), samples))
    for place, column in enumerate(columns):
        rows[:, :, place] = column
    if not (around.believed == 1.0).all():
        rows *= around.believed[:, :, None]
    products = rows @ rows.swapaxes(2, 3)
    noise2 = around.noise_g[:, None] ** 2
    fitted = _eliminated(_Sums.of(products, len(shapes), len(fades), drips_g_s, priors, noise2))
    least = fitted.misfit.min(axis=(0, 1, 2, 4))[:, None]
    spread2 = np.maximum(noise2, least / np.maximum(around.counts[:, None] - 5, 1))
    fading_variance = 1.0 / fitted.fading_pivot + fitted.fading_per_level**2 / fitted.pivot
    whole = fitted.misfit.shape

    def by_edge(of_drips: Floats) -> Floats:
        """Put the edges first, and let the fades of each of what drips follow one another."""
        spread = of_drips if of_drips.shape == whole else np.broadcast_to(of_drips, whole)
        spread = spread.transpose(3, 0, 1, 2, 4)
        return spread.reshape(edges, -1, *spread.shape[3:])

    return Fits(
        score=by_edge(_how_close(around) - 0.5 * (fitted.misfit / spread2 + fitted.size)),
        level_g=by_edge(fitted.level_g + mean_g[:, None]),
        level_sd_g=by_edge(np.sqrt(spread2 / fitted.pivot)),
        flow_g_s=by_edge(fitted.flow_g_s),
        fading_g_s=by_edge(fitted.fading_g_s),
        fading_sd_g_s=by_edge(np.sqrt(spread2 * fading_variance)),
    )


def _how_close(around: Around) -> Floats | float:
    """Logarithm of how densely the samples should lie: what expects little of them explains little.

    It counts where candidates differ in what they believe; shape (e, c).
    """
    if around.believed.shape[1] == 1:
        return 0.0
    return np.asarray(
        np.log(around.believed, where=around.there[:, None] > 0.0, out=np.zeros_like(around.believed)).sum(
            axis=2
        )
    )


@dataclass(frozen=True, slots=True)
class _Sums:
    """Products of the columns: s shape, w wavering, f fade, 1 level, y weights; of shape (f, r, e, c).

    The first fade is none: its column is nothing, and its prior alone keeps it there. What drips is taken out
    of the weights: their products come for each of what may drip, of shape (d, f, r, e, c).
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
    priors: Floats
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
        by_pair = np.ascontiguousarray(products.transpose(2, 3, 0, 1))
        level, weight, drips = (2 * ramps + fades + place for place in range(3))
        ramp, wavers, fade = np.arange(ramps), ramps + np.arange(ramps), np.arange(2 * ramps, level)
        wavering, fading = priors.wavering * noise2, priors.fading * noise2
        with_y, power = by_pair[:, weight][None], by_pair[weight, weight][None]
        if drips < by_pair.shape[0]:
            drip = np.array(drips_g_s)[:, None, None, None]
            with_y = with_y - drip * by_pair[:, drips]
            power = with_y[:, weight] - drip[:, 0] * with_y[:, drips]

        def with_none(of_fades: Floats) -> Floats:
            """Put no fade before the fades."""
            shape = list(of_fades.shape)
            shape[-4] = 1
            return np.concatenate((np.zeros(shape), of_fades), axis=-4)

        return cls(
            ss=by_pair[ramp, ramp] + 1e-9,
            sw=by_pair[ramp, wavers],
            ww=by_pair[wavers, wavers] + wavering,
            s1=by_pair[:ramps, level],
            w1=by_pair[ramps : 2 * ramps, level],
            sy=with_y[:, None, :ramps],
            wy=with_y[:, None, ramps : 2 * ramps],
            sf=with_none(by_pair[2 * ramps : level, :ramps]),
            wf=with_none(by_pair[2 * ramps : level, ramps : 2 * ramps]),
            ff=with_none(by_pair[fade, fade][:, None]) + fading,
            f1=with_none(by_pair[2 * ramps : level, level][:, None]),
            fy=with_none(with_y[:, 2 * ramps : level, None]) + fading * priors.fading_g_s,
            one=by_pair[level, level],
            one_y=with_y[:, None, level, None],
            power=power[:, None, None],
            priors=wavering * fading,
            missed=fading * priors.fading_g_s**2,
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
    size = np.log(ww * ff) - np.log(p.priors)
    return _Fitted(misfit, size, level, one, flow, fading, ff, f1 / ff)
