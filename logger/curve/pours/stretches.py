"""Both edges of every stretch of flow, fitted: where each may be, and the samples to fit it to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from logger.curve.edges.edge import RAMPS_S, THIN_FLOW_G_S, Edge, fit_edges, still_to_come_g
from logger.curve.edges.edge_misfits import Window
from logger.curve.pours.gaps import STILL_S
from logger.curve.pours.settled import NOTHING_SETTLED, Settled
from logger.curve.pours.water_curve import Curve

TRIED_EVERY_S, MOST_TRIED = 0.1, 1000
"""How far apart the times are at which an edge may be; further, where they are more than so many: in a
silence of hours nothing tells it as closely."""
UNSEEN_S = 1.0
"""In so long a stretch that was not measured an edge may lie hidden."""

LEVEL_SEEN_S = 1.0
"""For so long at the least the level before a start is looked at, though half a short pause is less."""

LEAVES_LATE_S, REACHES_LATE_S = 0.25, 0.12
"""So much after the first water, and after the last, a usual display leaves a level and reaches one."""

_STEP_DIGITS = 6
_ALL_RAMPS_S = np.union1d(RAMPS_S, [3.0, 5.0, 7.0])
"""An espresso's flow builds up over seconds."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of flow on the grid, and how far its edges may be looked for.

    :param first: its first grid index, with ``last`` its last
    :param before: the last grid index of the stretch before it, with ``after`` the first of the one after it
    :param flow_g_s: its mean flow
    """

    before: int
    first: int
    last: int
    after: int
    middle_s: float
    flow_g_s: float

    @property
    def is_slow(self) -> bool:
        """Whether its flow may build up over seconds, as an espresso's does."""
        return self.flow_g_s <= THIN_FLOW_G_S

    @property
    def slowest_s(self) -> float:
        """The longest ramp that its edges may have."""
        return float((_ALL_RAMPS_S if self.is_slow else RAMPS_S)[-1])


def fit_stretches(
    curve: Curve, spans: Sequence[tuple[int, int]], settled: Settled = NOTHING_SETTLED
) -> list[tuple[Edge, Edge]]:
    """Fit the start and the end of every stretch, looking no further than half-way to its neighbours.

    :param spans: first and last grid index of each, in order
    :param settled: the edges that stay what they are
    """
    befores = [0, *(last for _, last in spans[:-1])]
    afters = [*(first for first, _ in spans[1:]), curve.grid_s.size - 1]
    stretches = [
        _stretch(curve, before, *span, after)
        for before, span, after in zip(befores, spans, afters, strict=False)
    ]
    starts: list[Place | Edge] = [
        settled.start(curve, each.first) or _start(curve, each) for each in stretches
    ]
    begin = _fitted(curve, starts, is_start=True)
    ends: list[Place | Edge] = [
        settled.end(curve, each.last) or _end(curve, each, start.time_s)
        for each, start in zip(stretches, begin, strict=True)
    ]
    return list(zip(begin, _fitted(curve, ends, is_start=False), strict=True))


def start_behind(curve: Curve, before: Edge, ended: int, span: tuple[int, int], start: Edge) -> Edge:
    """Fit a start again where the display still followed the pour before it, with that taken out.

    :param before: the end of that pour, at the grid index ``ended``
    :param span: first and last grid index of the stretch that starts
    :param start: as it was fitted without that
    """
    half_way_s = float(0.5 * (curve.grid_s[ended] + curve.grid_s[span[0]]))
    seen_from_s = np.array([max(half_way_s, start.time_s - LEVEL_SEEN_S)])
    if still_to_come_g(seen_from_s, before, curve.response)[0] < curve.noise_g:
        return start
    stretch = _stretch(curve, ended, *span, span[1])
    window, at_s = _start(curve, stretch, LEVEL_SEEN_S)
    if window is None:
        return start
    level_g = window.weight_g + still_to_come_g(window.time_s, before, curve.response)
    return _fitted(curve, [(replace(window, weight_g=level_g), at_s)], is_start=True)[0]


