"""How an espresso ends: its pump stops at once and the flow fades from all that it was, or a valve lets go.

Flow goes with the pressure on the bed (Darcy), and the pressure goes as water runs out of the bed: what flows
fades as ``exp(-t / p)``. Some of it is held up on its way, by basket and spout, and drains off more slowly.
So the flow is that of two streams of which each fades with a time constant of its own,

    q exp(-t / p) + a exp(-t / d),    q, a >= 0,    d > p

and where the pump stops it neither jumps nor falls to nothing first. ``a`` may be nothing. Where a valve
opens over the bed, or a lever lets go of it, the pressure is gone at once, and what runs off then comes to
nothing evenly within a second. That is tried as well.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.around import Around, Seen
from logger.curve.edges.choice import Known
from logger.curve.edges.fading import ENDS_AT_G_S, Left
from logger.curve.edges.linear import Fits, Priors, fit_all
from logger.curve.edges.options import Options, score_of, wavering_precision
from logger.curve.edges.shapes import (
    FALL_S,
    Response,
    end_shape,
    fade_shapes,
    left_of_lag,
    settled_square,
    shown_and_pressed,
)
from logger.curve.edges.tried import likely_of_a_bed

DRAINS, DRAINS_DIFFER = 0.15, 0.2
"""Share of a stream that usually drains more slowly, and by how much that differs (standard deviation)."""
SLOWER = 1.5
"""What drains no more slowly than that, against what falls, is the same."""
CLOSES = 0.25
"""How often the flow comes to nothing evenly, against once that it fades."""
_LEAST_FLOW_G_S, _AT_ONCE_S, _DOWN_TO_DROPS = 0.5, 0.02, 3.0
_TURNS = 3
"""So many of Newton's steps find when two fades together fall below a flow, to a thousandth of a second."""


@dataclass(frozen=True, slots=True, eq=False)
class Stops:
    """The stops that are tried: times around the fitted end, and how the flow may fade.

    :param falls_s: time constants of the pressure
    :param closes_s: how long a flow takes that comes to nothing evenly
    :param drains_s: those of what drains
    :param drips_g_s: what may go on dripping, none first
    """

    step_s: float
    back: int
    ahead: int
    falls_s: tuple[float, ...]
    closes_s: tuple[float, ...]
    drains_s: tuple[float, ...]
    drips_g_s: tuple[float, ...]
    around_s: Floats = field(init=False)
    """The times that are tried, from the fitted one on; shape (c,)."""
    ways_to_drain_s: Floats = field(init=False)
    """The time constant with which something drains, 0 for nothing, once for each of what may drip; (w,)."""
    ways_to_drip_g_s: Floats = field(init=False)
    """What drips on with each of these, shape alike."""
    odds: Floats = field(init=False)
    """Logarithm of how likely each of these is beforehand with each fall, shape (w, r, 1)."""

    def __post_init__(self) -> None:
        """Work out once what every weighing needs."""
        worked_out = {
            "around_s": self.step_s * np.arange(-self.back, self.ahead + 1),
            "ways_to_drain_s": np.tile([0.0, *self.drains_s], len(self.drips_g_s)),
            "ways_to_drip_g_s": np.repeat(self.drips_g_s, len(self.drains_s) + 1),
            "odds": self._odds(),
        }
        for name, value in worked_out.items():
            object.__setattr__(self, name, value)

    def _odds(self) -> Floats:
        """Something drains and drips as often as not; nothing drains where a valve has let go."""
        falls = likely_of_a_bed(self.falls_s)
        closes = np.full(len(self.closes_s), CLOSES * falls.sum() / max(len(self.closes_s), 1))
        slower = np.array(self.drains_s)[:, None] >= SLOWER * np.array(self.falls_s)
        drains = np.zeros((len(self.drains_s), falls.size + closes.size))
        drains[:, : falls.size] = slower / np.maximum(slower.sum(axis=0), 1)
        of_drains = np.concatenate((np.ones((1, drains.shape[1])), drains))
        drips = np.full(len(self.drips_g_s), 1.0 / max(len(self.drips_g_s) - 1, 1))
        drips[0] = 1.0
        of_ways = drips[:, None, None] * of_drains * np.concatenate((falls, closes))
        with np.errstate(divide="ignore"):
            return np.asarray(np.log(of_ways).reshape(-1, drains.shape[1], 1))


