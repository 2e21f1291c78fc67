"""How well an edge is known: every edge that might be, weighed by how well it explains the samples.

``edges`` finds the one edge that fits best. Here the time, the ramp and the fading of an edge run over a grid
around it; level, flow and how the flow wavers follow by least squares with a prior, and so does what drips
on. Each is weighed by its evidence (the Bayesian linear model: MacKay, Information Theory, Inference, and
Learning Algorithms, 2003, chapter 28). What is left possible is the uncertainty of the edge.

A flow seldom stops at once: a spout drips on, an espresso fades. What fades is an exponential that begins
where the ramp ends; the end of the pour is where its flow falls below 0.1 g/s.

A time is believed only to ``CLOCK_S``, and the samples as ``believed`` says.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.around import Around, Seen
from logger.curve.edges.believed import believed_at_end, believed_at_start, once_begun
from logger.curve.edges.choice import Choice, Known
from logger.curve.edges.fading import ENDS_AT_G_S, Left, tails_g, times_it_ends_s
from logger.curve.edges.linear import Fits, Priors, fit_all
from logger.curve.edges.shapes import (
    FALL_S,
    Response,
    fade_shapes,
    left_of_lag,
    pressed,
    settled_square,
    shown_square,
)
from logger.curve.edges.tipping import end_s, first_water_s
from logger.curve.readings.runs import Flags

THIN_LEFT = 0.5
FADES_TO_ONE = 100.0
BED_FADES_S, BED_FADES_DIFFER = 0.6, 0.8
"""So many espressos fade to one that stops at once; the usual time constant, and by how much machines differ
in it, standard deviation of the logarithm: a stream of 2 g/s is down to drops within 1 to 4 s of the stop,
three time constants (common practice)."""
WAVERS_PER_S = 0.2
"""Standard deviation of how much a hand's flow changes within a second, as a share of it."""


@dataclass(frozen=True, slots=True)
class Grid:
    """Which edges are tried: times around the fitted one, ramps (both in whole steps) and fades.

    :param drips_g_s: what may go on dripping after an end, none first; less than counts as flow
    :param odds_of_fades: how likely each fade is beforehand, against an end without one
    :param odds_of_drips: how likely it is that anything drips, against nothing
    :param of_a_bed: whether what drips may be a film that drains off the bed, and as much flow as the fade
    :param film_g_s: what such a film brings besides, where too little was seen to tell it from the fade
    """

    step_s: float
    back: int
    ahead: int
    ramps: tuple[int, ...]
    fades_s: tuple[float, ...] = ()
    drips_g_s: tuple[float, ...] = (0.0,)
    odds_of_fades: tuple[float, ...] = ()
    odds_of_drips: float = 1.0
    of_a_bed: bool = False
    film_g_s: float = 0.0
    around_s: Floats = field(init=False)
    """The times that are tried, from the fitted one on; shape (c,)."""
    ramps_s: Floats = field(init=False)
    """How long each ramp takes, shape (r,)."""
    ways_to_end_s: Floats = field(init=False)
    """How fast each end fades, 0 for not at all, once for each of what may drip; shape (d * (f + 1),)."""
    ways_to_drip_g_s: Floats = field(init=False)
    """What drips on after each of these, shape alike."""
    odds: Floats = field(init=False)
    """Logarithm of how likely each of these ways is beforehand; shape alike."""

    def __post_init__(self) -> None:
        """Work out once what every weighing needs."""
        object.__setattr__(self, "around_s", self.steps_s(0, 0))
        object.__setattr__(self, "ramps_s", self.step_s * np.array(self.ramps))
        ways_s = np.tile([0.0, *self.fades_s], len(self.drips_g_s))
        object.__setattr__(self, "ways_to_end_s", ways_s)
        dripping = np.repeat(self.drips_g_s, len(self.fades_s) + 1)
        object.__setattr__(self, "ways_to_drip_g_s", dripping)
        object.__setattr__(self, "odds", self._odds())

    @property
    def size(self) -> int:
        """How many times are tried."""
        return self.back + self.ahead + 1

    def _odds(self) -> Floats:
        fades = np.log([1.0, *self.odds_of_fades])
        drips = np.full(len(self.drips_g_s), np.log(self.odds_of_drips / max(len(self.drips_g_s) - 1, 1)))
        drips[0] = 0.0
        return np.asarray((drips[:, None] + fades).ravel())

    def steps_s(self, earlier: int, later: int) -> Floats:
        """Those times with as many steps more before and after them."""
        steps = np.arange(-self.back - earlier, self.ahead + later + 1)
        return np.asarray(self.step_s * steps, dtype=np.float64)


