"""The misfit of every edge that is tried: for several edges, lags, ramps and times at once.

An edge's shape is the difference of one function, ``pressed``, at two times that are a ramp apart. It is
worked out once on even steps of time; each ramp then needs sums of products alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from logger.curve.brew import Floats
from logger.curve.edges.shapes import FALL_S, Response, pressed

FASTEST_G_S = 60.0
"""Faster than any water, and than dry coffee that is dosed; what falls on the pan at once is a step."""


@dataclass(frozen=True, slots=True)
class Window:
    """The samples to fit one edge to, where it may be, and how slow.

    :param time_s: times of the samples around it, shape (n,), n >= 4
    :param weight_g: their weights, shape (n,)
    :param candidates_s: evenly spaced times at which the edge may be, shape (c,)
    :param slowest_s: no ramp of it takes longer
    """

    time_s: Floats
    weight_g: Floats
    candidates_s: Floats
    slowest_s: float = np.inf

    @property
    def step_s(self) -> float:
        """How far apart the candidates are."""
        return float(self.candidates_s[1] - self.candidates_s[0])


@dataclass(frozen=True, slots=True)
class Stack:
    """Windows side by side, filled up where one has fewer samples or candidates.

    :param from_s: time of the first sample of each, shape (e,)
    :param since_s: times of the samples after the first of them, nothing where filled up, shape (e, n)
    :param mean_g: mean of the weights of each, shape (e,)
    :param rest_g: weights less their mean, nothing where filled up, shape (e, n)
    :param there: 1, and 0 where filled up, shape (e, n)
    :param counts: samples of each, shape (e,)
    :param first_s: the first candidate after the first sample, shape (e,)
    :param step_s: how far apart the candidates are
    :param tries: candidates of each, shape (e,)
    :param slowest_s: no ramp takes longer, shape (e,)
    """

    from_s: Floats
    since_s: Floats
    mean_g: Floats
    rest_g: Floats
    there: Floats
    counts: Floats
    first_s: Floats
    step_s: float
    tries: NDArray[np.int_]
    slowest_s: Floats

    @classmethod
    def of(cls, windows: Sequence[Window]) -> Stack:
        """Lay windows side by side whose candidates are as far apart as each other's."""
        there = filled([window.time_s.size for window in windows])
        counts = there.sum(axis=1)
        weight = side_by_side([window.weight_g for window in windows])
        mean = weight.sum(axis=1) / counts
        begin = np.array([window.time_s[0] for window in windows])
        return cls(
            begin,
            side_by_side([window.time_s - window.time_s[0] for window in windows]),
            mean,
            (weight - mean[:, None]) * there,
            there,
            counts,
            np.array([window.candidates_s[0] for window in windows]) - begin,
            windows[0].step_s,
            np.array([window.candidates_s.size for window in windows]),
            np.array([window.slowest_s for window in windows]),
        )


def side_by_side(rows: Sequence[Floats]) -> Floats:
    """Lay rows of several lengths side by side, shape (e, n); nothing where one is filled up."""
    if len(rows) == 1:
        return rows[0][None]
    whole = np.zeros((len(rows), max(row.size for row in rows)))
    for place, row in enumerate(rows):
        whole[place, : row.size] = row
    return whole


def filled(sizes: Sequence[int]) -> Floats:
    """Say where each of some rows has values: 1, and 0 where it is filled up; shape (e, n)."""
    if len(sizes) == 1:
        return np.ones((1, sizes[0]))
    return np.asarray(np.arange(max(sizes)) < np.array(sizes)[:, None], dtype=np.float64)


