"""From readings to water alone: all that is no water is taken out of the curve, and said as an event."""

from __future__ import annotations

from dataclasses import dataclass, replace

from logger.curve.brew import Event, Floats, Method, Pour
from logger.curve.edges.shapes import Response
from logger.curve.pours.certainty import Sure, know_edges, stops_seen
from logger.curve.pours.drying import drying_of
from logger.curve.pours.finding import Rise, cut_at_dips, find_flowing, find_rises, that_count
from logger.curve.pours.first_drops import unseen_drops_s, with_empty_cups, with_first_drops
from logger.curve.pours.method import find_method
from logger.curve.pours.poured import pours_from, that_gained
from logger.curve.pours.settled import NOTHING_SETTLED, Settled
from logger.curve.pours.water_curve import Curve
from logger.curve.readings.noise import display_step_g, noise_g
from logger.curve.readings.timebase import Grid, Ruler, Samples
from logger.curve.readings.units import in_one_unit
from logger.curve.scale.lag import Lags, ToldLag, lag_by_edges
from logger.curve.scale.response import USUAL, response_from
from logger.curve.scale.stops import lag_by_stops
from logger.curve.scale.tails import lags_by_tails
from logger.curve.taken_out.disturbances import (
    find_disturbances,
    shaken,
    that_come_back,
    without_disturbances,
)
from logger.curve.taken_out.dosing import NOTHING_BEFORE, Before
from logger.curve.taken_out.fading_tares import faded_to_zero
from logger.curve.taken_out.handling import events_of, gathered, other_than
from logger.curve.taken_out.solids import told_apart
from logger.curve.taken_out.steps import Move, event_of, find_moves, without_moves
from logger.curve.taken_out.tares import find_tares, without_tares
from logger.curve.taken_out.zeroing import lifts_among, steps_of_vessels, tares_among

LEAST_BREW_G = 5.0
"""Less than that in a whole recording is a drip or a creep, not a brew."""


@dataclass(frozen=True, slots=True)
class Read:
    """A stretch of readings, read.

    :param curve: water alone
    :param pours: in order of time, weights counted from the first water of the stretch
    :param rises: what each pour was read from
    :param edges: of each pour, how well they are known
    :param events: in order of time
    :param solids: those of the events that rise like water and are none, still in the curve
    :param response: the scale's lag, where a step showed it; None where it was assumed
    :param lags: those that are left possible by how the display settled after a hand; None where that was
        not seen, or a step showed the lag
    :param step_g: the step of the display
    :param fitted: all that rose, as it was fitted: water, solids, what a vessel's step left behind, and what
        is too little to be anything
    """

    curve: Curve
    pours: tuple[Pour, ...]
    rises: tuple[Rise, ...]
    edges: tuple[Sure, ...]
    events: tuple[Event, ...]
    solids: tuple[Event, ...]
    response: Response | None
    lags: Lags | None
    step_g: float
    fitted: tuple[Rise, ...]


def read_samples(
    samples: Samples,
    response: Response | None = None,
    expected_g: float | None = None,
    assumed: Response | None = None,
    settled: Settled = NOTHING_SETTLED,
    came_before: Before = NOTHING_BEFORE,
    *,
    lags: Lags | None = None,
    method: Method | None = None,
    with_course: bool = True,
    only_over: bool = False,
) -> Read:
    """Read pours and events off samples.

    :param samples: at least a handful
    :param response: the scale's lag, where it is known already
    :param expected_g: the brew's water, where it is known better than by what has arrived
    :param assumed: the lag that earlier pours' edges told, where no step has shown it yet
    :param settled: the edges that an earlier reading of these samples saw whole
    :param came_before: what came before these readings, in the same brew
    :param lags: those that how the display settled, earlier than these samples, left possible
    :param method: the kind of brew, where somebody said it
    :param with_course: how the flow goes around each edge is wanted, too
    :param only_over: how sure the start is of a pour that the readings end in is not
    """
    step_g = display_step_g(samples.weight_g)
    samples, switches = in_one_unit(samples)
    noise = noise_g(samples, step_g)
    handled = _handled(samples, response, noise, step_g)
    known = handled.response or assumed
    settling = None if known else lags_by_tails(samples, handled.weight_g, handled.vessels, noise) or lags
    likely = known or (settling.told().response if settling else USUAL)
    curve, disturbances = _calm(samples, handled, likely, noise, step_g)
    flowing = find_flowing(curve, settled)
    lag_sd_s = None if handled.response is None else 0.0
    if known is None:
        told = lag_by_edges(curve, cut_at_dips(curve, flowing), settling or Lags.usual())
        curve, lag_sd_s = _through(curve, lag_sd_s, told or (settling.told() if settling else None))
    fitted = find_rises(curve, flowing, settled)
    found = that_count(curve, fitted)
    events = (*_of_hands(samples, handled, disturbances, found, noise, step_g), *switches)
    events = (*events, *_gaps(samples, curve.weight_g))
    rises, solids = told_apart(curve, found, events, expected_g, came_before)
    if expected_g is None and sum(rise.gained_g for rise in rises) < LEAST_BREW_G:
        rises = ()
    in_order = tuple(sorted((*events, *solids), key=lambda event: event.start_s))
    if known is None and settling is None:
        curve, lag_sd_s = _through(curve, lag_sd_s, lag_by_stops(stops_seen(curve, rises, solids, method)))
    rises, sure = know_edges(
        curve, rises, solids, events, settled, method, with_course=with_course, only_over=only_over
    )
    drying = drying_of(curve, sure, in_order)
    rises, sure = that_gained(rises, sure, drying)
    pours = pours_from(curve, rises, sure, lag_sd_s, drying, in_order, step_g=step_g)
    if pours and find_method(pours, in_order) == "espresso":
        sure = with_empty_cups(curve, sure, in_order, unseen_drops_s(noise, step_g))
        pours = pours_from(curve, rises, sure, lag_sd_s, drying, in_order, step_g=step_g)
        pours = with_first_drops(pours, noise, step_g)
    return Read(curve, pours, rises, sure, in_order, solids, handled.response, settling, step_g, fitted)


