"""The edge of a pour: flow ramps up, or down, and the scale shows it through its own lag.

Every edge is fitted with the shapes of ``shapes``: level and flow by least squares, time and ramp by search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

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
    search = _Search(time_s, weight_g, candidates_s, float(ramps_s.max()), response, is_start)
    # Half a candidate's step off moves the curve by more than the noise: compare ramps at their best times.
    lows = [_lowest_between(candidates_s, search.misfits(float(ramp_s))) for ramp_s in ramps_s]
    best = int(np.argmin([misfit for _, misfit in lows]))
    at_s, ramp_s = lows[best][0], float(ramps_s[best])
    shape = start_shape if is_start else end_shape
    template = shape(time_s - at_s, np.array(ramp_s), response)
    centred, rest = template - template.mean(), weight_g - weight_g.mean()
    flow = max(float(centred @ rest) / max(float(centred @ centred), 1e-12), 0.0)
    misfit = float(((rest - flow * centred) ** 2).mean())
    return Edge(at_s, float(weight_g.mean() - flow * template.mean()), flow, ramp_s, misfit)


def thinned(time_s: Floats, weight_g: Floats, most: int = MOST_SAMPLES) -> tuple[Floats, Floats]:
    """Take the mean of a few neighbours at a time where there are more samples than a fit needs."""
    each = time_s.size // most + 1
    if each == 1:
        return time_s, weight_g
    kept = time_s.size - time_s.size % each
    return time_s[:kept].reshape(-1, each).mean(axis=1), weight_g[:kept].reshape(-1, each).mean(axis=1)


class _Search:
    """Least squares for every candidate time and one ramp after another.

    An edge's shape is the difference of one function, ``pressed``, at two times that are a ramp apart. It is
    worked out once on the candidates' own even steps; each ramp then needs sums of products alone.

    :param candidates_s: evenly spaced, shape (c,); ramps are taken as whole numbers of their step
    :param longest_ramp_s: of the ramps that will be tried
    """

    def __init__(
        self,
        time_s: Floats,
        weight_g: Floats,
        candidates_s: Floats,
        longest_ramp_s: float,
        response: Response,
        is_start: bool,
    ) -> None:
        self._count, self._is_start, self._delay_s = time_s.size, is_start, response.delay_s
        self._step_s = float(candidates_s[1] - candidates_s[0])
        self._size, self._reach = candidates_s.size, round(longest_ramp_s / self._step_s)
        # A start's shape reaches to later candidates, an end's to earlier ones.
        first = 0 if is_start else -self._reach
        at_s = candidates_s[0] + self._step_s * np.arange(first, first + self._size + self._reach)
        self._pressed = pressed(time_s - at_s[:, None], response)
        self._rest = weight_g - weight_g.mean()
        self._dot = self._pressed @ self._rest
        self._sum = self._pressed.sum(axis=1)
        self._square = np.einsum("cn,cn->c", self._pressed, self._pressed)
        self._since = time_s - candidates_s[:, None]

    def misfits(self, ramp_s: float) -> Floats:
        """Squared misfit at each candidate; shape (c,)."""
        shift = max(round(ramp_s / self._step_s), 1)
        ramp_s = shift * self._step_s
        base = 0 if self._is_start else self._reach
        here = slice(base, base + self._size)
        there = (
            slice(base + shift, base + shift + self._size)
            if self._is_start
            else slice(base - shift, base - shift + self._size)
        )
        if self._is_start:
            sums = self._difference(here, there, ramp_s)
        else:
            sums = self._missing(self._difference(there, here, ramp_s), here, there, ramp_s)
        dot, total, square = sums
        power = np.maximum(square - total**2 / self._count, 1e-12)
        # A shape that just touches the first sample would explain it by a flow that nothing has.
        flow_g_s = np.clip(dot / power, 0.0, FASTEST_G_S)
        return np.asarray(self._rest @ self._rest - flow_g_s * (2.0 * dot - flow_g_s * power))

    def _difference(self, plus: slice, minus: slice, ramp_s: float) -> tuple[Floats, Floats, Floats]:
        """Sums of the shape: with the weights, of itself, of its squares."""
        cross = np.einsum("cn,cn->c", self._pressed[plus], self._pressed[minus])
        return (
            (self._dot[plus] - self._dot[minus]) / ramp_s,
            (self._sum[plus] - self._sum[minus]) / ramp_s,
            (self._square[plus] - 2.0 * cross + self._square[minus]) / ramp_s**2,
        )

    def _missing(
        self, ended: tuple[Floats, Floats, Floats], here: slice, there: slice, ramp_s: float
    ) -> tuple[Floats, Floats, Floats]:
        """The same sums of what an end leaves missing: a straight line less the shape of a start."""
        line = self._since + (0.5 * ramp_s - self._delay_s + FALL_S)
        cross = np.einsum("cn,cn->c", line, self._pressed[there] - self._pressed[here]) / ramp_s
        square = np.einsum("cn,cn->c", line, line)
        return (
            line @ self._rest - ended[0],
            line.sum(axis=1) - ended[1],
            square - 2.0 * cross + ended[2],
        )


def _lowest_between(at: Floats, misfit: Floats) -> tuple[float, float]:
    """Put a parabola through the lowest candidate and its neighbours: the time of its bottom, and how low."""
    place = int(np.argmin(misfit))
    if not 0 < place < at.size - 1:
        return float(at[place]), float(misfit[place])
    before, lowest, after = misfit[place - 1 : place + 2]
    bend = before - 2.0 * lowest + after
    shift = float(np.clip(0.5 * (before - after) / bend, -0.5, 0.5)) if bend > 0 else 0.0
    return float(at[place] + shift * (at[1] - at[0])), float(lowest - 0.25 * (before - after) * shift)