def _of_a_bed(fades_s: tuple[float, ...]) -> tuple[float, ...]:
    """Say how likely each fade of an espresso is beforehand, by its time constant.

    The pressure on a bed goes as the water runs out of it: hardly one stops without a fade.
    """
    off = np.log(np.array(fades_s) / BED_FADES_S) / BED_FADES_DIFFER
    likely: Floats = np.exp(-0.5 * off**2)
    return tuple((FADES_TO_ONE * likely / likely.sum()).tolist())


_POUR_STARTS = Grid(0.05, 16, 11, (4, 8, 12, 17, 23, 30))
_POUR_ENDS = Grid(
    0.05,
    16,
    16,
    (2, 6, 12, 20, 32),
    (0.25, 0.6),
    drips_g_s=(0.0, 0.04),
    odds_of_fades=(0.5, 0.5),
    odds_of_drips=0.5,
)
_THIN_STARTS = Grid(0.1, 25, 25, (1, 3, 8, 16, 30, 50, 70))
_BED_FADES_S = (0.3, 0.6, 1.0, 1.6, 2.4)
_THIN_ENDS = Grid(
    0.1,
    30,
    10,
    (1, 3, 8, 16, 30),
    _BED_FADES_S,
    drips_g_s=(0.0, 0.02, 0.04, 0.06),
    odds_of_fades=_of_a_bed(_BED_FADES_S),
    of_a_bed=True,
)
_SLOW_ENDS = replace(_THIN_ENDS, odds_of_fades=(0.8,) * len(_BED_FADES_S), of_a_bed=False)
"""A stream that a hand pours as slowly may run off the lip for long, and may as well be cut off."""
_FRESH_THIN_ENDS = replace(_THIN_ENDS, drips_g_s=(0.0,), film_g_s=0.04)
"""As long as single drops cannot be told from the fade a film cannot either; it flows all the same."""
_FRESH_SLOW_ENDS = replace(_SLOW_ENDS, drips_g_s=(0.0,))
_STARTS = (_POUR_STARTS, _THIN_STARTS)
_ENDS = (_POUR_ENDS, _THIN_ENDS, _FRESH_THIN_ENDS, _SLOW_ENDS, _FRESH_SLOW_ENDS)


def know_starts(seen: Sequence[Seen], response: Response, *, with_course: bool = True) -> list[Known | None]:
    """Weigh, for each edge, the starts around the one that fitted best; None where none of them is possible.

    :param with_course: say how the flow goes around the edge, too
    """
    summed = partial(_start, with_course=with_course)
    return _weighed([believed_at_start(each, response) for each in seen], _STARTS, response, _starts, summed)


def know_ends(seen: Sequence[Seen], response: Response, *, with_course: bool = True) -> list[Known | None]:
    """Weigh the ends around those that fitted best, fading ones among them; parameters as for starts."""
    summed = partial(_end, with_course=with_course)
    return _weighed([believed_at_end(each, response) for each in seen], _ENDS, response, _ends, summed)