@dataclass(frozen=True, slots=True)
class _Handled:
    """What hands did to the scale, and how it answered.

    :param weight_g: the readings without their tares, shape (n,)
    :param before: the same on an even grid, before anything else is taken out
    :param moves: vessels and other loads that came and went
    :param presses: hands and presses that lay on the scale
    :param vessels: the moves whose step shows how the display follows
    :param response: the scale's lag, where it was given or a step showed it
    """

    ruler: Ruler
    weight_g: Floats
    before: Grid
    tares: tuple[Event, ...]
    moves: tuple[Move, ...]
    presses: tuple[Event, ...]
    vessels: tuple[Move, ...]
    response: Response | None


def _handled(samples: Samples, response: Response | None, noise: float, step_g: float) -> _Handled:
    """Find tares, moves and presses, and what a step shows of the lag."""
    tares = find_tares(samples, noise, step_g)
    weight = without_tares(samples, tares)
    ruler = Ruler.of(samples)
    before = ruler.grid(weight)
    moves, presses = gathered(find_moves(before, noise), before, noise, tares)
    vessels = steps_of_vessels(moves, tares, samples, noise, step_g)
    shown = response or response_from(samples, weight, vessels)
    moves = faded_to_zero(moves, samples, shown, noise, step_g)
    return _Handled(ruler, weight, before, tares, moves, presses, vessels, shown)


def _of_hands(
    samples: Samples,
    handled: _Handled,
    disturbances: tuple[Event, ...],
    found: tuple[Rise, ...],
    noise: float,
    step_g: float,
) -> tuple[Event, ...]:
    """Say what hands did: lifts, tares and vessels, presses, knocks and stirring."""
    moves, tares, before = handled.moves, handled.tares, handled.before
    faded = tuple(event_of(move) for move in moves if move.fades)
    returns = tuple(event_of(move) for move in moves if move.returns)
    others = other_than(handled.presses, (*returns, *disturbances))
    return (
        *lifts_among(tares, moves, samples, found),
        *tares_among(events_of(moves), tares, found, samples, noise, step_g, faded),
        *handled.presses,
        *shaken(before, others, _grid_noise(samples, before, noise), step_g),
    )


def _through(curve: Curve, lag_sd_s: float | None, told: ToldLag | None) -> tuple[Curve, float | None]:
    """See a curve through a lag that was told, and say how well it is known; unchanged where none was."""
    return (replace(curve, response=told.response), told.sd_s) if told else (curve, lag_sd_s)


def _calm(
    samples: Samples, handled: _Handled, response: Response, noise: float, step_g: float
) -> tuple[Curve, tuple[Event, ...]]:
    """Take moves, then knocks and stirring, out of the curve."""
    ruler = handled.ruler
    weight, stepped = without_moves(samples.time_s, handled.weight_g, handled.moves)
    grid = ruler.grid(weight)
    grid_noise = _grid_noise(samples, grid, noise)
    disturbances = find_disturbances(grid, noise, grid_noise, step_g, response.delay_s)
    disturbances = that_come_back(disturbances, handled.moves, grid)
    weight, disturbed = without_disturbances(samples.time_s, weight, disturbances)
    grid = ruler.grid(weight) if disturbances else grid
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


def _grid_noise(samples: Samples, grid: Grid, noise_g: float) -> float:
    """Noise of one value of the grid, each of which is a mean over its step."""
    return float(noise_g * min((samples.interval_s / grid.step_s) ** 0.5, 1.0))


def _gaps(samples: Samples, weight: Floats) -> tuple[Event, ...]:
    time = samples.time_s
    last = (time[1:] - time[:-1] > samples.gap_s).nonzero()[0].tolist()
    return tuple(
        Event("gap", float(time[i]), float(time[i + 1]), float(weight[i + 1] - weight[i])) for i in last
    )
