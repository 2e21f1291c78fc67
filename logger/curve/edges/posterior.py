"""How well an edge is known: every edge that might be, weighed by how well it explains the samples.

``edges`` finds the one edge that fits best. Here the time, the ramp and the fading of an edge run over a grid
around it; level, flow and how the flow wavers follow by least squares with a prior, and so does what drips
on. Each is weighed by its evidence (the Bayesian linear model: MacKay, Information Theory, Inference, and
Learning Algorithms, 2003, chapter 28). What is left possible is the uncertainty of the edge.

A flow seldom stops at once: a spout drips on. What fades is an exponential that begins where the ramp ends;
the end of the pour is where its flow falls below 0.1 g/s. How an espresso ends is another matter, see
``pump_stops``.

A time is believed only to ``CLOCK_S``, and the samples as ``believed`` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from logger.curve.edges.around import Around, Seen
from logger.curve.edges.believed import believed_at_end, believed_at_start, once_begun
from logger.curve.edges.choice import Known
from logger.curve.edges.fading import ENDS_AT_G_S, Left, tails_g, times_it_ends_s
from logger.curve.edges.linear import Fits, Priors, fit_all
from logger.curve.edges.options import Options, wavering_precision, weighed
from logger.curve.edges.pump_stops import STOPS, fit_stops, sum_up
from logger.curve.edges.shapes import (
    FALL_S,
    Response,
    fade_shapes,
    left_of_lag,
    settled_square,
    shown_and_pressed,
)
from logger.curve.edges.tipping import end_s, first_water_s
from logger.curve.edges.tried import Grid, grid_of_end, grid_of_start

THIN_LEFT = 0.5
"""Share of a thin stream's flow that usually fades after it."""


def know_starts(seen: Sequence[Seen], response: Response, *, with_course: bool = True) -> list[Known | None]:
    """Weigh, for each edge, the starts around the one that fitted best; None where none of them is possible.

    :param with_course: say how the flow goes around the edge, too
    """
    believed = [believed_at_start(each, response) for each in seen]
    return weighed(believed, grid_of_start, response, _starts, partial(_start, with_course=with_course))


def know_ends(seen: Sequence[Seen], response: Response, *, with_course: bool = True) -> list[Known | None]:
    """Weigh the ends around those that fitted best, fading ones among them; parameters as for starts."""
    believed = [believed_at_end(each, response) for each in seen]
    by_pump, by_hand = ([each for each in believed if each.by_pump is wanted] for wanted in (True, False))
    stops = weighed(by_pump, lambda _: STOPS, response, fit_stops, partial(sum_up, with_course=with_course))
    ends = weighed(by_hand, grid_of_end, response, _ends, partial(_end, with_course=with_course))
    of_pumps, of_hands = iter(stops), iter(ends)
    return [next(of_pumps if each.by_pump else of_hands) for each in believed]


def _start(options: Options[Grid], *, with_course: bool) -> list[Known]:
    choice, grid, ramps_s = options.choice, options.grid, options.grid.ramps_s[:, None]
    straight_s = choice.of(options.at_s)
    # An espresso builds up by itself: no hand tips it, softly or not.
    tipped_s = (straight_s,) if grid.is_thin else first_water_s(straight_s, choice.of(ramps_s))
    known = choice.known(*tipped_s)
    if not with_course:
        return known
    return choice.with_shares(known, (0.5, float(grid.ramps_s[-1])), straight_s, choice.of(ramps_s))


def _end(options: Options[Grid], *, with_course: bool) -> list[Known]:
    choice, grid, left = options.choice, options.grid, options.left
    assert left is not None
    stops_s, fades_s = choice.of(options.at_s), choice.of(grid.ways_to_end_s[:, None, None])
    ramps_s, flow_g_s = choice.of(grid.ramps_s[:, None]), choice.of(options.fits.flow_g_s)
    straight_s = stops_s - ramps_s * ENDS_AT_G_S / np.maximum(flow_g_s, ENDS_AT_G_S)
    own_ends_s = end_s(straight_s, ramps_s, is_thin=grid.is_thin)
    parts_g_s = left.parts_g_s(choice)
    times_s = times_it_ends_s(parts_g_s, stops_s, fades_s, own_ends_s)
    known = choice.known(*times_s, has_two_humps=not grid.is_thin)  # it stops clean, or drips on
    tails = choice.mean_of(tails_g(parts_g_s, fades_s))
    if grid.is_thin:
        known = [replace(each, after_g=tail_g) for each, tail_g in zip(known, tails, strict=True)]
    else:
        # Drops that fall after a stream rest on the scale: they are told from what fades, not from the grams.
        levels = zip(known, tails, *choice.first(len(grid.fades_s) + 1).level_g(), strict=True)
        known = [_with_drops(*of_edge) for of_edge in levels]
    if not with_course:
        return known
    left_share = np.maximum(choice.of(options.fits.fading_g_s) / flow_g_s, 0.0)
    reach_s = float(grid.ramps_s[-1]), 1.0
    return choice.with_shares(known, reach_s, stops_s, ramps_s, [(fades_s, left_share)])


def _with_drops(known: Known, tail_g: float, level_g: float, sd_g: float) -> Known:
    """Count what dripped to the level, and to what may have come after the end."""
    after_g = tail_g + max(level_g - known.level_g, 0.0)
    return replace(known, level_g=level_g, level_sd_g=sd_g, after_g=after_g)


def _starts(around: Around, grid: Grid, response: Response) -> tuple[Fits, None]:
    """Fit every start of a grid."""
    since = around.since_s(grid.reached_s)
    fade = left_of_lag(since, response.stage_s)
    square, begun = shown_and_pressed(since, response, fade)
    shapes = (begun[:, None, grid.own] - begun.take(grid.other_ends, axis=1)) / grid.ramps_s[:, None, None]
    waverings = square.take(grid.other_ends, axis=1)
    one = np.ones((around.counts.size, 1))
    around = once_begun(around, since[:, grid.own])
    return fit_all(shapes, waverings, [], around, Priors(wavering_precision(around), one, 0.0 * one)), None


def _ends(around: Around, grid: Grid, response: Response) -> tuple[Fits, Left]:
    """Fit every end of a grid."""
    since = around.since_s(grid.reached_s)
    fade = left_of_lag(since, response.stage_s)
    shown, begun = shown_and_pressed(since, response, fade)
    square = settled_square(since, response) - shown
    since, ended = since[:, grid.own], begun[:, grid.own]
    line = since - response.delay_s + FALL_S
    lasts_s = grid.ramps_s[:, None, None]
    begun_before = begun.take(grid.other_ends, axis=1)
    shapes = line[:, None] + 0.5 * lasts_s - (begun_before - ended[:, None]) / lasts_s
    waverings = square.take(grid.other_ends, axis=1)
    fades = [-shape for shape in fade_shapes(since, grid.fades_s, response, fade[:, grid.own])]
    # A spout drips on with little; an espresso goes on with anything up to all.
    flow_g_s = around.flow_g_s[:, None]
    usual_g_s = THIN_LEFT * flow_g_s if grid.is_thin else 0.0 * flow_g_s
    differs_g_s = np.maximum(usual_g_s, 0.2) if grid.is_thin else 0.06 * flow_g_s + 0.2
    priors = Priors(wavering_precision(around), 1.0 / differs_g_s**2, usual_g_s)
    # Single drops press by nothing; they begin when the stream is over.
    dripped = (ended - shown[:, grid.own]) / FALL_S
    fits = fit_all(shapes, waverings, fades, around, priors, dripped, grid.drips_g_s)
    return fits, Left.of(fits, len(fades))
