"""The temperature during each pour, channel by channel."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from logger.compare import Brew
    from logger.curve import Pour


def temperatures_during(brew: Brew, pour: Pour) -> dict[str, float]:
    """Give each channel's mean of the readings within a pour, °C; NaN where there was none."""
    return {
        channel: _mean_between(np.asarray(times_s), np.asarray(values_c), pour.start_s, pour.end_s)
        for channel, (times_s, values_c) in brew.temperatures.items()
    }


def _mean_between(
    times_s: np.ndarray[tuple[int], np.dtype[np.float64]],
    values_c: np.ndarray[tuple[int], np.dtype[np.float64]],
    start_s: float,
    end_s: float,
) -> float:
    within = values_c[(times_s >= start_s) & (times_s <= end_s)]
    return float(within.mean()) if len(within) else math.nan
