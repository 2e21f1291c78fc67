"""What changes the weight while nothing is poured: creep, drift, drying, a bed that drains off the scale.

Between two pours the curve should rest. The level before a pour less the level after the one before it is
what the weight did by itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from logger.curve.brew import Event, Floats, Pour
from logger.curve.readings.median import median
from logger.curve.water import Read

LEAST_DRIFT_G = 0.4
"""Less than that is not worth saying: evaporation takes it within half a minute (common practice)."""
SURELY, COARSE = 4.0, 0.25
"""So many standard deviations, of which rounding is a quarter of the display's step: two levels that are
rounded differ by one at the most."""
SHORTEST_REST_S = 4.0
LEVEL_OVER_S = 1.0
LEVEL_SD_G = 0.1


@dataclass(frozen=True, slots=True)
class Rest:
    """A stretch without a pour; ``change_g`` is by how much the weight moved in it, give or take ``sd_g``."""

    start_s: float
    end_s: float
    change_g: float
    sd_g: float


def rests_of(read: Read, until_s: float = np.inf) -> tuple[Rest, ...]:
    """Give the stretch after each pour, up to the next one.

    :param until_s: where the last one is cut off
    """
    rests = []
    for before, after in pairwise(read.edges):
        ended, known = before.end, after.start
        change_g, sds_g = known.level_g - ended.level_g, (ended.level_sd_g, known.level_sd_g)
        rests.append(_rest(read, ended.time_s, known.time_s, change_g, sds_g))
    grid_s, ended = read.curve.grid_s, read.edges[-1].end
    last = max(int(grid_s.searchsorted(until_s)) - 1, 0)
    end_s = max(float(grid_s[last]), ended.time_s)
    left_g = _level_g(grid_s, read.curve.grid_g, end_s - LEVEL_OVER_S, end_s) - ended.level_g
    return (*rests, _rest(read, ended.time_s, end_s, left_g, (ended.level_sd_g, LEVEL_SD_G)))


def with_level_ends(grid_s: Floats, weight_g: Floats, pours: tuple[Pour, ...]) -> Floats:
    """Level the first and the last second of a curve, where nothing is poured in them.

    What the weight did from first to last is read off these two: single readings would add their noise.
    """
    level_g = weight_g.copy()
    first, last = grid_s <= grid_s[0] + LEVEL_OVER_S, grid_s >= grid_s[-1] - LEVEL_OVER_S
    if not pours or pours[0].start_s > grid_s[first][-1]:
        level_g[first] = median(weight_g[first])
    if not pours or pours[-1].end_s < grid_s[last][0]:
        level_g[last] = median(weight_g[last])
    return level_g


def drifts_of(read: Read, *, is_over: bool = True) -> tuple[Event, ...]:
    """Name the rests between pours, and until the vessel is lifted, in which the weight moved.

    :param is_over: whether the last rest is, too; of one that still goes on nothing is said
    """
    if not read.edges:
        return ()
    over_s = read.edges[-1].end.time_s
    lifts_s = [event.start_s for event in read.events if event.kind.startswith("vessel")]
    # A cup that was pulled away took with it what the display had not shown: that is no drift.
    pulled = read.edges[-1].pulled
    until_s = min((lift_s for lift_s in lifts_s if lift_s > over_s or pulled), default=np.inf)
    hidden_g = COARSE * read.step_g
    return tuple(
        Event("drift", rest.start_s, rest.end_s, rest.change_g)
        for rest in rests_of(read, until_s)[: None if is_over else -1]
        if rest.end_s - rest.start_s > SHORTEST_REST_S
        and abs(rest.change_g) > max(LEAST_DRIFT_G, SURELY * math.hypot(rest.sd_g, hidden_g))
    )


def _rest(read: Read, start_s: float, end_s: float, change_g: float, sds_g: tuple[float, float]) -> Rest:
    """Take out of a change what is a solid's: it is still in the curve."""
    solid_g = sum(solid.change_g for solid in read.solids if start_s - 1.0 < solid.start_s < end_s)
    return Rest(start_s, end_s, change_g - solid_g, math.hypot(*sds_g))


def _level_g(grid_s: Floats, grid_g: Floats, from_s: float, to_s: float) -> float:
    near = grid_g[grid_s.searchsorted(from_s) : grid_s.searchsorted(to_s, side="right")]
    return median(near) if near.size else float(np.interp(from_s, grid_s, grid_g))
