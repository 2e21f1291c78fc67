"""The server on a scale of its own, under a dripper: what that scale shows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from drivers.simulated.bench import Bench, place_server
from drivers.simulated.conditions import Conditions
from drivers.simulated.pan import fall_time_s, losses_g, pan_g
from drivers.simulated.percolation import TrueBed
from drivers.simulated.scale import Delivery, deliver, draw_instrument, settled_force, weigh

Floats = NDArray[np.float64]

_FALL_M = 0.05  # from the dripper into the server
_MEAN_OVER_S = 0.5


def weigh_server(
    bed: TrueBed,
    water_s: float,
    lifted_s: float | None,
    conditions: Conditions,
    rng: np.random.Generator,
) -> Delivery:
    """Weigh what lands in the server, on a scale drawn for it.

    :param water_s: the first water of the brew: the server is in its place by then
    :param lifted_s: when the server is taken off, or None
    """
    bench = place_server(water_s, lifted_s, float(bed.beverage_g[-1]), conditions, rng)
    instrument = draw_instrument(conditions, float(bed.time_s[-1]), rng)
    force_g = _force_g(bed, bench, conditions, rng) + losses_g(bed.time_s, water_s, conditions, rng)
    settled_g = settled_force(force_g, float(bed.time_s[1] - bed.time_s[0]), instrument)
    sample_s, shown_g = weigh(bed.time_s, settled_g, bench.tares, instrument, rng)
    return deliver(sample_s, shown_g, instrument, rng)


def _force_g(bed: TrueBed, bench: Bench, conditions: Conditions, rng: np.random.Generator) -> Floats:
    """What presses on the pan: single drops are too light to press, the stream presses with its mean."""
    press_s = fall_time_s(_FALL_M) if conditions.fall_m[1] > 0 else 0.0
    width = max(round(_MEAN_OVER_S / float(bed.time_s[1] - bed.time_s[0])), 1)
    flow_g_s = np.convolve(np.gradient(bed.beverage_g, bed.time_s), np.ones(width) / width, "same")
    return pan_g(bed.time_s, bed.beverage_g, flow_g_s, bench, press_s, rng)
