"""From readings to water alone: all that is no water is taken out of the curve, and said as an event."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from logger.curve.brew import Event, Floats, Pour
from logger.curve.certainty import Sure, know_edges, pours_from
from logger.curve.disturbances import find_disturbances, shaken, without_disturbances
from logger.curve.edges import Edge
from logger.curve.handling import events_of, gathered, other_than
from logger.curve.noise import display_step_g, noise_g
from logger.curve.pours import THIN_FLOW_G_S, Rise, find_rises, find_stretches, fit_rises
from logger.curve.response import USUAL, response_from
from logger.curve.shapes import Response
from logger.curve.solids import told_apart
from logger.curve.steps import (
    Move,
    event_of,
    find_moves,
    find_tares,
    lifts_among,
    without_moves,
    without_tares,
)
from logger.curve.timebase import Grid, Samples, grid_of
from logger.curve.units import in_one_unit
from logger.curve.water_curve import Curve

RESPONSES = (
    *(Response(stage_s) for stage_s in (0.1, 0.2, 0.45, 0.65, 0.9)),
    *(Response(stage_s, 2) for stage_s in (0.15, 0.25, 0.4)),
)
TYPICAL_LAG_S, LAGS_DIFFER = 0.35, 0.7
"""The middle of 0.15 to 0.8 s, by ratio; by how much scales differ: standard deviation of the logarithm."""
EDGE_TELLS = 4.0
"""So many readings of its own an edge has to say about the lag: the others see the same wobble of a hand."""
MOST_TELLING = 3
"""So many pours, the largest, tell the lag as well as all."""
UNSEEN_S = 0.5
LEAST_BREW_G = 5.0
"""Less than that in a whole recording is a drip or a creep, not a brew."""


@dataclass(frozen=True, slots=True)
class Read:
    """A stretch of readings, read.

    :param curve: water alone
    :param pours: in order of time, weights counted from the first water of the stretch
    :param edges: of each pour, how well they are known
    :param events: in order of time
    :param solids: those of the events that rise like water and are none, still in the curve
    :param response: the scale's lag, where a step showed it; None where it was assumed
    :param step_g: the step of the display
    """

    curve: Curve
    pours: tuple[Pour, ...]
    edges: tuple[Sure, ...]
    events: tuple[Event, ...]
    solids: tuple[Event, ...]
    response: Response | None
    step_g: float


def read_samples(
    samples: Samples,
    response: Response | None = None,
    expected_g: float | None = None,
    assumed: Response | None = None,
    *,
    with_course: bool = True,
) -> Read:
    """Read pours and events off samples.

    :param samples: at least a handful
    :param response: the scale's lag, where it is known already
    :param expected_g: the brew's water, where it is known better than by what has arrived
    :param assumed: the lag that earlier pours' edges told, where no step has shown it yet
    :param with_course: how the flow goes around each edge is wanted, too
    """
    step_g = display_step_g(samples.weight_g)
    samples, switches = in_one_unit(samples)
    noise = noise_g(samples, step_g)
    tares = find_tares(samples, noise, step_g)
    weight = without_tares(samples, tares)
    before = _grid(samples, weight)
    moves, presses = gathered(find_moves(before, noise), before)
    returns = tuple(event_of(move) for move in moves if move.returns)
    shown = response or response_from(samples, weight, moves)
    curve, disturbances = _calm(samples, weight, moves, shown or assumed or USUAL, noise, step_g)
    rises = find_rises(curve)
    lag_sd_s = None if shown is None else 0.0
    if shown is None and assumed is None:
        curve, rises, lag_sd_s = _by_edges(curve, rises)
    events = (
        *lifts_among(tares, moves, samples),
        *events_of(moves),
        *presses,
        *shaken(
            before,
            other_than(presses, (*returns, *disturbances)),
            _grid_noise(samples, before, noise),
            step_g,
        ),
        *switches,
        *_gaps(samples, curve.weight_g),
    )
    rises, solids = told_apart(curve, rises, events, expected_g)
    if expected_g is None and sum(rise.gained_g for rise in rises) < LEAST_BREW_G:
        rises = ()
    in_order = tuple(sorted((*events, *solids), key=lambda event: event.start_s))
    rises, sure = know_edges(curve, rises, solids, with_course=with_course)
    pours = pours_from(curve, rises, sure, lag_sd_s, step_g=step_g)
    return Read(curve, pours, sure, in_order, solids, shown, step_g)


def _calm(
    samples: Samples,
    weight: Floats,
    moves: tuple[Move, ...],
    response: Response,
    noise: float,
    step_g: float,
) -> tuple[Curve, tuple[Event, ...]]:
    """Take moves, then knocks and stirring, out of the curve."""
    weight, stepped = without_moves(samples.time_s, weight, moves)
    grid = _grid(samples, weight)
    grid_noise = _grid_noise(samples, grid, noise)
    disturbances = find_disturbances(grid, noise, grid_noise, step_g, response.delay_s)
    weight, disturbed = without_disturbances(samples.time_s, weight, disturbances)
    grid = _grid(samples, weight)
    curve = Curve(
        samples.time_s,
        weight,
        stepped | disturbed,
        grid.time_s,
        grid.weight_g,
        grid.step_s,
        noise,
        response,
    )
    return curve, disturbances


def _by_edges(curve: Curve, rises: tuple[Rise, ...]) -> tuple[Curve, tuple[Rise, ...], float | None]:
    """Where no step shows the scale's lag, weigh the usual ones by how well the edges of the pours fit.

    A lag rounds an edge in another way than a slow hand does. The flow's own wobble, not the noise, limits
    how well an edge can be fitted, so misfits are compared by their ratio, edge by edge. What that leaves
    possible is wide: the mean of it is off by less than the best. An espresso says nothing of the scale: its
    last drops fade as if seen through a lag.

    :returns: the curve, its rises, and how well the lag is known then; None where nothing tells it
    """
    spans = find_stretches(curve)
    gained_g = [float(curve.grid_g[last] - curve.grid_g[first]) for first, last in spans]
    telling = sorted(np.argsort(gained_g)[-MOST_TELLING:].tolist())
    spans = [spans[number] for number in telling]
    usual = fit_rises(curve, spans)
    tells = 0.5 * EDGE_TELLS * len(_telling_edges(curve, usual))
    if not tells:
        return curve, rises, None
    likely: dict[Response, float] = {}
    for response in (curve.response, *RESPONSES):
        other = replace(curve, response=response)
        found = usual if response == curve.response else fit_rises(other, spans)
        if len(found) == len(usual) and (edges := _telling_edges(other, found)):
            off = float(np.log(response.delay_s / TYPICAL_LAG_S)) / LAGS_DIFFER
            likely[response] = -tells * _misfit(other, edges) - 0.5 * off**2
    response, sd_s = _mean_of(likely)
    best = replace(curve, response=response)
    return best, find_rises(best), sd_s


def _mean_of(likely: dict[Response, float]) -> tuple[Response, float]:
    """Give the mean lag and its standard deviation, with the likelier order.

    :param likely: logarithm of how likely each is
    """
    chance = np.exp(np.array(list(likely.values())) - max(likely.values()))
    chance /= chance.sum()
    delays_s = np.array([response.delay_s for response in likely])
    delay_s = float(chance @ delays_s)
    order = 1 + int(chance @ [response.order > 1 for response in likely] > 0.5)
    return Response(delay_s / order, order), float(np.sqrt(chance @ (delays_s - delay_s) ** 2))


def _telling_edges(curve: Curve, rises: tuple[Rise, ...]) -> list[Edge]:
    """The edges of all rises that last and flow like a pour."""
    poured = (rise for rise in rises if rise.lasts_s > 3.0 and rise.gained_g > THIN_FLOW_G_S * rise.lasts_s)
    # Where the readings begin or end in a pour, there is no edge.
    first_s, last_s = curve.time_s[0] + UNSEEN_S, curve.time_s[-1] - UNSEEN_S
    edges = [edge for rise in poured for edge in (rise.start, rise.end) if np.isfinite(edge.misfit_g2)]
    return [edge for edge in edges if first_s < edge.time_s < last_s]


def _misfit(curve: Curve, edges: list[Edge]) -> float:
    """Mean logarithm of the squared misfit."""
    return float(np.mean(np.log([max(edge.misfit_g2, 0.25 * curve.noise_g**2) for edge in edges])))


def _grid(samples: Samples, weight: Floats) -> Grid:
    return grid_of(Samples(samples.time_s, weight, samples.interval_s))


def _grid_noise(samples: Samples, grid: Grid, noise_g: float) -> float:
    """Noise of one value of the grid, each of which is a mean over its step."""
    return float(noise_g * min((samples.interval_s / grid.step_s) ** 0.5, 1.0))


def _gaps(samples: Samples, weight: Floats) -> tuple[Event, ...]:
    time = samples.time_s
    at = np.flatnonzero(np.diff(time) > samples.gap_s)
    return tuple(
        Event("gap", float(time[i]), float(time[i + 1]), float(weight[i + 1] - weight[i])) for i in at
    )