def _stretch(curve: Curve, before: int, first: int, last: int, after: int) -> Stretch:
    time = curve.grid_s
    flow = (curve.grid_g[last] - curve.grid_g[first]) / max(time[last] - time[first], curve.step_s)
    return Stretch(before, first, last, after, float(0.5 * (time[first] + time[last])), float(flow))


def about_s(curve: Curve, first: int, last: int) -> tuple[float, float]:
    """About when a stretch starts and ends, by when it leaves the one level and reaches the other.

    :param first: its first grid index, with ``last`` its last
    """
    return _leaves_level_s(curve, first, last) - LEAVES_LATE_S, _reaches_level_s(
        curve, first, last
    ) - REACHES_LATE_S


Place = tuple[Window | None, float]
"""A window and the middle of the times between which the edge is; no window where there are no samples."""


def _start(curve: Curve, stretch: Stretch, level_s: float = 0.0) -> Place:
    """Say where a start may be.

    :param level_s: for so long at the least the level before it is looked at
    """
    time, before, first = curve.grid_s, stretch.before, stretch.first
    quiet_s = 0.5 * (time[before] + time[first]) if before else time[0]
    if 0 < before == first and any(since_s <= time[first] < until_s for since_s, until_s in curve.gaps_s):
        quiet_s -= STILL_S  # cut where it stood still before a silence, which shows the level before it
    if level_s:
        # The display shows a flow that began with its lag.
        quiet_s = min(quiet_s, time[first] + LEAVES_LATE_S - curve.response.delay_s - level_s)
    reach_s = 8.0 if stretch.is_slow else 1.2 + curve.response.delay_s
    leaves_s = _leaves_level_s(curve, first, stretch.last)
    # The curve leaves its level after the first water, unless that comes in drops.
    latest_s = leaves_s + (2.0 if stretch.is_slow else 0.6)
    seen_s = _unseen_until_s(curve, leaves_s)
    return _place(
        curve,
        stretch,
        (max(quiet_s, leaves_s - 3.0), min(seen_s + reach_s, max(stretch.middle_s, seen_s + 1.5))),
        (max(leaves_s - 2.0, float(time[before]) if before else -np.inf), max(latest_s, seen_s)),
    )


def _end(curve: Curve, stretch: Stretch, start_s: float) -> Place:
    time, after, middle_s = curve.grid_s, stretch.after, stretch.middle_s
    ended_s, quiet_s = float(time[stretch.last]), float(time[after])
    if after < time.size - 1:
        quiet_s = curve.half_way_s(ended_s, quiet_s)
    if after == stretch.last < time.size - 1:
        quiet_s += STILL_S  # cut where it stood still, which shows the level after it
    reaches_s = _reaches_level_s(curve, stretch.first, stretch.last) - curve.response.delay_s
    earliest_s = min(reaches_s, _unseen_since_s(curve, start_s, reaches_s))
    later_s = 2.0 if stretch.is_slow else 1.0
    return _place(
        curve,
        stretch,
        (
            max(min(middle_s, earliest_s - 1.5), earliest_s - 3.0, min(start_s, middle_s)),
            min(curve.seen_until_s(reaches_s, reaches_s + 4.0), quiet_s),
        ),
        # A recording that was cut off in a pour knows nothing of what came after.
        (earliest_s - 2.0, min(reaches_s + later_s, float(time[-1]))),
    )


