"""Pours: the stretches in which water arrives, their edges fitted with the shape of a pour.

First the stretches are found where the curve rises beyond its noise; a stretch is cut where the flow on the
pan falls to a small part of what it is on both sides. Then each edge is fitted (``edges``): the time at
which the first water reached the pan, the time at which the last one did, and the level before and after.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from logger.curve.edges.edge import THIN_FLOW_G_S, Edge
from logger.curve.pours.dips import measure_dips
from logger.curve.pours.flow import half_for, slope_g_s, slope_sd_g_s
from logger.curve.pours.gaps import cut_at_gaps, ran_through
from logger.curve.pours.hidden import cut_where_hidden, hidden_stretches_s
from logger.curve.pours.laid_down import came_at_once, cut_where_laid_down
from logger.curve.pours.lulls import NO_LULLS, Lulls, find_lulls
from logger.curve.pours.settled import NOTHING_SETTLED, Settled, Turn, turn
from logger.curve.pours.stretches import fit_stretches, start_behind
from logger.curve.pours.water_curve import Curve
from logger.curve.readings.runs import runs_of

LEAST_FLOW_G_S = 0.45
_DIPS_AT_ONCE = 6
"""So many dips are measured side by side; behind a pause they are measured again, and pauses are few."""
LEAST_POUR_G = 1.5
SETTLES_G = 5.0
"""More than that a display that was just switched on, or called back, has not still to settle by."""
SHORTEST_PAUSE_S = 0.5
"""What is as short as that is no pause, however it was found: no hand stops and goes on within it."""

SHORTEST_THIN_PAUSE_S = 1.3
CLEARLY_STOPPED_S = 1.3
"""Where so much water is missing no flow only weakened, however close the edges beside it were fitted; but
between the drips of a thin stream."""

LONGEST_DRIP_S, MOST_DRIPPED_G = 2.0, 15.0
"""Between drips of a thin stream; they bring no more than so much."""


@dataclass(frozen=True, slots=True)
class Rise:
    """A stretch in which something arrived, with its edges fitted.

    :param seen: where the curve was seen to begin to rise, and to end
    :param laid_down: it is a step that came as the stream before it had ended: a spoon, a lid
    """

    start: Edge
    end: Edge
    peak_flow_g_s: float
    seen: tuple[Turn, Turn]
    laid_down: bool = False

    @property
    def gained_g(self) -> float:
        """What arrived: the level after less the level before."""
        return self.end.level_g - self.start.level_g

    @property
    def lasts_s(self) -> float:
        """From the first water to the last."""
        return self.end.time_s - self.start.time_s

    @property
    def is_thin(self) -> bool:
        """Whether it flows like an espresso, from its start on and as a whole, whatever its end is like."""
        return self.start.flow_g_s < THIN_FLOW_G_S and self.gained_g < THIN_FLOW_G_S * self.lasts_s

    @property
    def ends_thin(self) -> bool:
        """Whether its end is one of an espresso."""
        return self.is_thin or self.end.flow_g_s < THIN_FLOW_G_S

    def on_to(self, other: Rise) -> Rise:
        """Give the rise that goes on to the end of a later one."""
        peak_g_s = max(self.peak_flow_g_s, other.peak_flow_g_s)
        return Rise(self.start, other.end, peak_g_s, (self.seen[0], other.seen[1]))


@dataclass(frozen=True, slots=True)
class Flowing:
    """A stretch of flow, as it is seen whatever the scale's lag.

    :param first: its first grid index, with ``last`` its last
    :param lulls: where it may have stopped in between
    """

    first: int
    last: int
    lulls: Lulls = NO_LULLS


def find_rises(
    curve: Curve, flowing: Sequence[Flowing], settled: Settled = NOTHING_SETTLED
) -> tuple[Rise, ...]:
    """Fit the edges of every stretch in which the curve rises, in order of time, of however little.

    :param settled: the edges that stay what they are
    """
    spans, laid_down = _cut_where_laid_down(curve, cut_at_dips(curve, flowing), settled)
    rises = [
        Rise(
            start,
            end,
            _peak_flow(curve, *span),
            (turn(curve, span[0]), turn(curve, span[1])),
            span in laid_down,
        )
        for span, (start, end) in zip(spans, fit_stretches(curve, spans, settled), strict=True)
    ]
    return tuple(_behind_tails(curve, _rejoined(curve, rises), settled))


def _cut_where_laid_down(
    curve: Curve, spans: Sequence[tuple[int, int]], settled: Settled
) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """Cut each stretch before what was laid down as its stream had ended.

    :param settled: the stretches of which it is known that nothing was
    :returns: all stretches, and those of what was laid down
    """
    parts, laid_down = list[tuple[int, int]](), list[tuple[int, int]]()
    for first, last in spans:
        at = None if settled.is_one(curve, first, last) else cut_where_laid_down(curve, first, last)
        if at is not None and came_at_once(curve, *fit_stretches(curve, [(first, at), (at, last)])):
            parts.append((first, at))
            laid_down.append((at, last))
            first = at
        parts.append((first, last))
    return parts, laid_down


def that_count(curve: Curve, rises: Sequence[Rise]) -> tuple[Rise, ...]:
    """Leave out what is too little, and what was hardly measured.

    A few grams that were on their way already when the readings begin are a display that still settles.
    """
    least_g = max(LEAST_POUR_G, 5.0 * curve.noise_g)
    return tuple(
        rise
        for rise in rises
        if rise.gained_g >= least_g and not _still_settles(curve, rise) and _was_measured(curve, rise)
    )


def has_begun_before(curve: Curve, rise: Rise) -> bool:
    """Whether a rise was running already when the readings began."""
    return bool(rise.start.time_s <= curve.measured_s[0])


def _still_settles(curve: Curve, rise: Rise) -> bool:
    return has_begun_before(curve, rise) and bool(rise.end.level_g - curve.measured_g[0] < SETTLES_G)


def _rejoined(curve: Curve, rises: list[Rise]) -> list[Rise]:
    """Take as one what was cut at a dip that, with its edges fitted, is no pause."""
    joined: list[Rise] = []
    for rise in rises:
        close = joined and rise.start.time_s - joined[-1].end.time_s < _shortest_pause_s(joined[-1], rise)
        if close and not rise.laid_down and not has_stopped(curve, joined[-1], rise):
            joined[-1] = joined[-1].on_to(rise)
        else:
            joined.append(rise)
    return joined


def has_stopped(curve: Curve, one: Rise, other: Rise) -> bool:
    """Whether the flow between two rises, measured through the scale's lag, stopped for longer than any that
    only weakens.

    Edges are fitted one by one; on a slow scale a lag that is taken too short, or a ramp too long, lets them
    touch where the water that is missing between them tells otherwise.
    """
    (dip,) = measure_dips(
        curve.measured_s,
        curve.measured_g,
        [0.5 * (one.seen[1][0] + other.seen[0][0])],
        (one.seen[0][0] - 1.0, other.seen[1][0] + 1.0),
        curve.response,
        curve.noise_g,
    )
    drips = min(one.gained_g, other.gained_g) > LEAST_POUR_G
    least_s = max(CLEARLY_STOPPED_S, _shortest_pause_s(one, other) if drips else 0.0)
    if dip is None or not dip.is_pause or dip.stopped_s < least_s:
        return False
    first, last = curve.time_s.searchsorted([dip.falls_s, dip.rises_s + curve.response.delay_s])
    return not curve.replaced[first:last].any()


def _behind_tails(curve: Curve, rises: list[Rise], settled: Settled) -> list[Rise]:
    """Look again at each start before which a slow display still followed the pour before it."""
    behind = rises[:1]
    for rise in rises[1:]:
        before = behind[-1]
        ended, first, last = curve.grid_s.searchsorted([before.seen[1][0], rise.seen[0][0], rise.seen[1][0]])
        if settled.start(curve, int(first)) is None:
            start = start_behind(curve, before.end, int(ended), (int(first), int(last)), rise.start)
            rise = rise if start is rise.start else replace(rise, start=start)
        behind.append(rise)
    return behind


def _shortest_pause_s(one: Rise, other: Rise) -> float:
    """A hand needs half a second to stop and go on; a stream as thin as espresso begins and ends in drips."""
    thin = all(rise.gained_g < THIN_FLOW_G_S * max(rise.lasts_s, 0.1) for rise in (one, other))
    if not thin:
        return SHORTEST_PAUSE_S
    return LONGEST_DRIP_S if min(one.gained_g, other.gained_g) < MOST_DRIPPED_G else SHORTEST_THIN_PAUSE_S


def _was_measured(curve: Curve, rise: Rise) -> bool:
    """Whether most of a rise, its time or its weight, was measured, not drawn through a step or a knock.

    Where stirring began as a pour ended, its last grams are spread over all of it.
    """
    shown_s = rise.end.time_s + curve.response.delay_s
    first = int(curve.time_s.searchsorted(rise.start.time_s))
    ended, shown = curve.time_s.searchsorted([rise.end.time_s, shown_s], side="right").tolist()
    if np.count_nonzero(curve.replaced[first:ended]) < 0.5 * max(ended - first, 1):
        return True
    drawn, weight = curve.replaced[first:shown], curve.weight_g[first:shown]
    return bool(np.diff(weight)[~(drawn[1:] | drawn[:-1])].sum() > 0.5 * rise.gained_g)


def find_flowing(curve: Curve, settled: Settled = NOTHING_SETTLED) -> list[Flowing]:
    """Find each stretch of flow, in order of time.

    :param settled: the stretches of which it is known that the flow nowhere stops in between
    """
    noise_g, step_s = curve.grid_noise_g, curve.step_s
    half = half_for(noise_g, step_s, 0.11, 0.8, 4.0)
    slope = slope_g_s(curve.grid_g, half, step_s)
    sd = slope_sd_g_s(noise_g, half, step_s)
    on, faint = slope > max(LEAST_FLOW_G_S, 4.0 * sd), slope > max(0.12, 1.5 * sd)
    spans = [(first, last) for first, last in runs_of(faint) if on[first : last + 1].any()]
    pieces = [piece for span in spans for piece in cut_at_gaps(curve, *span)]
    hidden_s = hidden_stretches_s(curve)
    parts = [part for piece in pieces for part in cut_where_hidden(curve, *piece, hidden_s)]
    return [
        Flowing(*part) if settled.is_one(curve, *part) else Flowing(*part, find_lulls(curve, *part))
        for part in parts
    ]


def cut_at_dips(curve: Curve, flowing: Sequence[Flowing]) -> list[tuple[int, int]]:
    """Cut each stretch wherever its flow, measured through the scale's lag, stops in between.

    :returns: first and last grid index of each piece
    """
    return [piece for each in flowing for piece in _cut(curve, each.first, each.last, each.lulls.deep(curve))]


def _cut(curve: Curve, first: int, last: int, lowest: Sequence[int]) -> list[tuple[int, int]]:
    parts, begin = [], first
    looked_at = 0
    while looked_at < len(lowest):
        some = list(lowest[looked_at : looked_at + _DIPS_AT_ONCE])
        dips = measure_dips(
            curve.measured_s,
            curve.measured_g,
            curve.grid_s[some].tolist(),
            (float(curve.grid_s[begin]) - 1.0, float(curve.grid_s[last]) + 1.0),
            curve.response,
            curve.noise_g,
        )
        for dip in dips:
            looked_at += 1
            if dip is None or not dip.is_pause:
                continue
            delay_s = curve.response.delay_s
            falls_s, rises_s = dip.falls_s + delay_s, dip.rises_s + delay_s
            falls, rises = curve.grid_s.searchsorted([falls_s, rises_s]).tolist()
            within = begin < falls < last and begin < rises < last
            runs_s = float(curve.grid_s[begin]), float(curve.grid_s[last])
            if within and not ran_through(curve, falls_s, rises_s, runs_s):
                parts.append((begin, falls))
                begin = rises
                break  # the dips behind it are measured without what went before
    return [*parts, (begin, last)]


def _peak_flow(curve: Curve, first: int, last: int) -> float:
    half = half_for(curve.grid_noise_g, curve.step_s, 0.4, 0.8, 2.0)
    near = slice(max(first - half, 0), last + half + 1)
    return float(slope_g_s(curve.grid_g[near], half, curve.step_s).max(initial=0.0))
