"""Stretches in which the display stands still: a load was put down and has settled."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from logger.curve import Floats
from logger.curve.readings.noise import display_step_g, noise_g
from logger.curve.readings.runs import runs_of
from logger.curve.readings.timebase import samples_from

SHORTEST_S = 1.5
SETTLING_S = 0.5


@dataclass(frozen=True, slots=True)
class Plateau:
    """One load at rest.

    :param level_g: mean of the display
    :param creep_g: by how much it went on from the first third to the last
    :param sd_g: standard deviation of one reading
    """

    start_s: float
    end_s: float
    level_g: float
    creep_g: float
    sd_g: float
    readings: int


def find_plateaus(time_s: Floats, weight_g: Floats, shortest_s: float = SHORTEST_S) -> tuple[Plateau, ...]:
    """Find the stretches in which the display stands still for a while.

    :param time_s: arrival times, not falling, shape (n,)
    :param weight_g: shape (n,)
    :raises ValueError: when the arrays do not match or time runs backwards
    """
    samples = samples_from(time_s, weight_g)
    time, weight = samples.time_s, samples.weight_g
    if time.size < 8:
        return ()
    step_g = display_step_g(weight)
    still_g = max(5.0 * noise_g(samples, step_g), 1.5 * step_g, 0.05)
    reach = max(round(SETTLING_S / samples.interval_s), 1)
    # A reading stands still when the one half a second before shows the same.
    same = np.abs(weight[reach:] - weight[:-reach]) <= still_g
    spans = [(first + reach, last + reach) for first, last in runs_of(same)]
    found = [_plateau(time, weight, first, last) for first, last in spans if last > first]
    return tuple(each for each in found if each.end_s - each.start_s >= shortest_s)


def _plateau(time: Floats, weight: Floats, first: int, last: int) -> Plateau:
    inside = weight[first : last + 1]
    third = max(inside.size // 3, 1)
    return Plateau(
        start_s=float(time[first]),
        end_s=float(time[last]),
        level_g=float(inside.mean()),
        creep_g=float(inside[-third:].mean() - inside[:third].mean()),
        sd_g=float(inside.std(ddof=1)) if inside.size > 1 else 0.0,
        readings=int(inside.size),
    )
