"""A slurry's temperature over the contact time: from the first water until the bed has run dry.

Only what was read in the slurry counts: not the stretches in which the probe was out, and not the seconds in
which it came up from the room, which show the cold bed and the probe itself.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.temperature.probe_out import LEAST_WATER_C
from logger.curve.temperature.thermometer import UNKNOWN_LAG_S, Lack, Thermometer

_LEAST_WINDOW_S = 2.0
_WARM_SHARE = 0.9
_FEWEST_WARM = 3


@dataclass(frozen=True, slots=True)
class ContactTemperature:
    """A slurry's temperature over the contact time.

    :param from_s: when the contact time began
    :param until_s: when it ended
    :param since_s: from when on readings count: when the probe had come up to the slurry; None if never
    :param mean_c: weighted by time over what was seen
    :param least_c: the lowest two seconds
    :param least_at_s: when that was
    :param uncertainty_c: standard uncertainty of the mean by the display's step and a lag that is not known
    :param seen: share of the time from ``since_s`` on for which there are readings in the water
    :param lack: why there is no value; empty where there is one
    """

    from_s: float
    until_s: float
    since_s: float | None
    mean_c: float | None
    least_c: float | None
    least_at_s: float | None
    uncertainty_c: float | None
    seen: float
    lack: Lack = ""


def contact_temperature(probe: Thermometer, from_s: float, until_s: float) -> ContactTemperature:
    """Mean and minimum over the contact time.

    :param from_s: the first water
    :param until_s: the bed ran dry, or was lifted off, or the last that is known
    :raises ValueError: when they are no finite numbers, or the wrong way round
    """
    if not (math.isfinite(from_s) and math.isfinite(until_s) and from_s <= until_s):
        raise ValueError(f"a contact time from {from_s} to {until_s} s is none")
    time_s, value_c = probe.readings.time_s, probe.readings.value_c
    late_s = probe.lag.lag_s if probe.lag else 0.0
    counts = probe.wet & (time_s >= from_s) & (time_s <= until_s + late_s)
    if np.count_nonzero(counts) < _FEWEST_WARM:
        lack = _why_none(probe, bool(((time_s >= from_s) & (time_s <= until_s)).any()))
        return ContactTemperature(from_s, until_s, None, None, None, None, None, 0.0, lack)
    time_s, value_c = time_s[counts] - late_s, value_c[counts]
    warm = int(np.argmax(value_c >= _warm_from_c(probe, value_c)))
    time_s, value_c = time_s[warm:], value_c[warm:]
    seen_s, mean_c = _mean_c(probe, time_s, value_c, late_s)
    least_c, least_at_s = _lowest(time_s, value_c)
    span_s = max(until_s - float(time_s[0]), 1e-9)
    # Over the whole stretch a lag moves the mean by what came in at one end and left at the other.
    late_sd_s = probe.lag.uncertainty_s if probe.lag else UNKNOWN_LAG_S / math.sqrt(3.0)
    lag_c = late_sd_s * abs(float(value_c[-1] - value_c[0])) / span_s
    seen = min(seen_s / span_s, 1.0)
    # What was not seen may have been anywhere between what was.
    unseen_c = (1.0 - seen) * float(np.ptp(value_c)) / math.sqrt(12.0)
    uncertainty_c = math.hypot(probe.readings.step_c / math.sqrt(12.0), lag_c, unseen_c)
    since_s = max(float(time_s[0]), from_s)
    return ContactTemperature(from_s, until_s, since_s, mean_c, least_c, least_at_s, uncertainty_c, seen)


def _why_none(probe: Thermometer, any_reading: bool) -> Lack:
    if any(stretch.kind == "never" for stretch in probe.out):
        return "never-in-water"
    return "probe-out" if any_reading else "no-reading"


def _mean_c(probe: Thermometer, time_s: Floats, value_c: Floats, late_s: float) -> tuple[float, float]:
    """For how long readings lie close enough together to be joined by lines, and the mean of those lines."""
    steps = np.diff(time_s)
    joined = steps <= probe.readings.silence_s
    # No line is drawn over a silence, nor over a stretch in which the probe was out.
    for stretch in probe.out:
        joined &= ~((time_s[:-1] + late_s <= stretch.start_s) & (time_s[1:] + late_s >= stretch.settled_s))
    seen_s = float(steps[joined].sum())
    if seen_s <= 0:
        return 0.0, float(value_c.mean())
    middles_c = 0.5 * (value_c[1:] + value_c[:-1])
    return seen_s, float((steps * middles_c)[joined].sum() / seen_s)


def _warm_from_c(probe: Thermometer, value_c: Floats) -> float:
    """How warm a slurry is that has come up, where the readings begin while it does: else the coldest.

    It has where it has made nine tenths of the way from the first reading to the highest of its first rise.
    """
    first_c = float(value_c[0])
    if first_c >= LEAST_WATER_C:
        return -math.inf
    running = np.maximum.accumulate(value_c)
    fallen = np.flatnonzero(value_c < running - max(4.0 * probe.readings.noise_c, 0.5))
    first_top_c = float(running[fallen[0]]) if fallen.size else float(running[-1])
    is_rising = first_top_c - first_c > max(10.0 * probe.readings.noise_c, 5.0)
    return first_c + _WARM_SHARE * (first_top_c - first_c) if is_rising else -math.inf


def _lowest(time_s: Floats, value_c: Floats) -> tuple[float, float]:
    """The lowest mean of two seconds, and when: one reading's noise is no minimum."""
    half_s = 0.5 * _LEAST_WINDOW_S
    sums = np.concatenate(([0.0], np.cumsum(value_c - value_c[0])))
    first = np.searchsorted(time_s, time_s - half_s)
    last = np.searchsorted(time_s, time_s + half_s, side="right")
    means = value_c[0] + (sums[last] - sums[first]) / (last - first)
    place = int(np.argmin(means))
    return float(means[place]), float(time_s[place])
