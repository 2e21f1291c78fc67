"""From readings to water alone: all that is no water is taken out of the curve, and said as an event."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Event, Floats, Pour
from logger.curve.disturbances import find_disturbances, without_disturbances
from logger.curve.edges import Response
from logger.curve.noise import display_step_g, noise_g
from logger.curve.pours import Curve, Rise, find_rises
from logger.curve.response import USUAL, response_from
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


@dataclass(frozen=True, slots=True)
class Read:
    """A stretch of readings, read.

    :param curve: water alone
    :param pours: in order of time, weights counted from the first water of the stretch
    :param events: in order of time
    :param solids: those of the events that rise like water and are none, still in the curve
    :param response: the scale's lag, where a step showed it; None where it was assumed
    :param step_g: the step of the display
    """

    curve: Curve
    pours: tuple[Pour, ...]
    events: tuple[Event, ...]
    solids: tuple[Event, ...]
    response: Response | None
    step_g: float


def read_samples(samples: Samples, response: Response | None = None, expected_g: float | None = None) -> Read:
    """Read pours and events off samples.

    :param samples: at least a handful
    :param response: the scale's lag, where it is known already
    :param expected_g: the brew's water, where it is known better than by what has arrived
    """
    step_g = display_step_g(samples.weight_g)
    noise = noise_g(samples, step_g)
    tares = find_tares(samples, noise, step_g)
    weight = without_tares(samples, tares)
    moves = find_moves(_grid(samples, weight), noise)
    shown = response or response_from(samples, weight, moves)
    curve, disturbances = _calm(samples, weight, moves, shown or USUAL, noise, step_g)
    events = (
        *lifts_among(tares, moves),
        *(event_of(move) for move in moves),
        *disturbances,
        *_gaps(samples, curve.weight_g),
    )
    rises, solids = told_apart(curve, find_rises(curve), events, expected_g)
    in_order = sorted((*events, *solids), key=lambda event: event.start_s)
    return Read(curve, _pours(curve, rises), tuple(in_order), solids, shown, step_g)


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
    grid_noise = noise * min((samples.interval_s / grid.step_s) ** 0.5, 1.0)
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


def _grid(samples: Samples, weight: Floats) -> Grid:
    return grid_of(Samples(samples.time_s, weight, samples.interval_s))


def _gaps(samples: Samples, weight: Floats) -> tuple[Event, ...]:
    time = samples.time_s
    at = np.flatnonzero(np.diff(time) > samples.gap_s)
    return tuple(
        Event("gap", float(time[i]), float(time[i + 1]), float(weight[i + 1] - weight[i])) for i in at
    )


def _pours(curve: Curve, rises: tuple[Rise, ...]) -> tuple[Pour, ...]:
    """Turn rises into pours whose weights count from the first water."""
    pours, poured_g = [], 0.0
    for rise in rises:
        lasts_s = max(rise.lasts_s, curve.step_s)
        mean_g_s = rise.gained_g / lasts_s
        pours.append(
            Pour(
                start_s=rise.start.time_s,
                end_s=rise.start.time_s + lasts_s,
                from_g=poured_g,
                to_g=poured_g + rise.gained_g,
                poured_g=rise.gained_g,
                mean_flow_g_s=mean_g_s,
                peak_flow_g_s=max(rise.peak_flow_g_s, mean_g_s),
            )
        )
        poured_g += rise.gained_g
    return tuple(pours)
