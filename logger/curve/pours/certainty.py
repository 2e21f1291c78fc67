"""How well the edges of every rise are known, and what leaves no pause between two of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from logger.curve.brew import Event, Method
from logger.curve.edges.around import Seen
from logger.curve.edges.choice import Known
from logger.curve.edges.edge import THIN_FLOW_G_S
from logger.curve.edges.posterior import know_ends, know_starts
from logger.curve.pours.finding import SHORTEST_PAUSE_S, Rise, has_begun_before, has_stopped
from logger.curve.pours.method import ESPRESSO_TOTAL_G, flows_like_espresso
from logger.curve.pours.pulled import pulled_end
from logger.curve.pours.seen_around import seen_around
from logger.curve.pours.settled import NOTHING_SETTLED, Settled
from logger.curve.pours.stirred import stirred_end
from logger.curve.pours.water_curve import Curve

FEWEST_SAMPLES = 8
CUT_OFF_S = 0.3
CLEAR_PAUSE_S = 1.3
"""As long as that between two edges as they were fitted, a pause was seen."""

DRIPS_LONGEST_S, UNSEEN_END_S = 0.8, 0.3
"""No spout drips on for longer: what seems to is a level that moved, by a spoon that was laid down or a hand
on the scale. Then the end that fitted best is taken, and its range reaches to the other."""

CREEPS_S = 0.25
"""A hand's thin stream that wavers, or a level that creeps before it, passes for a ramp of seconds, as an
espresso's: then the start that fitted best is taken, so much later, and its range reaches from the other."""

LEVEL_SD_G = 0.3
"""A level that is known no better than that was hardly seen: what the whole rise said of it is kept."""


@dataclass(frozen=True, slots=True)
class Sure:
    """A rise's edges, each with how well it is known.

    :param thin: whether it flows like an espresso
    :param cut_off: whether the readings end in it, so that its end is not known
    :param by_itself: whether it is one, as far as can be told; a hand may pour as thinly
    :param pulled: whether it ran until its vessel was lifted, so that no more will be seen of its end
    """

    start: Known
    end: Known
    thin: bool
    cut_off: bool = False
    by_itself: bool = False
    pulled: bool = False


def know_edges(
    curve: Curve,
    rises: tuple[Rise, ...],
    solids: tuple[Event, ...] = (),
    events: tuple[Event, ...] = (),
    settled: Settled = NOTHING_SETTLED,
    method: Method | None = None,
    *,
    with_course: bool = True,
    only_over: bool = False,
) -> tuple[tuple[Rise, ...], tuple[Sure, ...]]:
    """Weigh the edges of every rise, and take as one what leaves no pause between them.

    :param solids: what rises like water and is none; no edge is looked for beyond it
    :param events: what happened besides; a lift may have come while it still ran, stirring as it ended
    :param settled: the edges that were weighed before and stay what they are
    :param method: the kind of brew, where somebody said it
    :param with_course: say how the flow goes around each edge, too
    :param only_over: leave the start of a rise that the readings end in as it was fitted, as its end is
    :returns: the rises, and their edges
    """
    known = _weighed(
        curve, rises, solids, events, settled, method, with_course=with_course, only_over=only_over
    )
    kept: list[Rise] = []
    sure: list[Sure] = []
    for rise, edges in zip(rises, known, strict=True):
        if sure and edges.start.time_s - sure[-1].end.time_s < SHORTEST_PAUSE_S:
            seen = rise.start.time_s - kept[-1].end.time_s >= CLEAR_PAUSE_S
            if not seen and not has_stopped(curve, kept[-1], rise):
                kept[-1] = kept[-1].on_to(rise)
                thin = sure[-1].thin and edges.thin
                sure[-1] = replace(edges, start=sure[-1].start, thin=thin)
                continue
            sure[-1] = _stopped(sure[-1], kept[-1].end.time_s, edges.start.time_s)
        kept.append(rise)
        sure.append(edges)
    return tuple(kept), tuple(sure)


def _stopped(sure: Sure, end_s: float, until_s: float) -> Sure:
    """End a pour where its edge was fitted: what seems to drip on until the next one creeps."""
    ended = replace(sure.end, time_s=end_s, low_s=min(sure.end.low_s, end_s), high_s=max(until_s, end_s))
    return replace(sure, end=ended)


