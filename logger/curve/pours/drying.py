"""What the weight does by itself goes on while water is poured: hot water dries, a load cell creeps.

Between the pours it is seen, and there it is measured. Of each rest its thirds tell two things: by how much
it rose from the first to the last, and by how much the middle one lies off the line between them. The rests
of a steady drift lie on lines of one slope; a scale that wanders leaves the line, by as much as the readings'
noise and more, and the longer a rest the further. Its wandering is taken for a random walk (the variance of
the sum of its steps grows with time): every walk of some is weighed by how well it explains all the rests,
and the slope with it. What a pour's levels differ by is its water, as much of the drift as its time has room
for, and the walk in it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from logger.curve.brew import Event
from logger.curve.edges.choice import Known
from logger.curve.pours.method import ESPRESSO_TOTAL_G
from logger.curve.pours.water_curve import Curve

DRIES_G_S, DRIES_SD_G_S = -0.0015, 0.005
"""How fast a weight moves by itself, and give or take what, where no rest tells: 50 cm2 of water near 90 C
lose 0.002 to 0.01 g/s (from memory), cold water hardly anything, and a load cell drifts either way."""
WALKS_G, LIKELY_G, FACTOR = (0.0, 0.002, 0.004, 0.007, 0.011, 0.017, 0.026, 0.04, 0.06), 0.006, 1.4
"""The walks that are tried, as standard deviation after a second, in g: beforehand as likely as a log-normal
around 0.006 g (0.05 g after a minute) says, give or take a factor of e to the 1.4."""
FASTEST_G_S = 0.03
"""What moves faster drains off the pan, or is a hand."""
SETTLES_AFTER_S, BEFORE_S = 2.5, 0.7
"""Drops fall for so long after a stream; and just before the next one somebody may be at the scale."""
SHORTEST_S, LONGEST_S, FEWEST = 3.0, 60.0, 9
"""A rest tells by what it does soon after its pour: later hot water has cooled and dries otherwise."""
LIKE_EACH_OTHER, UNSEEN_G = 1.5, 0.004
"""Readings beside one another err alike, as much as if each were so much noisier; and how well the mean of a
third of a rest is known at best."""
LEVELS_APART_S = 3.0
"""A pour's levels are those of the seconds before it and after it: so much further apart than its edges."""


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
    """How the weight moves by itself.

    :param g_s: how fast, give or take ``sd_g_s``
    :param walk_g2_s: by how much its variance grows within each second besides
    """

    g_s: float
    sd_g_s: float
    walk_g2_s: float = 0.0

    def moves_g(self, lasts_s: float) -> float:
        """By how much it moves the level after a pour against the one before."""
        return self.g_s * (lasts_s + LEVELS_APART_S)

    def sd_g(self, lasts_s: float) -> float:
        """How unsure that is."""
        apart_s = lasts_s + LEVELS_APART_S
        return math.hypot(self.sd_g_s * apart_s, math.sqrt(self.walk_g2_s * apart_s))


HARDLY = Drying(0.0, 0.001, 0.01**2)
"""An espresso's cup: small, not long on the scale, and its last drops fall while it rests."""


@dataclass(frozen=True, slots=True)
class Rest:
    """A rest in thirds.

    :param third_s: how long each takes
    :param rose_g: mean of the last less that of the first
    :param bent_g: means of both less twice that of the middle one
    :param variance_g2: of each mean, by the readings' noise
    """

    third_s: float
    rose_g: float
    bent_g: float
    variance_g2: float


def drying_of(curve: Curve, pours: Sequence[Edges], events: Iterable[Event]) -> Drying:
    """Measure it in the rests after the pours, each where nothing happened for longest.

    :param pours: in order of time
    :param events: in order of time; what happened, solids too
    """
    if _comes_by_itself(pours):
        return HARDLY
    busy = [(event.start_s, event.end_s) for event in events]
    rests = []
    for number, pour in enumerate(pours):
        until_s = pours[number + 1].start.time_s if number + 1 < len(pours) else float(curve.time_s[-1])
        settled_s = pour.end.time_s + SETTLES_AFTER_S + 2.0 * curve.response.delay_s
        rest = _rest(curve, *_longest(settled_s, until_s, busy))
        if rest is not None:
            rests.append(rest)
    return told_by(rests)


