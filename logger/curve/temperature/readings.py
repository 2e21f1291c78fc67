"""The readings of one thermometer, as they are: when they were taken, how finely, how quietly."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.noise import display_step_g, noise_g
from logger.curve.readings.timebase import Samples, unburst, usual_interval_s

COLDEST_C, HOTTEST_C = -60.0, 260.0
"""What lies beyond is no temperature of a brew but a code for an open or a shorted probe."""

SILENCE_S = 3.0
"""From how long without a reading, on a quick thermometer, nothing is known of what was between."""


@dataclass(frozen=True, slots=True)
class TemperatureReadings:
    """Readings of a thermometer.

    :param time_s: rising, shape (n,)
    :param value_c: shape (n,)
    :param step_c: the step of its display; 0 where there is none to be seen
    :param noise_c: standard deviation of one reading around the curve, at least that of the step
    :param interval_s: the usual time between two readings
    """

    time_s: Floats
    value_c: Floats
    step_c: float
    noise_c: float
    interval_s: float

    @property
    def silence_s(self) -> float:
        """From how long on a time without readings is a gap."""
        return max(SILENCE_S, 5.0 * self.interval_s)


def temperature_readings(time_s: object, value_c: object) -> TemperatureReadings:
    """Check what was recorded, and undo the radio's bursts.

    :param time_s: arrival times, seconds, not falling, shape (n,)
    :param value_c: temperatures in °C, shape (n,); what is not finite, or no temperature that a brew can
        have, is left out
    :raises ValueError: when the shapes differ, time runs backwards, or the times are in another unit
    """
    time, value = np.asarray(time_s, dtype=np.float64), np.asarray(value_c, dtype=np.float64)
    if time.ndim != 1 or time.shape != value.shape:
        raise ValueError(f"times of shape {time.shape} do not match temperatures of shape {value.shape}")
    with np.errstate(invalid="ignore"):
        good = np.isfinite(time) & (value >= COLDEST_C) & (value <= HOTTEST_C)
    time, value = time[good], value[good]
    if not time.size:
        return TemperatureReadings(time, value, 0.0, 0.0, 1.0)
    if np.abs(time).max() > 1e12 or (time[-1] - time[0]) / time.size > 1e6:
        raise ValueError("the times are more than can be: are they in another unit?")
    steps = np.diff(time)
    if steps.size and steps.min() < 0:
        at = int(np.argmin(steps))
        raise ValueError(f"time runs backwards, from {time[at]:g} s to {time[at + 1]:g} s (reading {at + 1})")
    interval_s = usual_interval_s(time)
    taken_s = unburst(time, interval_s)
    step_c = display_step_g(value)  # a display's step is one, whatever it shows
    noise_c = noise_g(Samples(taken_s, value, interval_s), step_c)
    return TemperatureReadings(taken_s, value, step_c, max(noise_c, step_c / math.sqrt(12.0)), interval_s)
