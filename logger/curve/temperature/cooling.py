"""How water cools: Newton's law fitted, and the rate as a brewer says it.

Newton's law of cooling (textbook): ``T(t) = room + (T0 - room) exp(-k t)``. With a known room the logarithm
of the excess is a straight line, fitted with the weights that the logarithm asks for; with an unknown one,
room and start are linear for every ``k``, which is then searched for. Readings close together share their
errors (a display's step, a draught), so standard errors grow by ``sqrt((1 + r) / (1 - r))`` with ``r`` the
correlation of neighbouring residuals (first-order autoregression; textbook).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from logger.curve.brew import Floats
from logger.curve.readings.least_squares import least_squares

CoolingLack = Literal[
    "", "no-readings", "too-short", "heated", "too-little-drop", "room-unknown", "no-warmer"
]
RoomFrom = Literal["given", "fitted", ""]

SHORTEST_S = 20.0
LEAST_DROP_NOISES = 4.0
HEATED_C_MIN = 0.3
WORTH = 0.25
"""A constant whose standard error is a larger share of it says nothing."""

WORTH_FITTED = 0.1
"""The same where the room is fitted, too: room and constant can stand in for each other."""

_MOST_BLOCKS = 150
_EXCESS_C = 0.5
_ROOMS_C = (-20.0, 60.0)
_CONSTANTS_S = np.geomspace(2e-5, 0.05, 240)


@dataclass(frozen=True, slots=True)
class Cooling:
    """How water cooled over a stretch; None where it cannot be told.

    :param since_s: the first reading that counts; None where there is none
    :param until_s: the last
    :param rate_c_min: its mean rate, positive where it cooled, °C a minute
    :param rate_uncertainty_c_min: standard uncertainty
    :param k_per_min: Newton's cooling constant, 1/min
    :param k_uncertainty_per_min: standard uncertainty; None where the readings are too few to tell
    :param room_c: the temperature that it cooled towards
    :param room_from: ``given``, ``fitted`` to the readings, or empty
    :param lack: why there is no constant; empty where there is one
    """

    since_s: float | None
    until_s: float | None
    rate_c_min: float | None
    rate_uncertainty_c_min: float | None
    k_per_min: float | None
    k_uncertainty_per_min: float | None
    room_c: float | None
    room_from: RoomFrom
    lack: CoolingLack = ""


def cooling(time_s: object, value_c: object, *, room_c: float | None = None, noise_c: float = 0.0) -> Cooling:
    """Fit the cooling of one water that nothing was added to.

    :param time_s: rising, shape (n,)
    :param value_c: temperatures of the water, shape (n,), as many
    :param room_c: what surrounds it, where known; None to fit it, if the readings carry that
    :param noise_c: standard deviation of one reading, at the least
    :raises ValueError: when the shapes differ, or the room's temperature is no number
    """
    time, value = np.asarray(time_s, dtype=np.float64), np.asarray(value_c, dtype=np.float64)
    if time.ndim != 1 or time.shape != value.shape:
        raise ValueError(f"times of shape {time.shape} do not match temperatures of shape {value.shape}")
    if room_c is not None and not math.isfinite(room_c):
        raise ValueError(f"a room of {room_c} °C is no temperature")
    known = np.isfinite(time) & np.isfinite(value)
    time, value = time[known], value[known]
    if time.size < 2:
        return _lacking("no-readings")
    since_s, until_s = float(time[0]), float(time[-1])
    if until_s - since_s < SHORTEST_S:
        return _lacking("too-short", since_s, until_s)
    rate = _rate_c_min(time, value, noise_c)
    lack = _why_not(value, rate, (until_s - since_s) / 60.0, noise_c)
    if lack:
        return _lacking(lack, since_s, until_s, rate)
    blocks = _in_blocks(time, value, noise_c)
    found = _room_fitted(*blocks, rate) if room_c is None else _room_given(*blocks, room_c, rate)
    return replace(found, since_s=since_s, until_s=until_s)


def _in_blocks(time_s: Floats, value_c: Floats, noise_c: float) -> tuple[Floats, Floats, float]:
    """Take means of neighbours where there are many: what they share then shows as a correlation."""
    each = time_s.size // _MOST_BLOCKS + 1
    if each == 1:
        return time_s, value_c, noise_c
    kept = time_s.size - time_s.size % each
    means_s, means_c = (values[:kept].reshape(-1, each).mean(axis=1) for values in (time_s, value_c))
    return means_s, means_c, noise_c / math.sqrt(each)


def _lacking(
    lack: CoolingLack,
    since_s: float | None = None,
    until_s: float | None = None,
    rate: tuple[float, float | None] | None = None,
) -> Cooling:
    rate_c_min, uncertainty = rate or (None, None)
    return Cooling(since_s, until_s, rate_c_min, uncertainty, None, None, None, "", lack)


def _rate_c_min(time_s: Floats, value_c: Floats, noise_c: float) -> tuple[float, float | None]:
    """Slope of the straight line, per minute and downwards, with its standard uncertainty."""
    at = (time_s - time_s.mean()) / 60.0
    power = max(float(at @ at), 1e-30)
    slope = float(at @ value_c) / power
    rest = value_c - value_c.mean() - slope * at
    if time_s.size < 3:
        return -slope, (noise_c / math.sqrt(power) if noise_c > 0 else None)
    return -slope, _scatter(rest, 2, noise_c) / math.sqrt(power)


def _why_not(
    value_c: Floats, rate: tuple[float, float | None], minutes: float, noise_c: float
) -> CoolingLack:
    rate_c_min, uncertainty = rate
    if rate_c_min < -max(HEATED_C_MIN, 3.0 * (uncertainty or 0.0)):
        return "heated"
    dropped_c = rate_c_min * minutes
    if dropped_c < max(LEAST_DROP_NOISES * noise_c, 3.0 * (uncertainty or 0.0) * minutes, 1e-6):
        return "too-little-drop"
    return "" if value_c.size >= 2 else "no-readings"


def _room_given(
    time_s: Floats, value_c: Floats, noise_c: float, room_c: float, rate: tuple[float, float | None]
) -> Cooling:
    since_s, until_s = float(time_s[0]), float(time_s[-1])
    excess_c = value_c - room_c
    warm = excess_c > max(_EXCESS_C, 3.0 * noise_c)
    if np.count_nonzero(warm) < 2 or np.count_nonzero(warm) < 0.5 * warm.size:
        return _lacking("no-warmer", since_s, until_s, rate)
    at, logs, weights = (time_s[warm] - since_s) / 60.0, np.log(excess_c[warm]), excess_c[warm] ** 2
    total = float(weights.sum())
    centred = at - float(weights @ at) / total
    power = max(float(weights @ centred**2), 1e-30)
    slope = float(weights @ (centred * logs)) / power
    rest_c = excess_c[warm] * (logs - float(weights @ logs) / total - slope * centred)
    sd = _scatter(rest_c, 2, noise_c) / math.sqrt(power) if at.size > 2 else None
    if -slope <= 0 or (sd is not None and sd > WORTH * -slope):
        return _lacking("too-little-drop", since_s, until_s, rate)
    return Cooling(since_s, until_s, *rate, -slope, sd, room_c, "given")


def _room_fitted(
    time_s: Floats, value_c: Floats, noise_c: float, rate: tuple[float, float | None]
) -> Cooling:
    since_s, until_s = float(time_s[0]), float(time_s[-1])
    unknown = _lacking("room-unknown", since_s, until_s, rate)
    if value_c.size < 5:
        return unknown
    since = time_s - since_s
    constants = _CONSTANTS_S
    for _ in range(3):
        k_s, room_c, excess_c = _best_constant(since, value_c, constants)
        constants = (
            np.linspace(0.85 * k_s, 1.15 * k_s, 61)
            if constants is _CONSTANTS_S
            else k_s * np.linspace(0.995, 1.005, 61)
        )
    decay = np.exp(-k_s * since)
    rest_c = value_c - room_c - excess_c * decay
    # Derivatives by room, excess and constant: the covariance of the linearised fit (textbook).
    columns = np.stack((np.ones_like(since), decay, -excess_c * since * decay), axis=1)
    sizes = np.linalg.norm(columns, axis=0) + 1e-30
    inverse = np.linalg.pinv((columns / sizes).T @ (columns / sizes))
    sd = _scatter(rest_c, 3, noise_c) * np.sqrt(np.maximum(np.diag(inverse), 0.0)) / sizes
    if not _ROOMS_C[0] <= room_c <= min(_ROOMS_C[1], float(value_c.min())) or sd[2] > WORTH_FITTED * k_s:
        return unknown
    return Cooling(since_s, until_s, *rate, 60.0 * k_s, 60.0 * float(sd[2]), room_c, "fitted")


def _best_constant(since_s: Floats, value_c: Floats, constants: Floats) -> tuple[float, float, float]:
    """The best of some constants (1/s), with the room and the excess that belong to it."""
    some = max(since_s.size // 400, 1)
    decays = np.exp(-constants[:, None] * since_s[::some])
    misfits, solved = least_squares(np.stack((np.ones_like(decays), decays), axis=-1), value_c[::some])
    place = int(np.argmin(misfits))
    return float(constants[place]), float(solved[place, 0]), float(solved[place, 1])


def _scatter(rest: Floats, fitted: int, noise: float) -> float:
    """Standard deviation of one value, as one of those that are independent of each other."""
    power = float(rest @ rest)
    sd = max(math.sqrt(power / max(rest.size - fitted, 1)), noise)
    alike = float(rest[1:] @ rest[:-1]) / power if power > 0 else 0.0
    alike = min(max(alike, 0.0), 0.98)
    return sd * math.sqrt((1.0 + alike) / (1.0 - alike))