def _comes_by_itself(pours: Sequence[Edges]) -> bool:
    """Whether it is an espresso: thin throughout, and no more than a machine gives."""
    gained_g = sum(pour.end.level_g - pour.start.level_g for pour in pours)
    return all(pour.thin for pour in pours) and gained_g < ESPRESSO_TOTAL_G


def told_by(rests: Sequence[Rest]) -> Drying:
    """Weigh every walk by its evidence, the slope integrated out.

    The means of two neighbouring thirds of a walk differ with two thirds of its variance within one of them,
    and each difference with the next by a sixth of that in common: so a rest's rise has five thirds of it and
    its bend all of it once.
    """
    evidence, told, precision = [], [], []
    for walk_g2, beforehand in zip(_WALKS_G2, _BEFOREHAND, strict=True):
        exact, pulls, missed = DRIES_SD_G_S**-2, DRIES_G_S * DRIES_SD_G_S**-2, 0.0
        for rest in rests:
            walked_g2, apart_s = walk_g2 * rest.third_s, 2.0 * rest.third_s
            rise_g2 = 2.0 * rest.variance_g2 + 5.0 / 3.0 * walked_g2
            bend_g2 = 6.0 * rest.variance_g2 + walked_g2
            exact += apart_s * apart_s / rise_g2
            pulls += apart_s * rest.rose_g / rise_g2
            missed += rest.bent_g**2 / bend_g2 + rest.rose_g**2 / rise_g2 + math.log(bend_g2 * rise_g2)
        evidence.append(beforehand + 0.5 * (pulls * pulls / exact - math.log(exact) - missed))
        told.append(pulls / exact)
        precision.append(exact)
    most = max(evidence)
    likely = [math.exp(each - most) for each in evidence]
    total = sum(likely)
    chance = [each / total for each in likely]
    g_s = sum(share * slope for share, slope in zip(chance, told, strict=True))
    spread = zip(chance, told, precision, strict=True)
    variance = sum(share * (1.0 / exact + (slope - g_s) ** 2) for share, slope, exact in spread)
    walk_g2_s = sum(share * walk_g2 for share, walk_g2 in zip(chance, _WALKS_G2, strict=True))
    return Drying(g_s, math.sqrt(variance), walk_g2_s)


_WALKS_G2 = [walk_g**2 for walk_g in WALKS_G]
_BEFOREHAND = [-0.5 * (math.log(max(walk_g, 0.001) / LIKELY_G) / FACTOR) ** 2 for walk_g in WALKS_G]


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


def _rest(curve: Curve, from_s: float, until_s: float) -> Rest | None:
    """Take the means of its thirds; None of one that is too short or moves too fast."""
    until_s = min(until_s, from_s + LONGEST_S)
    first, last = curve.time_s.searchsorted([from_s, until_s]).tolist()
    if until_s - from_s < SHORTEST_S or last - first < FEWEST:
        return None
    third = (last - first) // 3
    middle = first + (last - first - third) // 2
    parts = [slice(first, first + third), slice(middle, middle + third), slice(last - third, last)]
    first_g, middle_g, last_g = (float(curve.weight_g[part].sum()) / third for part in parts)
    apart_s = float(curve.time_s[parts[2]].sum() - curve.time_s[parts[0]].sum()) / third
    rose_g = last_g - first_g
    if apart_s < 0.5 * SHORTEST_S or abs(rose_g) > FASTEST_G_S * apart_s:
        return None
    variance_g2 = (LIKE_EACH_OTHER * curve.noise_g) ** 2 / third + UNSEEN_G**2
    return Rest(0.5 * apart_s, rose_g, first_g + last_g - 2.0 * middle_g, variance_g2)
