"""How well an edge is known: every edge that might be, weighed by how well it explains the samples.

``edges`` finds the one edge that fits best. Here the time, the ramp and the fading of an edge run over a grid
around it; level, flow and how the flow wavers follow by least squares with a prior, and so does what drips
on. Each is weighed by its evidence (the Bayesian linear model: MacKay, Information Theory, Inference, and
Learning Algorithms, 2003, chapter 28). What is left possible is the uncertainty of the edge.

A flow seldom stops at once: a spout drips on, an espresso fades. What fades is an exponential that begins
where the ramp ends; the end of the pour is where its flow falls below 0.1 g/s.

No hand's ramp is a straight line, and no model of it is the truth. Beside the noise of the readings the
samples are therefore believed only to ``START_SHAPE_S`` or ``END_SHAPE_S`` of the flow, and a time only to
``CLOCK_S``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.choice import Choice, Known
from logger.curve.edges import Edge, thinned
from logger.curve.fading import ENDS_AT_G_S, Left, times_it_ends_s
from logger.curve.linear import fit_all
from logger.curve.pours import THIN_FLOW_G_S
from logger.curve.shapes import FALL_S, Response, fade_shapes, settled_square, shown_both

START_SHAPE_S = 0.016
END_SHAPE_S, THIN_END_SHAPE_S = 0.03, 0.02
"""By how much a real ramp leaves the straight one, as the time in which the flow brings as much water."""
SOFT_START, SOFT_END = 0.28, 0.17
"""A hand tips the kettle softly or at once, and nobody can see which: half a cosine of length ``R`` is fitted
best by a straight ramp of ``2 R / pi`` about the same middle. So its first water is 0.28 straight ramps
earlier than the straight ramp's, and at 6 g/s its flow falls below 0.1 g/s 0.17 ramps later."""
SOFTEST_S = 1.5
"""What takes longer is no hand's tipping."""
FITS_WELL = 4.0
THIN_LEFT = 0.5
WAVERS_PER_S = 0.2
"""Standard deviation of how much a hand's flow changes within a second, as a share of it."""

_MOST_SAMPLES = 60


@dataclass(frozen=True, slots=True)
class Grid:
    """Which edges are tried: times around the fitted one, ramps (both in whole steps) and fades."""

    step_s: float
    back: int
    ahead: int
    ramps: tuple[int, ...]
    fades_s: tuple[float, ...] = ()

    @property
    def ramps_s(self) -> Floats:
        """How long each ramp takes, shape (r,)."""
        return np.asarray(self.step_s * np.array(self.ramps), dtype=np.float64)


_POUR_STARTS = Grid(0.05, 18, 18, (4, 8, 12, 17, 23, 30))
_POUR_ENDS = Grid(0.05, 25, 16, (2, 6, 12, 20, 32), (0.2, 0.4, 0.8))
_THIN_STARTS = Grid(0.1, 25, 25, (1, 3, 8, 16, 30, 50, 70))
_THIN_ENDS = Grid(0.1, 30, 10, (1, 3, 8, 16, 30), (0.3, 0.6, 1.0, 1.6, 2.4))


def know_start(
    time_s: Floats,
    weight_g: Floats,
    edge: Edge,
    response: Response,
    noise_g: float,
    *,
    with_course: bool = True,
) -> Known | None:
    """Weigh the starts around the one that fitted best; None where none of them is possible.

    :param time_s: times of the samples around it, shape (n,), n >= 4
    :param weight_g: their weights, shape (n,)
    :param noise_g: standard deviation of one sample
    :param with_course: say how the flow goes around the edge, too
    """
    time_s, weight_g, noise_g = _prepared(time_s, weight_g, noise_g, _shape_g(edge, START_SHAPE_S))
    thin = edge.flow_g_s < THIN_FLOW_G_S
    grid = _THIN_STARTS if thin else _POUR_STARTS
    at_s = _times(edge, grid, -grid.back, grid.ahead + grid.ramps[-1])
    since = time_s - at_s[:, None]
    square, begun = shown_both(since, response)
    size = grid.back + grid.ahead + 1
    fits = fit_all(
        [(begun[:size] - begun[ramp:][:size]) / (ramp * grid.step_s) for ramp in grid.ramps],
        [square[ramp:][:size] for ramp in grid.ramps],
        [],
        weight_g,
        noise_g,
        _wavering(edge),
    )
    full, ramps_s = at_s[:size], grid.ramps_s[:, None]
    score = np.where(fits.flow_g_s > 0.0, fits.score, -np.inf)
    if not np.isfinite(score.max()):
        return None
    choice = Choice(score, fits)
    straight_s = choice.of(full)
    # An espresso builds up by itself: no hand tips it, softly or not.
    soft_s = straight_s - choice.of(SOFT_START * np.minimum(ramps_s, SOFTEST_S))
    known = choice.known(straight_s) if thin else choice.known(straight_s, soft_s)
    if not with_course:
        return known
    from_s, to_s = known.low_s - 0.5, known.high_s + grid.ramps[-1] * grid.step_s
    return choice.with_share(known, from_s, to_s, full, ramps_s, is_start=True)


