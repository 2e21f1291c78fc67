"""The temperature during each pour, channel by channel."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from logger.curve.temperature.probe_out import in_water

if TYPE_CHECKING:
    from logger.compare import Brew
    from logger.curve import Pour


def temperatures_during(brew: Brew, pour: Pour) -> dict[str, float]:
    """Give each channel's mean of the readings within a pour, °C; NaN where there was none.

    What was read while the probe was out of the water does not count.
    """
    return {channel: _during(brew, channel, pour) for channel in brew.temperatures}


def _during(brew: Brew, channel: str, pour: Pour) -> float:
    times_s, values_c = (np.asarray(values) for values in brew.temperatures[channel])
    if channel in brew.thermometers:
        wet = in_water(times_s, brew.thermometers[channel].probe.out)
        times_s, values_c = times_s[wet], values_c[wet]
    return _mean_between(times_s, values_c, pour.start_s, pour.end_s)


def _mean_between(
    times_s: np.ndarray[tuple[int], np.dtype[np.float64]],
    values_c: np.ndarray[tuple[int], np.dtype[np.float64]],
    start_s: float,
    end_s: float,
) -> float:
    within = values_c[(times_s >= start_s) & (times_s <= end_s)]
    return float(within.mean()) if len(within) else math.nan
