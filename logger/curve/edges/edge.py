"""The edge of a pour: flow ramps up, or down, and the scale shows it through its own lag.

Every edge is fitted with the shapes of ``shapes``: level and flow by least squares, time and ramp by search.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from logger.curve.brew import Floats
from logger.curve.edges.edge_misfits import Stack, Window, misfits_of_all
from logger.curve.edges.shapes import Response, end_shape, start_shape


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

APART = 2.0
"""Samples that take so much longer than as many usually do have a hole among them."""
MOST_SAMPLES = 48

SHOWN_AFTER_DELAYS = 25.0
"""So many delays after an end a display of one stage or two has shown all of it, to a part in a billion."""

RAMPS_S = np.array([0.1, 0.4, 0.9, 1.7])
TELLING_RAMPS_S = np.array([0.1, 0.4, 1.0])
"""So many tell the lag as well: a slower hand says nothing of it."""


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
    stack = Stack.of([_thinned(window) for window in windows])
    misfits = misfits_of_all(stack, _shifts(stack, ramps_s), [response], is_start=is_start)[0]
    return _best(stack, misfits, ramps_s, response, is_start=is_start)


def misfits_g2(windows: Sequence[Window], responses: Sequence[Response], *, is_start: bool) -> Floats:
    """How well the best edge fits for each lag that the scale may have: mean squared residuals, shape (m, e).

    :param windows: of e edges, as :func:`fit_edges` has them, but for the candidates: when the edge is shown,
        by whatever delay there is later than it is
    :param responses: the lags, m of them
    """
    stack = Stack.of([_thinned(window) for window in windows])
    shifts = _shifts(stack, TELLING_RAMPS_S)
    misfits = misfits_of_all(stack, shifts, responses, is_start=is_start, as_shown=True)
    return np.asarray(_bottoms(misfits, stack.tries)[1].min(axis=2) / stack.counts)


def still_to_come_g(time_s: Floats, end: Edge, response: Response) -> Floats:
    """By how much a display that follows late still rises after an end: what is poured, and not shown yet.

    :param time_s: in order, shape (n,)
    :param end: one that was only guessed comes from no flow, and nothing is owed of it
    :returns: shape (n,)
    """
    is_over = time_s.size > 0 and time_s[0] > end.time_s + SHOWN_AFTER_DELAYS * response.delay_s
    if is_over or end.flow_g_s <= 0.0:
        return np.zeros_like(time_s)
    return -end.flow_g_s * end_shape(time_s - end.time_s, np.asarray(end.ramp_s), response)


def _thinned(window: Window) -> Window:
    return Window(*thinned(window.time_s, window.weight_g), window.candidates_s, window.slowest_s)


def _shifts(stack: Stack, ramps_s: Floats) -> NDArray[np.int_]:
    """Ramps in steps of the candidates."""
    return np.maximum(np.rint(ramps_s / stack.step_s), 1.0).astype(np.int_)


def _best(
    stack: Stack, misfits: Floats, ramps_s: Floats, response: Response, *, is_start: bool
) -> list[Edge]:
    """Take for each edge the ramp that fits best at its best time, with the level and flow that belong to it.

    :param misfits: shape (e, r, c)
    """
    # Half a candidate's step off moves the curve by more than the noise: compare ramps at their best times.
    bottom, low = _bottoms(misfits, stack.tries)
    low = np.where(ramps_s <= stack.slowest_s[:, None], low, np.inf)
    best, each = low.argmin(axis=1), np.arange(stack.counts.size)
    since_s = stack.first_s + bottom[each, best] * stack.step_s
    ramp_s = ramps_s[best]
    shape = start_shape if is_start else end_shape
    template = shape(stack.since_s - since_s[:, None], ramp_s[:, None], response) * stack.there
    mean = template.sum(axis=1) / stack.counts
    centred = (template - mean[:, None]) * stack.there
    power = np.maximum(np.vecdot(centred, centred), 1e-12)
    flow = np.maximum(np.vecdot(centred, stack.rest_g) / power, 0.0)
    left_g = stack.rest_g - flow[:, None] * centred
    misfit_g2 = np.vecdot(left_g, left_g) / stack.counts
    fitted = (stack.from_s + since_s, stack.mean_g - flow * mean, flow, ramp_s, misfit_g2)
    return [Edge(*edge) for edge in zip(*(values.tolist() for values in fitted), strict=True)]


def thinned(time_s: Floats, weight_g: Floats, most: int = MOST_SAMPLES) -> tuple[Floats, Floats]:
    """Take the mean of a few neighbours at a time where there are more samples than a fit needs.

    Those on both sides of a silence, or of what was drawn, are no neighbours: their mean was never shown.
    """
    each = time_s.size // most + 1
    if each == 1:
        return time_s, weight_g
    kept = time_s.size - time_s.size % each
    time, weight = time_s[:kept].reshape(-1, each), weight_g[:kept].reshape(-1, each)
    share = _even(each)
    lasts_s = time[:, -1] - time[:, 0]
    longest_s = APART * each * float(time_s[-1] - time_s[0]) / time_s.size
    if lasts_s.max() > longest_s:
        near = lasts_s <= longest_s
        time, weight = time[near], weight[near]
    return time @ share, weight @ share


@cache
def _even(count: int) -> Floats:
    """So many equal shares of 1."""
    return np.full(count, 1.0 / count)


def _bottoms(misfits: Floats, tries: NDArray[np.int_]) -> tuple[Floats, Floats]:
    """Put a parabola through the lowest candidate and its neighbours, for many edges at once.

    :param misfits: shape (..., e, r, c)
    :param tries: so many candidates of each edge count, shape (e,)
    :returns: where the bottom is, in candidates, and how low; shape (..., e, r) each
    """
    last, size = tries[:, None] - 1, misfits.shape[-1]
    counts = misfits if tries.min() == size else np.where(np.arange(size) > last[..., None], np.inf, misfits)
    lowest = counts.argmin(axis=-1)
    # Taken from what is laid out flat, many times quicker than along an axis.
    first = size * np.arange(lowest.size).reshape(lowest.shape)
    before = misfits.take(first + np.maximum(lowest - 1, 0))
    middle = misfits.take(first + lowest)
    after = misfits.take(first + np.minimum(lowest + 1, last))
    bend = before - 2.0 * middle + after
    # Where the lowest is the first or the last of all there is no parabola to put through it.
    bends = (lowest > 0) & (lowest < last) & (bend > 0.0)
    shift = np.where(bends, 0.5 * (before - after) / np.where(bends, bend, 1.0), 0.0)
    shift = np.minimum(np.maximum(shift, -0.5), 0.5)
    return lowest + shift, np.asarray(middle - 0.25 * (before - after) * shift)
