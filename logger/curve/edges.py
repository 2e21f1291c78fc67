"""The edge of a pour: flow ramps up, or down, and the scale shows it through its own lag.

Every edge is fitted with the shapes of ``shapes``: level and flow by least squares, time and ramp by search.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.curve.brew import Floats
from logger.curve.edge_misfits import Window, misfits_of_all
from logger.curve.shapes import Response, end_shape, start_shape


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


THIN_FLOW_G_S = 3.0
"""Below that it flows like an espresso, which drips, builds up and fades over seconds."""

MOST_SAMPLES = 48

RAMPS_S = np.array([0.1, 0.4, 0.9, 1.7])


def fit_edge(
    time_s: Floats,
    weight_g: Floats,
    candidates_s: Floats,
    response: Response,
    *,
    is_start: bool,
    ramps_s: Floats = RAMPS_S,
) -> Edge:
    """Fit one edge; parameters as of a :class:`Window` and of :func:`fit_edges`."""
    window = Window(time_s, weight_g, candidates_s)
    return fit_edges([window], response, is_start=is_start, ramps_s=ramps_s)[0]


def fit_edges(
    windows: Sequence[Window], response: Response, *, is_start: bool, ramps_s: Floats = RAMPS_S
) -> list[Edge]:
    """Fit an edge to each window; their candidates are as far apart as each other.

    :param response: the scale's lag
    :param is_start: starts (nothing before them), or ends (nothing after them)
    :param ramps_s: ramp durations to try, shape (r,)
    """
    if not windows:
        return []
    windows = [_thinned(window) for window in windows]
    misfits = misfits_of_all(windows, _shifts(windows, ramps_s), [response], is_start=is_start)[0]
    return [
        _best(window, of_window[:, : window.candidates_s.size], ramps_s, response, is_start=is_start)
        for window, of_window in zip(windows, misfits, strict=True)
    ]


def misfits_g2(windows: Sequence[Window], responses: Sequence[Response], *, is_start: bool) -> Floats:
    """How well the best edge fits for each lag that the scale may have: mean squared residuals, shape (m, e).

    :param windows: of e edges, as :func:`fit_edges` has them
    :param responses: the lags, m of them
    """
    windows = [_thinned(window) for window in windows]
    misfits = misfits_of_all(windows, _shifts(windows, RAMPS_S), responses, is_start=is_start)
    counts = [window.time_s.size for window in windows]
    tried = min(window.candidates_s.size for window in windows)
    return np.asarray(_bottoms(misfits[..., :tried])[2].min(axis=2) / counts)


def _thinned(window: Window) -> Window:
    return Window(*thinned(window.time_s, window.weight_g), window.candidates_s)


def _shifts(windows: Sequence[Window], ramps_s: Floats) -> NDArray[np.int_]:
    """Ramps in steps of the candidates."""
    step_s = windows[0].candidates_s[1] - windows[0].candidates_s[0]
    return np.asarray(np.maximum(np.round(ramps_s / step_s), 1), dtype=np.int_)


def _best(window: Window, misfits: Floats, ramps_s: Floats, response: Response, *, is_start: bool) -> Edge:
    """Take the ramp that fits best at its best time, with the level and flow that belong to it."""
    # Half a candidate's step off moves the curve by more than the noise: compare ramps at their best times.
    lowest, shift, low = _bottoms(misfits)
    best = int(low.argmin())
    step_s = window.candidates_s[1] - window.candidates_s[0]
    at_s = float(window.candidates_s[lowest[best]] + shift[best] * step_s)
    ramp_s = float(ramps_s[best])
    shape, count = start_shape if is_start else end_shape, window.time_s.size
    template = shape(window.time_s - at_s, np.array(ramp_s), response)
    mean, mean_g = float(template.sum()) / count, float(window.weight_g.sum()) / count
    centred, rest = template - mean, window.weight_g - mean_g
    flow = max(float(centred @ rest) / max(float(centred @ centred), 1e-12), 0.0)
    left_g = rest - flow * centred
    return Edge(at_s, mean_g - flow * mean, flow, ramp_s, float(left_g @ left_g) / count)


def thinned(time_s: Floats, weight_g: Floats, most: int = MOST_SAMPLES) -> tuple[Floats, Floats]:
    """Take the mean of a few neighbours at a time where there are more samples than a fit needs."""
    each = time_s.size // most + 1
    if each == 1:
        return time_s, weight_g
    kept = time_s.size - time_s.size % each
    share = np.full(each, 1.0 / each)
    return time_s[:kept].reshape(-1, each) @ share, weight_g[:kept].reshape(-1, each) @ share


def _bottoms(misfits: Floats) -> tuple[NDArray[np.int_], Floats, Floats]:
    """Put a parabola through the lowest candidate and its neighbours, for many at once.

    :param misfits: shape (..., c)
    :returns: the lowest candidate, how far from it the bottom is (in candidates), and how low; (...) each
    """
    lowest, last = misfits.argmin(axis=-1), misfits.shape[-1] - 1
    places = np.clip(lowest[..., None] + np.array([-1, 0, 1]), 0, last)
    before, middle, after = np.moveaxis(np.take_along_axis(misfits, places, axis=-1), -1, 0)
    bend = before - 2.0 * middle + after
    # Where the lowest is the first or the last of all there is no parabola to put through it.
    bends = (lowest > 0) & (lowest < last) & (bend > 0.0)
    shift = np.where(bends, np.clip(0.5 * (before - after) / np.where(bends, bend, 1.0), -0.5, 0.5), 0.0)
    return lowest, shift, np.asarray(middle - 0.25 * (before - after) * shift)
