"""A probe's own response time, read off the jump with which it was put into the water.

A probe of first order with time constant ``T`` that comes from the air into water of a steady temperature
shows ``water - difference * exp(-t / T)``. Where a jump has that shape, the fit gives ``T`` and when it
began; where it has another one (water that is still being mixed, a second pour), the lag stays unknown.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.least_squares import bottom, least_squares
from logger.curve.temperature.readings import TemperatureReadings

SLOWEST_S = 12.0
"""Time constant in water of the slowest probe that is still one for brewing."""

KETTLE_HEATS_C_S = 1.0
"""A kettle of 2 kW heats half a litre by 1 °C a second: 2000 W / (500 g * 4.2 J/(g K))."""

SLURRY_HEATS_C_S = 0.3
"""Nothing heats a slurry but more water, which mixes within a few seconds."""

FOLLOWED_S = 45.0

_LAGS_S = np.geomspace(0.2, 20.0, 60)
_CLEAN_SHARE = 0.02
_NEAR_C = 0.2
_RESTING_C_S = 0.15
_CHANGES_C_S = 0.12
_FEWEST = 5


@dataclass(frozen=True, slots=True)
class Lag:
    """A probe's time constant in water, with its standard uncertainty."""

    lag_s: float
    uncertainty_s: float


@dataclass(frozen=True, slots=True)
class Jump:
    """A rise of the reading.

    :param onset_s: when it began
    :param settled_s: from when on the reading is that of the water
    :param water_c: what it rose to
    :param is_quick: whether a probe that is put into water rises like that
    :param lag: the probe's time constant, where the rise has the shape that gives it
    """

    onset_s: float
    settled_s: float
    water_c: float
    is_quick: bool
    lag: Lag | None


def jump_of(
    readings: TemperatureReadings, first: int, until: int, heats_c_s: float = KETTLE_HEATS_C_S
) -> Jump:
    """Follow a rise.

    :param first: index of the last reading before it
    :param until: index up to which it may be followed
    :param heats_c_s: what the vessel heats its water by at the fastest
    """
    until = max(until, min(first + 1, readings.time_s.size - 1))
    time_s, value_c = readings.time_s[first : until + 1], readings.value_c[first : until + 1]
    near = time_s <= time_s[0] + FOLLOWED_S
    time_s, value_c = time_s[near], value_c[near]
    fitted = _exponential(time_s, value_c, readings.noise_c, heats_c_s)
    if fitted is not None:
        return fitted
    quick = _steepest_c_s(time_s, value_c) >= 2.0 * heats_c_s
    return Jump(float(time_s[0]), _rests_s(time_s, value_c), float(value_c.max()), quick, None)


def lag_of(jumps: Sequence[Jump]) -> Lag | None:
    """A probe's lag from its jumps: their mean, weighted by how well each gives it; None where none does.

    Where they scatter by more than they claim, the uncertainty is that of the scatter.
    """
    lags = [jump.lag for jump in jumps if jump.lag is not None]
    if not lags:
        return None
    values, sds = np.array([lag.lag_s for lag in lags]), np.array([lag.uncertainty_s for lag in lags])
    weights = 1.0 / np.maximum(sds, 1e-3) ** 2
    mean = float((weights * values).sum() / weights.sum())
    own = float(1.0 / np.sqrt(weights.sum()))
    scatter = float(np.std(values, ddof=1)) / math.sqrt(len(lags)) if len(lags) > 1 else 0.0
    return Lag(mean, max(own, scatter))


def _exponential(time_s: Floats, value_c: Floats, noise_c: float, heats_c_s: float) -> Jump | None:
    """Fit the jump of a first-order probe; None where it has another shape."""
    after_s, after_c = time_s[1:], value_c[1:]
    if after_s.size < _FEWEST:
        return None
    since = after_s - after_s[0]
    decays = np.exp(-since / _LAGS_S[:, None])
    # The water itself cools a little meanwhile: a line.
    flat, line = np.ones_like(decays), np.broadcast_to(since, decays.shape)
    misfits, solved = least_squares(np.stack((flat, decays, line), axis=-1), after_c)
    place = int(np.argmin(misfits))
    water_c, difference_c = float(solved[place, 0]), float(solved[place, 1])
    gained_c = water_c - float(value_c[0])
    rms_c = math.sqrt(float(misfits[place]) / max(after_s.size - 3, 1))
    if rms_c > max(1.5 * noise_c, _CLEAN_SHARE * abs(gained_c)) or difference_c >= 0 or gained_c <= 0:
        return None
    if _LAGS_S[place] > SLOWEST_S or since[-1] < 2.0 * _LAGS_S[place] or abs(solved[place, 2]) > _CHANGES_C_S:
        return None
    lag_s, uncertainty_s = bottom(_LAGS_S, misfits, max(noise_c, rms_c) ** 2)
    if gained_c < 1.2 * heats_c_s * lag_s or _is_heated(since, after_c, float(misfits[place]), heats_c_s):
        return None
    # From the first reading after it back to the level before it: that is when it began.
    onset_s = float(after_s[0]) - lag_s * math.log(max(gained_c / -difference_c, 1.0))
    onset_s = min(max(onset_s, float(time_s[0])), float(after_s[0]))
    near_c = max(_NEAR_C, 0.5 * noise_c)
    settled_s = onset_s + lag_s * math.log(max(gained_c / near_c, 1.0))
    settled_s = min(settled_s, float(time_s[-1]))
    return Jump(onset_s, settled_s, water_c, True, Lag(lag_s, uncertainty_s))


def _is_heated(since_s: Floats, value_c: Floats, misfit: float, heats_c_s: float) -> bool:
    """Whether a straight rise at a rate that a kettle has, and then a rest, explains the readings better."""
    lasts_s = np.linspace(0.05, 1.0, 40) * since_s[-1]
    rises = np.minimum(since_s / lasts_s[:, None], 1.0)
    flat, line = np.ones_like(rises), np.maximum(since_s - lasts_s[:, None], 0.0)
    misfits, solved = least_squares(np.stack((flat, rises, line), axis=-1), value_c)
    place = int(np.argmin(misfits))
    return float(misfits[place]) < misfit and float(solved[place, 1]) / lasts_s[place] < 2.0 * heats_c_s


def _steepest_c_s(time_s: Floats, value_c: Floats) -> float:
    """The steepest rise between readings two seconds apart or so."""
    ahead = np.searchsorted(time_s, time_s + 1.9)
    inside = ahead < time_s.size
    if not inside.any():
        return 0.0
    at = np.flatnonzero(inside)
    took_s = np.maximum(time_s[ahead[at]] - time_s[at], 1e-9)
    return float(((value_c[ahead[at]] - value_c[at]) / took_s).max())


def _rests_s(time_s: Floats, value_c: Floats) -> float:
    """When a rise has become slow: the first reading from which the next two seconds gain next to nothing."""
    ahead = np.minimum(np.searchsorted(time_s, time_s + 2.0), time_s.size - 1)
    took_s = np.maximum(time_s[ahead] - time_s, 1e-9)
    slow = np.abs(value_c[ahead] - value_c) / took_s < _RESTING_C_S
    risen = value_c >= value_c[0] + 0.6 * (value_c.max() - value_c[0])
    at = np.flatnonzero(slow & risen)
    return float(time_s[at[0]]) if at.size else float(time_s[int(np.argmax(value_c))])