def misfits_of_all(
    stack: Stack,
    shifts: NDArray[np.int_],
    responses: Sequence[Response],
    *,
    is_start: bool,
    as_shown: bool = False,
) -> Floats:
    """Squared misfit for each lag, window, ramp and candidate, level and flow fitted; shape (m, e, r, c).

    :param stack: the windows; beyond the candidates of one the misfits are those of times further on
    :param shifts: ramps in steps of the candidates, shape (r,)
    :param as_shown: the candidates are when a display would show the edge, by its delay later than it is
    """
    shown_s = np.array([response.delay_s if as_shown else 0.0 for response in responses])
    step_s, reach, tried = stack.step_s, int(shifts.max()), int(stack.tries.max())
    # A start's shape reaches to later candidates, an end's to earlier ones.
    first, base = (0, 0) if is_start else (-reach, reach)
    at_s = stack.first_s[:, None] + step_s * np.arange(first, first + tried + reach)
    columns = _columns(stack, at_s, responses, shown_s)
    own = slice(base, base + tried)
    away = np.arange(base, base + tried) + (shifts if is_start else -shifts)[:, None]
    ramp_s = step_s * shifts[:, None]
    # Sums over the samples of each column times the weights, of itself, and times the time.
    samples = np.array((stack.rest_g, stack.there, stack.since_s))
    sums = np.ascontiguousarray((columns @ samples.transpose(1, 2, 0)).transpose(3, 0, 1, 2))
    own_less_away = sums[..., None, own] - sums.take(away, axis=3)
    dot, total, along = own_less_away / (ramp_s if is_start else -ramp_s)
    squares = np.vecdot(columns, columns)
    crossed = np.vecdot(columns[:, :, None, own], columns.take(away, axis=2))
    square = (squares[..., None, own] - 2.0 * crossed + squares.take(away, axis=2)) / ramp_s**2
    counts, power_g2 = stack.counts[:, None, None], np.vecdot(stack.rest_g, stack.rest_g)
    if not is_start:
        late_s = np.array([response.delay_s for response in responses]) - shown_s
        candidates_s = stack.first_s[:, None, None] + step_s * np.arange(tried)
        offset_s = (0.5 * ramp_s - late_s[:, None, None, None] + FALL_S) - candidates_s
        of_line = np.vecdot(samples, stack.since_s)[..., None, None]
        shape, with_shape = (dot, total, square), along + offset_s * total
        dot, total, square = _line_less(shape, with_shape, of_line, counts, offset_s)
    power = np.maximum(square - total**2 / counts, 1e-12)
    # A shape that just touches the first sample would explain it by a flow that nothing has.
    flow_g_s = np.minimum(np.maximum(dot / power, 0.0), FASTEST_G_S)
    return np.asarray(power_g2[:, None, None] - flow_g_s * (2.0 * dot - flow_g_s * power))


def _columns(stack: Stack, at_s: Floats, responses: Sequence[Response], shown_s: Floats) -> Floats:
    """What each lag shows since each time less what it is shown late, ``pressed``; shape (m, e, t, n).

    :param at_s: even times, shape (e, t)
    :param shown_s: by how much later each lag shows them, shape (m,)
    """
    after_s = stack.since_s[:, None] - at_s[:, :, None]
    of_lags = [
        pressed(after_s + late_s if late_s else after_s, response)
        for response, late_s in zip(responses, shown_s.tolist(), strict=True)
    ]
    columns = of_lags[0][None] if len(of_lags) == 1 else np.array(of_lags)
    if len(stack.counts) > 1:
        columns *= stack.there[:, None]
    return columns


Sums = tuple[Floats, Floats, Floats]


def _line_less(shape: Sums, with_shape: Floats, of_line: Floats, counts: Floats, offset_s: Floats) -> Sums:
    """Sums of what an end leaves missing: a straight line less the shape of a start.

    :param shape: of the start: its sums with the weights, of itself, of its squares
    :param with_shape: the line's sum with it
    :param of_line: of the time since the first sample: its sums with the weights, of itself, of its squares
    :param offset_s: the line is that time plus this
    """
    dot, total_s, square_s2 = of_line
    line_square = square_s2 + offset_s * (2.0 * total_s + counts * offset_s)
    return (
        dot - shape[0],
        total_s + counts * offset_s - shape[1],
        line_square - 2.0 * with_shape + shape[2],
    )