def _weighed(
    curve: Curve,
    rises: tuple[Rise, ...],
    solids: tuple[Event, ...],
    events: tuple[Event, ...],
    settled: Settled,
    method: Method | None,
    *,
    with_course: bool,
    only_over: bool,
) -> list[Sure]:
    """Weigh both edges of every rise, looking no further than there is room."""
    if not rises:
        return []
    by_itself = _by_itself(rises, method)
    lifts = tuple(event for event in events if event.kind == "vessel-off")
    stirs = tuple(event for event in events if event.kind in ("stir", "press"))
    whole_until_s = float(curve.measured_s[-1]) - CUT_OFF_S
    pulled = [pulled_end(curve, rise, lifts) for rise in rises]
    cut_off = [
        rise.end.time_s > whole_until_s and end is None for rise, end in zip(rises, pulled, strict=True)
    ]
    starts, ends = seen_around(
        curve, rises, solids, by_itself=by_itself, is_said=method is not None, known=settled.known
    )
    is_over = [not cut and end is None for cut, end in zip(cut_off, pulled, strict=True)]
    known_ends = _known(ends, is_over, lambda seen: know_ends(seen, curve.response, with_course=with_course))
    is_late = [
        (known.time_s if known else rise.end.time_s) > whole_until_s and end is None
        for rise, known, end in zip(rises, known_ends, pulled, strict=True)
    ]
    begun = [
        not has_begun_before(curve, rise) and not (only_over and (cut or late))
        for rise, late, cut in zip(rises, is_late, cut_off, strict=True)
    ]
    known_starts = _known(
        starts, begun, lambda seen: know_starts(seen, curve.response, with_course=with_course)
    )
    sure = [
        _sure(
            rise,
            start or settled.known[rise.start],
            stirred_end(curve, rise, end or settled.known[rise.end], stirs),
            cut,
            thin=by_itself or rise.is_thin,
            by_itself=by_itself,
        )
        for rise, start, end, cut in zip(rises, known_starts, known_ends, cut_off, strict=True)
    ]
    sure = [_within_readings(each, rise, curve) for each, rise in zip(sure, rises, strict=True)]
    return [
        replace(each, end=end, pulled=True) if end else each for each, end in zip(sure, pulled, strict=True)
    ]


def stops_seen(
    curve: Curve, rises: tuple[Rise, ...], solids: tuple[Event, ...], method: Method | None
) -> list[Seen]:
    """Give what was seen of the ends of what is an espresso for sure; parameters as of ``know_edges``."""
    if not rises or not _by_itself(rises, method):
        return []
    _, ends = seen_around(curve, rises, solids, by_itself=True, is_said=method is not None)
    return [each for each in ends if each and each.from_bed and each.time_s.size >= FEWEST_SAMPLES]


def _known(
    seen: list[Seen | None], wanted: list[bool], weigh: Callable[[list[Seen]], list[Known | None]]
) -> list[Known | None]:
    """Weigh what is seen well enough; take the rest as it was fitted; leave out what was not looked at."""
    enough = {
        place: each
        for place, (each, want) in enumerate(zip(seen, wanted, strict=True))
        if each and want and each.time_s.size >= FEWEST_SAMPLES
    }
    weighed = dict(zip(enough, weigh(list(enough.values())), strict=True))
    return [(weighed.get(place) or _as_fitted(each)) if each else None for place, each in enumerate(seen)]


def _by_itself(rises: tuple[Rise, ...], method: Method | None) -> bool:
    """Whether it is an espresso, as somebody said or as far as can be told by now."""
    if method is not None:
        return method == "espresso"
    main = max(rises, key=lambda rise: rise.gained_g)
    total_g = sum(rise.gained_g for rise in rises)
    if all(rise.is_thin for rise in rises) and total_g <= ESPRESSO_TOTAL_G:
        return True
    return flows_like_espresso(total_g, main.gained_g, main.gained_g / max(main.lasts_s, 0.1))


def _sure(rise: Rise, start: Known, end: Known, cut_off: bool, *, thin: bool, by_itself: bool) -> Sure:
    """Put both edges together; a level that was hardly seen is what the whole rise said of it."""
    if max(start.level_sd_g, end.level_sd_g) >= LEVEL_SD_G:
        start, end = replace(start, level_g=rise.start.level_g), replace(end, level_g=rise.end.level_g)
    thin = thin or all(edge.flow_g_s < THIN_FLOW_G_S for edge in (rise.start, rise.end))
    if not thin and end.time_s > rise.end.time_s + DRIPS_LONGEST_S:
        at_s = rise.end.time_s
        end = replace(end, time_s=at_s, low_s=min(end.low_s, at_s - UNSEEN_END_S), high_s=end.time_s)
    if not thin and rise.start.flow_g_s < THIN_FLOW_G_S and start.time_s < rise.start.time_s - CREEPS_S:
        at_s = rise.start.time_s
        start = replace(start, time_s=at_s, high_s=max(start.high_s, at_s + CREEPS_S))
    return Sure(start, end, thin, cut_off, by_itself)


def _within_readings(sure: Sure, rise: Rise, curve: Curve) -> Sure:
    """Begin what was running already when the readings began no earlier than a display may be late.

    How long it had been running nobody knows, and what had come by then is no part of what was weighed.
    """
    if not has_begun_before(curve, rise):
        return sure
    start_s = max(sure.start.time_s, float(curve.measured_s[0]) - curve.response.delay_s)
    high_s = max(sure.start.high_s, start_s)
    level_g = float(curve.measured_g[0])
    return replace(sure, start=replace(sure.start, time_s=start_s, high_s=high_s, level_g=level_g))


def _as_fitted(seen: Seen) -> Known:
    """Take an edge as it was fitted where there is too little to weigh it by: it lies among its samples."""
    time, edge = seen.time_s, seen.edge
    low_s = min(float(time[0]), edge.time_s) if time.size else edge.time_s - 1.0
    high_s = max(float(time[-1]), edge.time_s) if time.size else edge.time_s + 1.0
    return Known(edge.time_s, low_s, high_s, edge.level_g, LEVEL_SD_G)