@dataclass(frozen=True, slots=True)
class Options:
    """What is possible of some edges.

    :param is_thin: whether they are of espressos
    :param at_s: the times that were tried, shape (e, 1, 1, c): when a start begins, when an end has stopped
    :param left: what may fade after an end
    """

    choice: Choice
    grid: Grid
    is_thin: bool
    at_s: Floats
    fits: Fits
    left: Left | None = None


Fitting = Callable[[Around, Grid, Response], tuple[Fits, Left | None]]


def _weighed(
    seen: list[Seen],
    grids: Sequence[Grid],
    response: Response,
    fitted: Fitting,
    summed: Callable[[Options], list[Known]],
) -> list[Known | None]:
    """Weigh the edges of pours together, and those of thin streams, each over its own grid."""
    known: list[Known | None] = [None] * len(seen)
    for kind, grid in enumerate(grids):
        places = [place for place, each in enumerate(seen) if _kind(each, len(grids)) == kind]
        if not places:
            continue
        around = Around.of([seen[place] for place in places])
        options, possible = _options(*fitted(around, grid, response), grid, around.at_s, is_thin=kind > 0)
        if options:
            found = [place for place, can_be in zip(places, possible.tolist(), strict=True) if can_be]
            for place, each in zip(found, summed(options), strict=True):
                known[place] = each
    return known


def _kind(seen: Seen, kinds: int) -> int:
    """Say which grid an edge is weighed over: a pour's; an end's of an espresso, that of one which has just
    ended; and those of a stream that a hand pours as slowly.
    """
    if not seen.is_thin:
        return 0
    return 1 if kinds == len(_STARTS) else 1 + seen.is_fresh + 2 * (not seen.from_bed)


def _options(
    fits: Fits, left: Left | None, grid: Grid, edge_s: Floats, *, is_thin: bool
) -> tuple[Options | None, Flags]:
    """Choose among the fits of each edge of which anything is possible; which those are, shape (e,)."""
    score, can_be = fits.score, fits.flow_g_s > 0.0
    if left is not None:
        score = score + grid.odds[:, None, None] + np.log(left.chance)
        can_be = can_be & left.possible
    score = np.where(can_be, score, -np.inf)
    possible = score.reshape(edge_s.size, -1).max(axis=1) > -np.inf
    if not possible.any():
        return None, possible
    if not possible.all():
        rows = possible.nonzero()[0]
        score, edge_s, fits, left = score[rows], edge_s[rows], fits.only(rows), left and left.only(rows)
    at_s = edge_s[:, None, None, None] + grid.around_s
    return Options(Choice.by(score, fits), grid, is_thin, at_s, fits, left), possible


def _start(options: Options, *, with_course: bool) -> list[Known]:
    choice, grid, ramps_s = options.choice, options.grid, options.grid.ramps_s[:, None]
    straight_s = choice.of(options.at_s)
    # An espresso builds up by itself: no hand tips it, softly or not.
    tipped_s = (straight_s,) if options.is_thin else first_water_s(straight_s, choice.of(ramps_s))
    known = choice.known(*tipped_s)
    if not with_course:
        return known
    longest_s = grid.ramps[-1] * grid.step_s
    return choice.with_shares(known, (0.5, longest_s), options.at_s, ramps_s)


def _end(options: Options, *, with_course: bool) -> list[Known]:
    choice, grid, ramps_s = options.choice, options.grid, options.grid.ramps_s[:, None]
    assert options.left is not None
    fades_s = grid.ways_to_end_s[:, None, None]
    straight_s = options.at_s - ramps_s * ENDS_AT_G_S / np.maximum(options.fits.flow_g_s, ENDS_AT_G_S)
    ends_s = end_s(straight_s, ramps_s, is_thin=options.is_thin)
    parts_g_s = options.left.parts_g_s(choice)
    films_g_s = grid.ways_to_drip_g_s[:, None, None] + grid.film_g_s if grid.of_a_bed else None
    times_s = times_it_ends_s(choice, parts_g_s, options.at_s, fades_s, ends_s, films_g_s)
    known = choice.known(*times_s, has_two_humps=not options.is_thin)  # it stops clean, or drips on
    tails = tails_g(choice, parts_g_s, fades_s)
    if options.is_thin:
        known = [replace(each, after_g=tail_g) for each, tail_g in zip(known, tails, strict=True)]
    else:
        # Drops that fall after a stream rest on the scale: they are told from what fades, not from the grams.
        levels = zip(known, tails, *choice.first(len(grid.fades_s) + 1).level_g(), strict=True)
        known = [_with_drops(*of_edge) for of_edge in levels]
    if not with_course:
        return known
    longest_s = grid.ramps[-1] * grid.step_s
    return choice.with_shares(known, (longest_s, 1.0), options.at_s, ramps_s, fades_s)


