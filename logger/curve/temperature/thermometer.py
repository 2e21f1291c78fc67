"""A thermometer understood: the temperature at a moment, and how its water cooled.

What was read while the probe was out of the water counts for nothing here; where nothing else was read
nearby, there is no value, and the reason why.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from logger.curve.brew import Floats
from logger.curve.temperature.cooling import Cooling, cooling
from logger.curve.temperature.probe_lag import KETTLE_HEATS_C_S, SLURRY_HEATS_C_S, Lag, lag_of
from logger.curve.temperature.probe_out import LEAST_WATER_C, ProbeHistory, ProbeOut, in_water, probe_history
from logger.curve.temperature.readings import TemperatureReadings, temperature_readings

Vessel = Literal["kettle", "slurry"]
Lack = Literal["", "no-reading", "probe-out", "never-in-water"]

NEAR_S = 5.0
"""A temperature counts for a moment when it was read within this time of it."""

UNKNOWN_LAG_S = 8.0
"""The slowest probe that is usual on a bench, where its lag is not known (common practice)."""

_SLURRY_LAG_SHARE = 0.25
_SETTLES_LAGS = 3.0
_POURED_RESTS_S = 10.0
_REACHES_S = (1.0, 2.0, 3.0, 5.0, 8.0, 12.0)
_FROM_S, _TO_S = np.array(
    [window for far in _REACHES_S for window in ((-far, far), (-far, 0.0), (0.0, far))], dtype=np.float64
).T
"""Windows before and after a moment, before it, and after it."""


@dataclass(frozen=True, slots=True)
class TemperatureAt:
    """The temperature at one moment.

    :param time_s: the moment
    :param value_c: None where there is none
    :param uncertainty_c: standard uncertainty by scatter, step and lag; the calibration is not in it
    :param lag_taken_out: whether the probe's lag was known and taken out
    :param lack: why there is no value; empty where there is one
    :param out: the stretch in which the probe was out of the water, where that is why
    """

    time_s: float
    value_c: float | None
    uncertainty_c: float | None
    lag_taken_out: bool = False
    lack: Lack = ""
    out: ProbeOut | None = None


@dataclass(frozen=True, slots=True)
class Thermometer:
    """One temperature channel of a brew, understood.

    :param readings: all of them, as they were taken
    :param history: where the probe was not in the water
    :param lag: the probe's time constant in water, where its own jumps told it
    :param wet: which readings are the water's, shape (n,)
    """

    readings: TemperatureReadings
    history: ProbeHistory
    lag: Lag | None
    wet: np.ndarray[tuple[int], np.dtype[np.bool_]]

    @property
    def out(self) -> tuple[ProbeOut, ...]:
        """Where the probe was not in the water."""
        return self.history.out

    @property
    def room_c(self) -> float | None:
        """What it showed before it was put in: the room, where it hung there; None where it did not."""
        first = next((stretch for stretch in self.out if stretch.kind == "before"), None)
        if first is None:
            return None
        dry = (self.readings.time_s >= first.end_s - NEAR_S) & (self.readings.time_s <= first.end_s)
        if not dry.any() or np.ptp(self.readings.value_c[dry]) > 1.0 + 2.0 * self.readings.step_c:
            return None
        return float(np.median(self.readings.value_c[dry]))

    def at(self, time_s: float, near_s: float = NEAR_S) -> TemperatureAt:
        """The temperature at a moment, from the readings around it.

        A straight line is laid through the readings before, after and around the moment, over shorter and
        longer windows; of those that the readings agree with, the one that is surest at the moment counts.
        A lag ``T`` shows a line late by ``T``, so with a known lag the line is read that much later.

        :param near_s: how far the nearest reading may be
        :raises ValueError: when the moment is no finite number
        """
        if not math.isfinite(time_s):
            raise ValueError(f"{time_s} s is no moment")
        wet_s, wet_c = self.readings.time_s[self.wet], self.readings.value_c[self.wet]
        if not wet_s.size or float(np.abs(wet_s - time_s).min()) > near_s:
            return self._lacking(time_s)
        value_c, uncertainty_c = _value_at(wet_s, wet_c, time_s, self.lag, self.readings)
        uncertainty_c = math.hypot(uncertainty_c, self._moves_on_c(time_s))
        return TemperatureAt(time_s, value_c, uncertainty_c, self.lag is not None)

    def cooled(
        self,
        room_c: float | None = None,
        from_s: float = -math.inf,
        until_s: float = math.inf,
        added_s: Sequence[tuple[float, float]] = (),
    ) -> Cooling:
        """How the water cooled, over the longest stretch in which nothing was added to it.

        :param room_c: what surrounds it, where known
        :param from_s: no reading before counts
        :param until_s: no reading after counts
        :param added_s: from when to when water was added, as the scale tells it
        """
        time_s = self.readings.time_s
        counts = self.wet & (time_s >= from_s) & (time_s <= until_s)
        # What follows a change is still on its way for a while.
        rest_s = _SETTLES_LAGS * (self.lag.lag_s if self.lag else UNKNOWN_LAG_S)
        spans_s = [*((change_s, change_s + rest_s) for change_s in self.history.changes_s)]
        spans_s += [(since_s, stop_s + min(rest_s, _POURED_RESTS_S)) for since_s, stop_s in added_s]
        # What was added parts one stretch from the next, also where no reading fell into it.
        stretch = np.zeros(time_s.size, dtype=np.intp)
        for since_s, stop_s in spans_s:
            counts &= (time_s < since_s) | (time_s > stop_s)
            stretch += time_s > since_s
        pieces = [np.flatnonzero(counts & (stretch == number)) for number in np.unique(stretch[counts])]
        if not pieces:
            return cooling([], [], room_c=room_c)
        longest = max(pieces, key=lambda piece: float(time_s[piece[-1]] - time_s[piece[0]]))
        return cooling(
            time_s[longest], self.readings.value_c[longest], room_c=room_c, noise_c=self.readings.noise_c
        )

    def _moves_on_c(self, time_s: float) -> float:
        """By how much the reading still moves where the water itself changed just before a moment."""
        behind_s = self.lag.lag_s if self.lag else UNKNOWN_LAG_S
        since_s = [time_s - change_s for change_s in self.history.changes_s]
        if not any(-self.readings.interval_s <= one <= _SETTLES_LAGS * behind_s for one in since_s):
            return 0.0
        wet_s, wet_c = self.readings.time_s[self.wet], self.readings.value_c[self.wet]
        later_c = wet_c[(wet_s >= time_s - self.readings.interval_s) & (wet_s <= time_s + behind_s)]
        return float(np.ptp(later_c)) if later_c.size else 0.0

    def _lacking(self, time_s: float) -> TemperatureAt:
        for stretch in self.out:
            if stretch.kind == "never":
                return TemperatureAt(time_s, None, None, lack="never-in-water", out=stretch)
            if stretch.start_s - NEAR_S <= time_s <= stretch.settled_s + NEAR_S:
                return TemperatureAt(time_s, None, None, lack="probe-out", out=stretch)
        return TemperatureAt(time_s, None, None, lack="no-reading")


def thermometer(
    time_s: object,
    value_c: object,
    *,
    least_water_c: float = LEAST_WATER_C,
    vessel: Vessel = "kettle",
) -> Thermometer:
    """Understand a temperature channel.

    :param time_s: arrival times, seconds, not falling, shape (n,)
    :param value_c: °C, shape (n,); what is not finite, or no brew's, is left out
    :param least_water_c: colder is no brewing water
    :param vessel: what the probe hangs in. A kettle can be refilled and heats; its water is there when the
        probe comes, so that the probe's first rise shows its lag. A slurry comes to the probe
    :raises ValueError: when the shapes differ or time runs backwards
    """
    readings = temperature_readings(time_s, value_c)
    heats_c_s = KETTLE_HEATS_C_S if vessel == "kettle" else SLURRY_HEATS_C_S
    history = probe_history(readings, least_water_c=least_water_c, heats_c_s=heats_c_s)
    jumps = history.jumps
    if vessel == "slurry" and history.out and history.out[0].kind == "before":
        jumps = jumps[1:]
    lag = lag_of(jumps)
    if lag is not None and vessel == "slurry":
        # A slurry is seldom steady while a probe comes up in it.
        lag = Lag(lag.lag_s, math.hypot(lag.uncertainty_s, _SLURRY_LAG_SHARE * lag.lag_s))
    return Thermometer(readings, history, lag, in_water(readings.time_s, history.out))


def _value_at(
    wet_s: Floats, wet_c: Floats, time_s: float, lag: Lag | None, readings: TemperatureReadings
) -> tuple[float, float]:
    around = slice(*np.searchsorted(wet_s, [time_s - _REACHES_S[-1], time_s + _REACHES_S[-1] + 1e-9]))
    surest = _surest_line(wet_s[around] - time_s, wet_c[around], lag, readings)
    if surest is not None:
        return surest
    # Too few readings for a line, or none that agrees with them: the nearest, and what may lie between.
    place = int(np.argmin(np.abs(wet_s - time_s)))
    near = wet_c[np.abs(wet_s - time_s) <= NEAR_S]
    between_c = float(np.ptp(near)) / math.sqrt(12.0)
    away_c = abs(float(wet_s[place]) - time_s) * 6.0 / 60.0
    return float(wet_c[place]), math.hypot(readings.noise_c, between_c, away_c)


def _surest_line(
    at: Floats, value_c: Floats, lag: Lag | None, readings: TemperatureReadings
) -> tuple[float, float] | None:
    """Lay a straight line through each window; of those that agree with their readings the surest.

    The sums of all windows are differences of running sums.

    :param at: times of the readings from the moment on, shape (n,)
    :return: the line's value at nought and its standard uncertainty; None where there is no such line
    """
    if at.size < 3:
        return None
    first, last = np.searchsorted(at, _FROM_S), np.searchsorted(at, _TO_S + 1e-9)
    holds = last - first >= 3
    first, last = first[holds], last[holds]
    holds = at[last - 1] > at[first]
    first, last = first[holds], last[holds]
    if not first.size:
        return None
    count, off = last - first, value_c - value_c[0]
    running = np.zeros((5, at.size + 1))
    np.cumsum([at, off, at * at, at * off, off * off], axis=1, out=running[:, 1:])
    times, values, squares, products, powers = running[:, last] - running[:, first]
    middle, mean = times / count, values / count
    power = np.maximum(squares - times * middle, 1e-12)
    slope = (products - times * mean) / power
    rest = powers - values * mean - slope**2 * power
    freedom, noise_c = count - 2, max(readings.noise_c, 1e-3)
    agrees = rest <= noise_c**2 * (freedom + 3.0 * np.sqrt(2.0 * freedom))
    if not agrees.any():
        return None
    read_at = (lag.lag_s if lag else 0.0) - middle
    # A lag that is not known lies anywhere from none to the slowest: a rectangle, to one side or the other.
    lag_sd_s = lag.uncertainty_s if lag else UNKNOWN_LAG_S / math.sqrt(3.0)
    lagging_c = (np.abs(slope) + noise_c / np.sqrt(power)) * lag_sd_s
    variance = noise_c**2 * (1.0 / count + read_at**2 / power) + readings.step_c**2 / 12.0 + lagging_c**2
    best = int(np.argmin(np.where(agrees, variance, np.inf)))
    return float(value_c[0] + mean[best] + slope[best] * read_at[best]), float(np.sqrt(variance[best]))