STOPS = Stops(
    step_s=0.1,
    back=36,
    ahead=4,
    falls_s=tuple(np.geomspace(0.15, 1.7, 12).tolist()),
    closes_s=(0.25, 0.5, 0.9),
    drains_s=(0.9, 2.2),
    drips_g_s=(0.0, 0.02, 0.04, 0.06),
)
"""Of a quiet scale one fall a quarter longer than the next can be told from it; with two fifths between them
ends were read 0.01 s further off."""


def fit_stops(around: Around, stops: Stops, *lags: Response) -> tuple[Fits, Left]:
    """Fit every stop; the falls take the place of ramps, and what drains that of what fades.

    :param lags: the scale's; or, where all edges are one and the same, for each one that is possible
    """
    since = around.since_s(stops.around_s)
    if len(lags) == 1:
        shapes, waverings, dripped, *drains = _columns(since, stops, lags[0])
    else:
        each = [_columns(since[number, None], stops, lag) for number, lag in enumerate(lags)]
        shapes, waverings, dripped, *drains = map(np.concatenate, zip(*each, strict=True))
    flow_g_s = np.maximum(around.flow_g_s, _LEAST_FLOW_G_S)[:, None]
    fading = 1.0 / (DRAINS_DIFFER * flow_g_s) ** 2
    priors = Priors(wavering_precision(around), fading, DRAINS * flow_g_s)
    waverings = np.broadcast_to(waverings[:, None], shapes.shape)
    drips_g_s, of_one = stops.drips_g_s, len(lags) > 1
    fits = fit_all(shapes, waverings, drains, around, priors, dripped, drips_g_s, of_one=of_one)
    return fits, Left.of(fits, len(drains), most=1.0)


def _columns(since: Floats, stops: Stops, response: Response) -> tuple[Floats, ...]:
    """What the display shows of each stop, of the flow's wavering, of what drips, and of each that drains.

    :param since: time since each stop that is tried, shape (e, c, n)
    :returns: of shape (e, r, c, n) for the stops, else (e, c, n)
    """
    lagged = left_of_lag(since, response.stage_s)
    shown, running = shown_and_pressed(since, response, lagged)
    stopped = end_shape(since, np.array(_AT_ONCE_S), response)
    falls, drains = (
        [stopped - fade for fade in fade_shapes(since, fades_s, response, lagged)]
        for fades_s in (stops.falls_s, stops.drains_s)
    )
    closes = [end_shape(since - each_s, np.array(each_s), response) for each_s in stops.closes_s]
    shapes = np.stack((*falls, *closes), axis=1)
    # Single drops press by nothing.
    dripped = (running - shown) / FALL_S
    return shapes, settled_square(since, response) - shown, dripped, *drains


def evidence_of_lags(seen: Seen, stops: Stops, lags: Sequence[Response]) -> Floats:
    """Logarithm of how well a stop explains its readings through each of some lags, up to a constant.

    :param seen: the stop, as far as its readings are believed
    :returns: shape (n,), minus infinity where no stop is possible; all 0 where none is through any
    """
    around = Around.of([seen] * len(lags))
    likely = score_of(*fit_stops(around, stops, *lags), stops).reshape(len(lags), -1)
    most = likely.max()
    if most == -np.inf:
        return np.zeros(len(lags))
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(np.exp(likely - most).sum(axis=1)))


