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
    return np.asarray(_bottoms(misfits[..., :tried]).min(axis=2) / counts)


def _thinned(window: Window) -> Window:
    return Window(*thinned(window.time_s, window.weight_g), window.candidates_s)


def _shifts(windows: Sequence[Window], ramps_s: Floats) -> NDArray[np.int_]:
    """Ramps in steps of the candidates."""
    step_s = windows[0].candidates_s[1] - windows[0].candidates_s[0]
    return np.asarray(np.maximum(np.round(ramps_s / step_s), 1), dtype=np.int_)


def _best(window: Window, misfits: Floats, ramps_s: Floats, response: Response, *, is_start: bool) -> Edge:
    """Take the ramp that fits best at its best time, with the level and flow that belong to it."""
    # Half a candidate's step off moves the curve by more than the noise: compare ramps at their best times.
    (at_s, _), ramp_s = min(
        zip(_lows(window, misfits), ramps_s.tolist(), strict=True), key=lambda low: low[0][1]
    )
    shape, count = start_shape if is_start else end_shape, window.time_s.size
    template = shape(window.time_s - at_s, np.array(ramp_s), response)
    mean, mean_g = float(template.sum()) / count, float(window.weight_g.sum()) / count
    centred, rest = template - mean, window.weight_g - mean_g
    flow = max(float(centred @ rest) / max(float(centred @ centred), 1e-12), 0.0)
    left_g = rest - flow * centred
    return Edge(at_s, mean_g - flow * mean, flow, ramp_s, float(left_g @ left_g) / count)


def _lows(window: Window, misfits: Floats) -> list[tuple[float, float]]:
    """Best time of each ramp, and the misfit there."""
    size = window.candidates_s.size
    return [
        _lowest_between(window.candidates_s, of_ramp, place)
        for of_ramp, place in zip(misfits, misfits[:, :size].argmin(axis=1).tolist(), strict=True)
    ]


def thinned(time_s: Floats, weight_g: Floats, most: int = MOST_SAMPLES) -> tuple[Floats, Floats]:
    """Take the mean of a few neighbours at a time where there are more samples than a fit needs."""
    each = time_s.size // most + 1
    if each == 1:
        return time_s, weight_g
    kept = time_s.size - time_s.size % each
    share = np.full(each, 1.0 / each)
    return time_s[:kept].reshape(-1, each) @ share, weight_g[:kept].reshape(-1, each) @ share


def _bottoms(misfits: Floats) -> Floats:
    """How low :func:`_lowest_between` finds it, for many at once; shape (..., c) to (...)."""
    place = np.clip(misfits.argmin(axis=-1), 1, misfits.shape[-1] - 2)[..., None]
    before, middle, after = (
        np.take_along_axis(misfits, place + step, axis=-1)[..., 0] for step in (-1, 0, 1)
    )
    bend = np.maximum(before - 2.0 * middle + after, 1e-300)
    shift = np.clip(0.5 * (before - after) / bend, -0.5, 0.5)
    bottom = middle - 0.25 * (before - after) * shift
    # Where the lowest is the first or the last of all there is no parabola to put through it.
    return np.asarray(np.where((before < middle) | (after < middle), np.minimum(before, after), bottom))


def _lowest_between(at: Floats, misfit: Floats, place: int) -> tuple[float, float]:
    """Put a parabola through the lowest candidate and its neighbours: the time of its bottom, and how low.

    :param place: of the lowest
    """
    if not 0 < place < at.size - 1:
        return float(at[place]), float(misfit[place])
    before, lowest, after = misfit[place - 1 : place + 2].tolist()
    bend = before - 2.0 * lowest + after
    shift = min(max(0.5 * (before - after) / bend, -0.5), 0.5) if bend > 0 else 0.0
    return float(at[place] + shift * (at[1] - at[0])), lowest - 0.25 * (before - after) * shift
