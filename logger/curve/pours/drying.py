"""What the weight does by itself goes on while water is poured: hot water dries, a load cell creeps.

Between the pours it is seen, and there it is measured: how fast the rests rise or fall. What a pour's levels
differ by is its water and as much of that as its time has room for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from logger.curve.brew import Event
from logger.curve.edges.choice import Known
from logger.curve.pours.water_curve import Curve

DRIES_G_S, UNLIKE_G_S = 0.005, 0.002
"""Standard deviations: of how fast a weight moves by itself, where no rest tells (50 cm2 of water near 90 C
lose 0.002 to 0.01 g/s, from memory); and of how unlike it is in two rests of one brew."""
FASTEST_G_S = 0.03
"""What moves faster drains off the pan, or is a hand."""
SETTLES_AFTER_S, BEFORE_S = 2.5, 0.7
"""Drops fall for so long after a stream; and just before the next one somebody may be at the scale."""
SHORTEST_S, FEWEST = 4.0, 12
UNSEEN_G, UNSEEN_STEP = 0.03, 0.15
"""How well the mean of a third of a rest is known at best, in g and in steps of the display."""


class Edges(Protocol):
    """A pour's edges, as they are known."""

    @property
    def start(self) -> Known:
        """When its first water arrived."""

    @property
    def end(self) -> Known:
        """When its last water arrived."""

    @property
    def thin(self) -> bool:
        """Whether it flows like an espresso, whose last drops fall for long."""


@dataclass(frozen=True, slots=True)
class Drying:
    """How fast the weight moves by itself, g/s, give or take ``sd_g_s``."""

    g_s: float = 0.0
    sd_g_s: float = DRIES_G_S


HARDLY = Drying(0.0, 0.002)
"""An espresso's cup: small, not long on the scale, and its last drops fall while it rests."""


def drying_of(curve: Curve, pours: Sequence[Edges], events: Iterable[Event], step_g: float) -> Drying:
    """Measure it in the rests after the pours, each where nothing happened for longest.

    :param pours: in order of time
    :param events: in order of time; what happened, solids too
    :param step_g: the step of the display
    """
    told, weights = 0.0, 1.0 / DRIES_G_S**2
    busy = [(event.start_s, event.end_s) for event in events]
    for number, pour in enumerate(pours):
        until_s = pours[number + 1].start.time_s if number + 1 < len(pours) else float(curve.time_s[-1])
        settled_s = pour.end.time_s + SETTLES_AFTER_S + 2.0 * curve.response.delay_s
        slope = None if pour.thin else _slope(curve, *_longest(settled_s, until_s, busy), step_g)
        if slope is not None:
            weight = 1.0 / (slope.sd_g_s**2 + UNLIKE_G_S**2)
            told, weights = told + weight * slope.g_s, weights + weight
    return Drying(told / weights, weights**-0.5)


def _longest(from_s: float, until_s: float, busy: list[tuple[float, float]]) -> tuple[float, float]:
    """The longest stretch within which nothing happened, and a little less."""
    best, since_s = (from_s, from_s), from_s
    for start_s, end_s in [*busy, (until_s, until_s)]:
        if end_s < from_s or start_s > until_s:
            continue
        if start_s - BEFORE_S - since_s > best[1] - best[0]:
            best = (since_s, start_s - BEFORE_S)
        since_s = max(since_s, end_s + BEFORE_S)
    return best


def _slope(curve: Curve, from_s: float, until_s: float, step_g: float) -> Drying | None:
    """The mean of the last third less that of the first, over the time between them."""
    first, last = np.searchsorted(curve.time_s, [from_s, until_s])
    time, weight = curve.time_s[first:last], curve.weight_g[first:last]
    if until_s - from_s < SHORTEST_S or time.size < FEWEST:
        return None
    third = time.size // 3
    over_s = float(time[-third:].sum() - time[:third].sum()) / third
    if over_s < 0.5 * SHORTEST_S:
        return None
    rose_g = float(weight[-third:].sum() - weight[:third].sum()) / third
    sd_g = np.hypot(1.5 * curve.noise_g / third**0.5, np.hypot(UNSEEN_G, UNSEEN_STEP * step_g))
    return Drying(rose_g / over_s, float(sd_g) / over_s) if abs(rose_g) < FASTEST_G_S * over_s else None