def sum_up(options: Options[Stops], *, with_course: bool) -> list[Known]:
    """Say when each end is, and what came after it.

    What drips on evenly may be single drops, which are no flow, or a film, which is as much flow as what
    fades: nothing on the display tells one from the other, so either is as likely.
    """
    choice, stops, left = options.choice, options.grid, options.left
    assert left is not None
    stops_s, falling_g_s = choice.of(options.at_s), choice.of(options.fits.flow_g_s)
    falls_s = choice.of(np.array((*stops.falls_s, *(0.5 * each_s for each_s in stops.closes_s)))[:, None])
    closes_s = choice.of(np.array((*(0.0 for _ in stops.falls_s), *stops.closes_s))[:, None])
    drains_s, films_g_s = (
        choice.of(of_ways[:, None, None]) for of_ways in (stops.ways_to_drain_s, stops.ways_to_drip_g_s)
    )
    drains = drains_s > 0.0
    # What is still to come of a flow that closes is counted, and drawn, as of a fade about the same middle.
    ways = Fading(falling_g_s, falls_s, left.parts_g_s(choice) * drains, np.where(drains, drains_s, falls_s))
    with_drops_s, with_film_s = (
        np.where(closes_s > 0.0, _closed_after_s(closes_s, falling_g_s, ends_g_s), ways.lasts_s(ends_g_s))
        for ends_g_s in (ENDS_AT_G_S, ENDS_AT_G_S - films_g_s)
    )
    known = choice.known(*(stops_s + with_drops_s), *(stops_s + with_film_s))
    after_g = choice.mean_of(ways.brings_g(with_drops_s).mean(axis=0))
    known = [replace(each, after_g=tail_g) for each, tail_g in zip(known, after_g, strict=True)]
    if not with_course:
        return known
    reach_s = stops.falls_s[-1] * _DOWN_TO_DROPS, 1.0
    at_once_s = np.full(stops_s.size, _AT_ONCE_S)
    return choice.with_shares(known, reach_s, stops_s, at_once_s, ways.shares())


def _closed_after_s(closes_s: Floats, flow_g_s: Floats, ends_at_g_s: Floats | float) -> Floats:
    """Say when a flow that comes to nothing evenly falls below one."""
    return np.asarray(closes_s * (1.0 - np.minimum(ends_at_g_s / np.maximum(flow_g_s, 1e-9), 1.0)))


@dataclass(frozen=True, slots=True)
class Fading:
    """Two streams that fade together; all of shape (k,), flows as they begin.

    :param slow_g_s: as likely to be one as another, shape (p, k)
    :param slow_s: the time constant of the second, no less than that of the first
    """

    fast_g_s: Floats
    fast_s: Floats
    slow_g_s: Floats
    slow_s: Floats

    def lasts_s(self, ends_at_g_s: Floats | float) -> Floats:
        """Say how long they bring more than a flow, together; shape (p, k).

        The logarithm of their sum falls ever more slowly, so that Newton's steps come from below.
        """
        alone_s = [
            time_s * np.log(np.maximum(flow_g_s / ends_at_g_s, 1.0))
            for flow_g_s, time_s in ((self.fast_g_s, self.fast_s), (self.slow_g_s, self.slow_s))
        ]
        lasts_s = np.maximum(*alone_s)
        for _ in range(_TURNS):
            fast_g_s, slow_g_s = self._left_g_s(lasts_s)
            flow_g_s = np.maximum(fast_g_s + slow_g_s, 1e-9)
            falls_g_s2 = np.maximum(fast_g_s / self.fast_s + slow_g_s / self.slow_s, 1e-9)
            lasts_s = np.maximum(lasts_s + np.log(flow_g_s / ends_at_g_s) * flow_g_s / falls_g_s2, 0.0)
        return np.asarray(lasts_s)

    def brings_g(self, after_s: Floats) -> Floats:
        """Say what they still bring from then on; parameter and result of shape (p, k)."""
        fast_g_s, slow_g_s = self._left_g_s(after_s)
        return np.asarray(fast_g_s * self.fast_s + slow_g_s * self.slow_s)

    def shares(self) -> list[tuple[Floats, Floats]]:
        """Give the time constant of each, and its share as they begin, of the middle one of the second."""
        slow_g_s = self.slow_g_s[len(self.slow_g_s) // 2]
        whole_g_s = self.fast_g_s + slow_g_s
        return [(self.fast_s, self.fast_g_s / whole_g_s), (self.slow_s, slow_g_s / whole_g_s)]

    def _left_g_s(self, after_s: Floats) -> tuple[Floats, Floats]:
        return (
            self.fast_g_s * np.exp(after_s / -self.fast_s),
            self.slow_g_s * np.exp(after_s / -self.slow_s),
        )