def _with_drops(known: Known, tail_g: float, level_g: float, sd_g: float) -> Known:
    """Count what dripped to the level, and to what may have come after the end."""
    after_g = tail_g + max(level_g - known.level_g, 0.0)
    return replace(known, level_g=level_g, level_sd_g=sd_g, after_g=after_g)


def _starts(around: Around, grid: Grid, response: Response) -> tuple[Fits, None]:
    """Fit every start of a grid; its ramps reach to later times."""
    steps_s = grid.steps_s(0, grid.ramps[-1])
    since = around.since_s(steps_s)
    fade = left_of_lag(since, response.stage_s)
    square, begun = shown_square(since, response, fade), pressed(since, response, fade)
    full = np.array(grid.ramps)[:, None] + np.arange(grid.size)
    shapes = (begun[:, None, : grid.size] - begun.take(full, axis=1)) / grid.ramps_s[:, None, None]
    waverings = square.take(full, axis=1)
    one = np.ones((around.counts.size, 1))
    around = once_begun(around, since[:, : grid.size])
    return fit_all(shapes, waverings, [], around, Priors(_wavering(around), one, 0.0 * one)), None


def _ends(around: Around, grid: Grid, response: Response) -> tuple[Fits, Left]:
    """Fit every end of a grid; its ramps reach to earlier times."""
    longest = grid.ramps[-1]
    steps_s = grid.steps_s(longest, 0)
    since = around.since_s(steps_s)
    fade = left_of_lag(since, response.stage_s)
    shown, begun = shown_square(since, response, fade), pressed(since, response, fade)
    square = settled_square(since, response) - shown
    since, ended = since[:, longest:], begun[:, longest:]
    line = since - response.delay_s + FALL_S
    before = longest - np.array(grid.ramps)[:, None] + np.arange(grid.size)
    lasts_s = grid.ramps_s[:, None, None]
    shapes = line[:, None] + 0.5 * lasts_s - (begun.take(before, axis=1) - ended[:, None]) / lasts_s
    waverings = square.take(before, axis=1)
    fades = [-shape for shape in fade_shapes(since, grid.fades_s, response, fade[:, longest:])]
    # A spout drips on with little; an espresso goes on with anything up to all.
    flow_g_s = around.flow_g_s[:, None]
    is_thin = around.is_thin[:, None]
    usual_g_s = np.where(is_thin, THIN_LEFT * flow_g_s, 0.0)
    differs_g_s = np.where(is_thin, np.maximum(usual_g_s, 0.2), 0.06 * flow_g_s + 0.2)
    priors = Priors(_wavering(around), 1.0 / differs_g_s**2, usual_g_s)
    # Single drops press by nothing; they begin when the stream is over.
    dripped = (ended - shown[:, longest:]) / FALL_S
    fits = fit_all(shapes, waverings, fades, around, priors, dripped, grid.drips_g_s)
    return fits, Left.of(fits, len(fades))


def _wavering(around: Around) -> Floats:
    """Precision of the flow's change, from its prior, shape (e, 1)."""
    return np.asarray(1.0 / (WAVERS_PER_S * np.maximum(around.flow_g_s, 0.5)) ** 2)[:, None]
