"""An espresso as the scale under the cup sees it: pump, first drip, slow ramp, stream, after-drip."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.simulated.conditions import Conditions
from drivers.simulated.hand import END_G_S, wobble
from drivers.simulated.plan import ShotPlan

Floats = NDArray[np.float64]

_TRICKLE = 0.06  # of the full stream, at the first drip
_WOBBLE_SHARE = 0.3  # a machine is steadier than a hand
_LONGEST_RAMP = 0.5  # of the extraction


@dataclass(frozen=True, slots=True)
class Shot:
    """How one shot runs; times count from the start of the pump.

    :param first_drip_s: first espresso in the cup
    :param stop_s: the pump stops
    :param yield_g: in the cup at the end, after-drip included
    :param ramp_s: from the first drip to the full stream
    :param bend: exponent of the ramp
    :param rise: how much faster the stream is at the end, relative
    :param after_drip_s: time constant of the stream after the stop
    """

    first_drip_s: float
    stop_s: float
    yield_g: float
    ramp_s: float = 0.0
    bend: float = 1.0
    rise: float = 0.0
    after_drip_s: float = 0.0


def decide_shot(plan: ShotPlan, conditions: Conditions, rng: np.random.Generator) -> Shot:
    """Decide how the shot will run: drawn from the plan's windows, missed as hands and grinders miss them."""
    first_drip_s, end_s = (sum(window) / 2 for window in (plan.first_drip_s, plan.time_s))
    first_drip_s += _off(plan.first_drip_s, conditions.start_error_s, rng)
    end_s += _off(plan.time_s, 2 * conditions.start_error_s, rng)
    # The puck is wetted before it drips, and no shot ends with its first drip.
    first_drip_s = max(first_drip_s, 0.5)
    end_s = max(end_s, first_drip_s + 5.0)
    error_g = rng.normal(0.0, 1.0) * conditions.weight_error_g
    yield_g = max(plan.yield_g + error_g, 0.5 * plan.yield_g)
    after_drip_s = rng.uniform(*conditions.after_drip_s)
    # The end is where the stream falls below END_G_S, so the pump stops a little before.
    last_g_s = 1.3 * yield_g / (end_s - first_drip_s)
    fading_s = after_drip_s * math.log(max(last_g_s / END_G_S, 1.0))
    stop_s = max(end_s - fading_s, first_drip_s + 3.0)
    return Shot(
        first_drip_s=first_drip_s,
        stop_s=stop_s,
        yield_g=yield_g,
        ramp_s=min(rng.uniform(*conditions.shot_ramp_s), _LONGEST_RAMP * (stop_s - first_drip_s)),
        bend=rng.uniform(1.0, 2.0),
        rise=rng.uniform(*conditions.shot_rise),
        after_drip_s=after_drip_s,
    )


def shot_flow(shot: Shot, time_s: Floats, conditions: Conditions, rng: np.random.Generator) -> Floats:
    """Give the flow into the cup on an even grid whose zero is the first drip; shape (n,)."""
    step_s = time_s[1] - time_s[0]
    stop_s = shot.stop_s - shot.first_drip_s
    first = int(np.searchsorted(time_s, -step_s / 2))
    last = int(np.searchsorted(time_s, stop_s))
    since_s = time_s[first:last]
    stream = np.ones_like(since_s)
    if shot.ramp_s > 0:
        share = np.clip(since_s / shot.ramp_s, 0.0, 1.0)
        stream = _TRICKLE + (1.0 - _TRICKLE) * share**shot.bend
    stream *= 1.0 + shot.rise * np.maximum(since_s - shot.ramp_s, 0.0) / max(stop_s - shot.ramp_s, step_s)
    stream *= 1.0 + _WOBBLE_SHARE * conditions.wobble * wobble(since_s, rng)
    whole = np.zeros_like(time_s)
    whole[first:last] = stream
    if shot.after_drip_s > 0:
        whole[last:] = stream[-1] * np.exp(-(time_s[last:] - time_s[last - 1]) / shot.after_drip_s)
    whole *= shot.yield_g / (whole.sum() * step_s)
    return whole


def _off(window_s: tuple[float, float], error_s: float, rng: np.random.Generator) -> float:
    """Away from the middle: evenly within the window, and a bit beyond it now and then."""
    half_s = (window_s[1] - window_s[0]) / 2
    off_s = rng.uniform(-half_s, half_s) + rng.normal(0.0, 0.3) * error_s
    return float(off_s) if error_s > 0 else 0.0
