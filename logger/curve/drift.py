"""What changes the weight while nothing is poured: creep, drift, drying, a bed that drains off the scale.

Between two pours the curve should rest. The level before a pour less the level after the one before it is
what the weight did by itself; so pours and these changes together make up the whole, to a tenth of a gram.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Event, Floats
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
    """Give each stretch without a pour, before the first and after the last among them.

    :param until_s: where the last one is cut off
    """
    if not read.edges:
        return ()
    grid_s, grid_g = read.curve.grid_s, read.curve.grid_g
    last = max(int(grid_s.searchsorted(until_s)) - 1, 0)
    since_s, level_g, sd_g = float(grid_s[0]), _level_g(grid_s, grid_g, grid_s[0]), LEVEL_SD_G
    rests = []
    for edges in read.edges:
        known = edges.start
        rests.append(_rest(read, since_s, known.time_s, known.level_g - level_g, (sd_g, known.level_sd_g)))
        since_s, level_g, sd_g = edges.end.time_s, edges.end.level_g, edges.end.level_sd_g
    end_s = max(float(grid_s[last]), since_s)
    left_g = _level_g(grid_s, grid_g, end_s - LEVEL_OVER_S, end_s) - level_g
    return (*rests, _rest(read, since_s, end_s, left_g, (sd_g, LEVEL_SD_G)))


def drifted_g(read: Read) -> float:
    """Give what the weight changed by itself from first to last: in the rests, and while water was poured."""
    meanwhile_g = sum(
        edges.end.level_g - edges.start.level_g - pour.poured_g
        for edges, pour in zip(read.edges, read.pours, strict=True)
    )
    return meanwhile_g + sum(rest.change_g for rest in rests_of(read))


def drifts_of(read: Read, *, is_over: bool = True) -> tuple[Event, ...]:
    """Name the rests between pours, and until the vessel is lifted, in which the weight moved.

    :param is_over: whether the last rest is, too; of one that still goes on nothing is said
    """
    if not read.edges:
        return ()
    over_s = read.edges[-1].end.time_s
    lifts_s = [event.start_s for event in read.events if event.kind.startswith("vessel")]
    until_s = min((lift_s for lift_s in lifts_s if lift_s > over_s), default=np.inf)
    hidden_g = COARSE * read.step_g
    return tuple(
        Event("drift", rest.start_s, rest.end_s, rest.change_g)
        for rest in rests_of(read, until_s)[1 : None if is_over else -1]
        if rest.end_s - rest.start_s > SHORTEST_REST_S
        and abs(rest.change_g) > max(LEAST_DRIFT_G, SURELY * math.hypot(rest.sd_g, hidden_g))
    )


def _rest(read: Read, start_s: float, end_s: float, change_g: float, sds_g: tuple[float, float]) -> Rest:
    """Take out of a change what is a solid's: it is still in the curve."""
    solid_g = sum(solid.change_g for solid in read.solids if start_s - 1.0 < solid.start_s < end_s)
    return Rest(start_s, end_s, change_g - solid_g, math.hypot(*sds_g))


def _level_g(grid_s: Floats, grid_g: Floats, from_s: float, to_s: float | None = None) -> float:
    last_s = from_s + LEVEL_OVER_S if to_s is None else to_s
    near = grid_g[grid_s.searchsorted(from_s) : grid_s.searchsorted(last_s, side="right")]
    return median(near) if near.size else float(np.interp(from_s, grid_s, grid_g))
