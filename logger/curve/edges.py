"""The edge of a pour: flow ramps up, or down, and the scale shows it through its own lag.

Every edge is fitted with the shapes of ``shapes``: level and flow by least squares, time and ramp by search.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.curve.brew import Floats
from logger.curve.shapes import FALL_S, Response, end_shape, pressed, start_shape


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


FASTEST_G_S = 60.0
"""Faster than any water, and than dry coffee that is dosed; what falls on the pan at once is a step."""

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
    """Fit one edge to samples around it.

    :param time_s: times of the samples, shape (n,), n >= 4
    :param weight_g: their weights, shape (n,)
    :param candidates_s: evenly spaced times at which the edge may be, shape (c,)
    :param response: the scale's lag
    :param is_start: a start (nothing before it), or an end (nothing after it)
    :param ramps_s: ramp durations to try, shape (k,)
    """
    time_s, weight_g = thinned(time_s, weight_g)
    shifts = np.maximum(np.round(ramps_s / (candidates_s[1] - candidates_s[0])).astype(int), 1)
    misfits = _misfits(time_s, weight_g, candidates_s, shifts, [response], is_start=is_start)[0]
    # Half a candidate's step off moves the curve by more than the noise: compare ramps at their best times.
    lows = [
        _lowest_between(candidates_s, of_ramp, place)
        for of_ramp, place in zip(misfits, misfits.argmin(axis=1).tolist(), strict=True)
    ]
    at_s, _, ramp_s = min(
        ((at_s, misfit, ramp_s) for (at_s, misfit), ramp_s in zip(lows, ramps_s.tolist(), strict=True)),
        key=lambda low: low[1],
    )
    shape = start_shape if is_start else end_shape
    template = shape(time_s - at_s, np.array(ramp_s), response)
    mean, mean_g = float(template.sum()) / time_s.size, float(weight_g.sum()) / time_s.size
    centred, rest = template - mean, weight_g - mean_g
    flow = max(float(centred @ rest) / max(float(centred @ centred), 1e-12), 0.0)
    left_g = rest - flow * centred
    return Edge(at_s, mean_g - flow * mean, flow, ramp_s, float(left_g @ left_g) / time_s.size)


def misfits_g2(
    time_s: Floats,
    weight_g: Floats,
    candidates_s: Floats,
    responses: Sequence[Response],
    *,
    is_start: bool,
) -> Floats:
    """How well the best edge fits for each lag that the scale may have: mean squared residuals, shape (m,).

    :param responses: the lags, of length m; the rest as :func:`fit_edge` has it
    """
    time_s, weight_g = thinned(time_s, weight_g)
    shifts = np.maximum(np.round(RAMPS_S / (candidates_s[1] - candidates_s[0])).astype(int), 1)
    misfits = _misfits(time_s, weight_g, candidates_s, shifts, responses, is_start=is_start)
    lows = [
        min(
            _lowest_between(candidates_s, of_ramp, place)[1]
            for of_ramp, place in zip(of_lag, of_lag.argmin(axis=1).tolist(), strict=True)
        )
        for of_lag in misfits
    ]
    return np.array(lows) / time_s.size


def thinned(time_s: Floats, weight_g: Floats, most: int = MOST_SAMPLES) -> tuple[Floats, Floats]:
    """Take the mean of a few neighbours at a time where there are more samples than a fit needs."""
    each = time_s.size // most + 1
    if each == 1:
        return time_s, weight_g
    kept = time_s.size - time_s.size % each
    share = np.full(each, 1.0 / each)
    return time_s[:kept].reshape(-1, each) @ share, weight_g[:kept].reshape(-1, each) @ share


def _misfits(
    time_s: Floats,
    weight_g: Floats,
    candidates_s: Floats,
    shifts: NDArray[np.int_],
    responses: Sequence[Response],
    *,
    is_start: bool,
) -> Floats:
    """Squared misfit for each lag, ramp and candidate, level and flow fitted; shape (m, r, c).

    An edge's shape is the difference of one function, ``pressed``, at two times that are a ramp apart. It is
    worked out once on the candidates' own even steps; each ramp then needs sums of products alone.

    :param shifts: ramps in steps of the candidates, shape (r,)
    """
    step_s, reach = float(candidates_s[1] - candidates_s[0]), int(shifts.max())
    # A start's shape reaches to later candidates, an end's to earlier ones.
    first, base = (0, 0) if is_start else (-reach, reach)
    at_s = candidates_s[0] + step_s * np.arange(first, first + candidates_s.size + reach)
    since_s = time_s - at_s[:, None]
    columns = np.stack([pressed(since_s, response) for response in responses])
    rest = weight_g - weight_g.sum() / weight_g.size
    dot, total, products = columns @ rest, columns.sum(axis=2), columns @ columns.swapaxes(1, 2)
    here = base + np.arange(candidates_s.size)[None, :]
    there = here + shifts[:, None] if is_start else here - shifts[:, None]
    early, late = (here, there) if is_start else (there, here)
    ramp_s = step_s * shifts[:, None]
    squares = products.diagonal(axis1=1, axis2=2)
    shape = (
        (dot[:, early] - dot[:, late]) / ramp_s,
        (total[:, early] - total[:, late]) / ramp_s,
        (squares[:, early] - 2.0 * products[:, early, late] + squares[:, late]) / ramp_s**2,
    )
    if not is_start:
        since_s = time_s - time_s[0]
        along = columns @ since_s
        delays_s = np.array([response.delay_s for response in responses])[:, None, None]
        offset_s = time_s[0] - candidates_s + (0.5 * ramp_s - delays_s + FALL_S)
        with_shape = (
            along[:, early] - along[:, late] + offset_s * (total[:, early] - total[:, late])
        ) / ramp_s
        shape = _line_less(shape, with_shape, since_s, offset_s, rest)
    dot, total, square = shape
    power = np.maximum(square - total**2 / time_s.size, 1e-12)
    # A shape that just touches the first sample would explain it by a flow that nothing has.
    flow_g_s = np.clip(dot / power, 0.0, FASTEST_G_S)
    return np.asarray(rest @ rest - flow_g_s * (2.0 * dot - flow_g_s * power))


Sums = tuple[Floats, Floats, Floats]


def _line_less(shape: Sums, with_shape: Floats, since_s: Floats, offset_s: Floats, rest: Floats) -> Sums:
    """Sums of what an end leaves missing: a straight line less the shape of a start.

    :param shape: of the start: its sums with the weights, of itself, of its squares
    :param with_shape: the line's sum with it
    :param offset_s: the line is ``since_s`` plus this
    """
    count, total_s = since_s.size, float(since_s.sum())
    line_square = float(since_s @ since_s) + offset_s * (2.0 * total_s + count * offset_s)
    return (
        float(since_s @ rest) - shape[0],
        total_s + count * offset_s - shape[1],
        line_square - 2.0 * with_shape + shape[2],
    )


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