def _place(
    curve: Curve, stretch: Stretch, window_s: tuple[float, float], between_s: tuple[float, float]
) -> Place:
    """Take the measured samples of a window; the edge lies between two times."""
    time, weight = curve.measured(*window_s)
    if time.size < 5:
        near = slice(*curve.time_s.searchsorted([window_s[0] - 1.0, window_s[1] + 1.0]))
        time, weight = curve.time_s[near], curve.weight_g[near]
    guess_s = 0.5 * (between_s[0] + between_s[1])
    if time.size < 4:
        return None, guess_s
    latest_s = max(between_s[1], between_s[0] + TRIED_EVERY_S)
    every_s = max(TRIED_EVERY_S, (latest_s - between_s[0]) / MOST_TRIED)
    candidates = np.arange(between_s[0], latest_s + 0.5 * every_s, every_s)
    return Window(time, weight, candidates, stretch.slowest_s), guess_s


def _fitted(curve: Curve, places: Sequence[Place | Edge], *, is_start: bool) -> list[Edge]:
    """Fit the edges together whose candidates are as far apart."""
    edges: dict[int, Edge] = {}
    alike: dict[float, dict[int, Window]] = {}
    for number, place in enumerate(places):
        if isinstance(place, Edge):
            edges[number] = place
        elif place[0] is None:
            edges[number] = _guessed(curve, place[1])
        else:
            alike.setdefault(round(place[0].step_s, _STEP_DIGITS), {})[number] = place[0]
    for chosen in alike.values():
        slowest_s = max(window.slowest_s for window in chosen.values())
        ramps_s = _ALL_RAMPS_S[slowest_s >= _ALL_RAMPS_S]
        fitted = fit_edges(list(chosen.values()), curve.response, is_start=is_start, ramps_s=ramps_s)
        edges.update(zip(chosen, fitted, strict=True))
    return [edges[number] for number in range(len(places))]


def _guessed(curve: Curve, at_s: float) -> Edge:
    """An edge of which nothing is known but when it may be."""
    return Edge(at_s, float(np.interp(at_s, curve.grid_s, curve.grid_g)), 0.0, 0.0, float("inf"))


def _leaves_level_s(curve: Curve, first: int, last: int) -> float:
    """When the curve rises for good above where it was at the stretch's beginning."""
    inside = curve.grid_g[first : last + 1]
    low = inside[0] + max(3.0 * curve.grid_noise_g, min(0.02 * (inside[-1] - inside[0]), 0.6))
    below = (inside <= low).nonzero()[0]
    return float(curve.grid_s[first + int(below[-1])])


def _reaches_level_s(curve: Curve, first: int, last: int) -> float:
    """When the curve first comes up to where it is at the stretch's end."""
    inside = curve.grid_g[first : last + 1]
    high = inside[-1] - max(3.0 * curve.grid_noise_g, min(0.02 * (inside[-1] - inside[0]), 0.6))
    return float(curve.grid_s[first + int(np.argmax(inside >= high))])


def _unseen_since_s(curve: Curve, start_s: float, at_s: float) -> float:
    """When the longest stretch of a pour that was not measured, shortly before a time, began; else that time.

    Stirring often begins as the pour ends, and the end then lies hidden at its beginning.
    """
    measured = curve.measured_s
    first, last = measured.searchsorted([max(at_s - 9.0, start_s), at_s + 0.5]).tolist()
    # What is hidden then lasts until something is measured again.
    measured = measured[first : last + 1]
    steps_s = measured[1:] - measured[:-1]
    if steps_s.max(initial=0.0) < UNSEEN_S:
        return at_s
    return float(measured[int(steps_s.argmax())])


def _unseen_until_s(curve: Curve, at_s: float) -> float:
    """Until when stirring lasts around a time; that time itself where there is none.

    Stirring may last until the next pour runs, whose start then lies hidden in it.
    """
    place = int(curve.time_s.searchsorted(at_s))
    if not curve.replaced[max(place - 1, 0) : place + 1].any():
        return at_s
    measured = curve.measured_s
    place = int(measured.searchsorted(at_s))
    if not 0 < place < measured.size or measured[place] - measured[place - 1] < UNSEEN_S:
        return at_s
    hidden = curve.replaced & (curve.time_s > measured[place - 1]) & (curve.time_s < measured[place])
    return float(measured[place]) if hidden.any() else at_s