def know_end(
    time_s: Floats,
    weight_g: Floats,
    edge: Edge,
    response: Response,
    noise_g: float,
    *,
    with_course: bool = True,
) -> Known | None:
    """Weigh the ends around the one that fitted best, fading ones among them; parameters as for a start."""
    thin = edge.flow_g_s < THIN_FLOW_G_S
    shape_g = _shape_g(edge, THIN_END_SHAPE_S if thin else END_SHAPE_S)
    time_s, weight_g, noise_g = _prepared(time_s, weight_g, noise_g, shape_g)
    grid = _THIN_ENDS if thin else _POUR_ENDS
    longest = grid.ramps[-1]
    at_s = _times(edge, grid, -grid.back - longest, grid.ahead)
    since = time_s - at_s[:, None]
    shown, begun = shown_both(since, response)
    square = settled_square(since, response) - shown
    ended, line = begun[longest:], since[longest:] - response.delay_s + FALL_S
    shapes, waverings = [], []
    for ramp in grid.ramps:
        before = slice(longest - ramp, at_s.size - ramp)
        lasts_s = ramp * grid.step_s
        shapes.append(line + 0.5 * lasts_s - (begun[before] - ended) / lasts_s)
        waverings.append(square[before])
    fades = [-shape for shape in fade_shapes(since[longest:], grid.fades_s, response)]
    # A spout drips on with little; an espresso goes on with anything up to all.
    usual_g_s = THIN_LEFT * edge.flow_g_s if thin else 0.0
    differs_g_s = max(usual_g_s, 0.2) if thin else 0.06 * edge.flow_g_s + 0.2
    prior = 1.0 / differs_g_s**2
    fits = fit_all(shapes, waverings, fades, weight_g, noise_g, _wavering(edge), prior, usual_g_s)
    left = Left.of(fits)
    # A spout that drips on is as likely as one that stops clean; the fades share that among them.
    odds = np.where(np.arange(len(fades) + 1) > 0, -np.log(len(fades)), 0.0)[:, None, None]
    right = (fits.flow_g_s > 0.0) & left.possible
    score = np.where(right, fits.score + odds + np.log(left.chance), -np.inf)
    if not np.isfinite(score.max()):
        return None
    choice = Choice(score, fits)
    ramps_s, fades_s = grid.ramps_s[:, None], np.array([0.0, *grid.fades_s])[:, None, None]
    stops_s = at_s[longest:]
    straight_s = stops_s - ramps_s * ENDS_AT_G_S / np.maximum(fits.flow_g_s, ENDS_AT_G_S)
    soft_s = straight_s + SOFT_END * np.minimum(ramps_s, SOFTEST_S)
    known = choice.known(*times_it_ends_s(choice, left, stops_s, fades_s, (straight_s, soft_s)))
    if not with_course:
        return known
    from_s, to_s = known.low_s - grid.ramps[-1] * grid.step_s, known.high_s + 1.0
    return choice.with_share(known, from_s, to_s, stops_s, ramps_s, fades_s, is_start=False)


def _prepared(
    time_s: Floats, weight_g: Floats, noise_g: float, shape_g: float
) -> tuple[Floats, Floats, float]:
    time, weight = thinned(time_s, weight_g, _MOST_SAMPLES)
    noise_g /= float(np.sqrt(time_s.size // time.size))
    return time, weight, float(np.hypot(noise_g, shape_g))


def _shape_g(edge: Edge, shape_s: float) -> float:
    """By how much the true edge may leave the straight one; hardly where the straight one fits so well."""
    return min(shape_s * edge.flow_g_s, FITS_WELL * float(np.sqrt(edge.misfit_g2)))


def _times(edge: Edge, grid: Grid, first: int, last: int) -> Floats:
    return np.asarray(edge.time_s + grid.step_s * np.arange(first, last + 1), dtype=np.float64)


def _wavering(edge: Edge) -> float:
    """Precision of the flow's change, from its prior."""
    return 1.0 / (WAVERS_PER_S * max(edge.flow_g_s, 0.5)) ** 2
