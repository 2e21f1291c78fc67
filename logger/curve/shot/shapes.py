"""The two bends of an espresso's weight curve, fitted: the ramp into the full flow, the stop."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from logger.curve.brew import Floats
from logger.curve.edges.edge import thinned
from logger.curve.readings.least_squares import bottom, least_squares

END_G_S = 0.1
"""A stream thinner than that has ended: as for every pour."""

PEAK_S = 2.0

_BENDS = (1.0, 1.5, 2.0)
_FADES_S = np.geomspace(0.03, 3.0, 16)
_STEP_S = 0.1
_LEAST_AROUND_S, _FEWEST = 0.4, 12
_LEAST_RAMP_S = 0.3
_LONGEST_RAMP, _LONGEST_RAMP_S = 0.7, 25.0
_MOST_SAMPLES = 150
_SHAPE_SHARE = 0.08
"""No ramp has just this shape: by so much of its length the bend is off on simulated shots."""

_EVIDENCE = 12.0
"""A bend is seen where it explains so many noise variances more than its absence."""

_OUTLYING = 4.0
_LAG_S = 0.1
"""So well the scale's own lag and the fall of the stream are known, which move every time alike."""

_ALIKE = 6.0
"""Neighbours of the smoothed grid share their noise: about so many count as one."""


@dataclass(frozen=True, slots=True)
class Ramp:
    """How the flow built up.

    :param lasts_s: from the first drip to the full flow; 0 where it was there at once
    :param uncertainty_s: its standard uncertainty; None where no ramp was seen
    :param flow_g_s: the full flow, at the bend
    """

    lasts_s: float
    uncertainty_s: float | None
    flow_g_s: float


@dataclass(frozen=True, slots=True)
class Stop:
    """How the flow ended.

    :param time_s: when it was cut
    :param uncertainty_s: standard uncertainty of that
    :param weight_g: what had arrived by then
    :param flow_g_s: the flow just before
    :param fade_s: time constant of the after-drip
    :param bend_g_s2: half of what the flow gained each second before
    """

    time_s: float
    uncertainty_s: float
    weight_g: float
    flow_g_s: float
    fade_s: float
    bend_g_s2: float = 0.0

    @property
    def end_s(self) -> float:
        """When the stream fell below 0.1 g/s: ``q exp(-t / d)`` solved for the time."""
        return self.time_s + self.fade_s * math.log(max(self.flow_g_s / END_G_S, 1.0))


def fit_stop(time_s: Floats, weight_g: Floats, noise_g: float) -> Stop | None:
    """Fit the bend from a steady stream into its after-drip.

    :param time_s: even, around the stop, shape (n,)
    :param weight_g: shape (n,)
    :param noise_g: standard deviation of one weight
    :returns: None where the curve shows no such bend
    """
    if time_s.size < _FEWEST:
        return None
    middle_s, middle_g = float(time_s.mean()), float(weight_g.mean())
    at, weight = time_s - middle_s, weight_g - middle_g
    found = _stop_at(at, weight, noise_g)
    if found is None:
        return None
    # A drop that hangs on, or a knock too small to be told, must not draw the whole curve to itself.
    rest = weight - _stop_curve(at, found)
    kept = np.abs(rest) <= _OUTLYING * max(noise_g, 1.4826 * float(np.median(np.abs(rest))))
    found = _stop_at(at[kept], weight[kept], noise_g) if np.count_nonzero(kept) >= _FEWEST else None
    if found is None or found.flow_g_s <= END_G_S:
        return None
    return replace(found, time_s=found.time_s + middle_s, weight_g=found.weight_g + middle_g)


def _stop_at(at: Floats, weight: Floats, noise_g: float) -> Stop | None:
    """Find the stop by search; None where a steady stream explains the curve as well."""
    candidates = np.arange(at[0] + _LEAST_AROUND_S, at[-1] - _LEAST_AROUND_S, _STEP_S)
    if candidates.size < 3:
        return None
    misfits = _stop_fits(at, weight, candidates, _FADES_S)[0]
    best = misfits.min(axis=1)
    place = int(np.argmin(best))
    fade_s = float(_FADES_S[int(np.argmin(misfits[place]))])
    variance = _ALIKE * max(noise_g**2 / _ALIKE, float(best[place]) / max(at.size - 5, 1))
    steady = float(least_squares(np.vander(at, 3), weight)[0])
    if steady - best[place] < _EVIDENCE * variance:
        return None
    stop, uncertainty_s = bottom(candidates, best, variance)
    stop, fade_s = _closer(at, weight, stop, fade_s)
    level, flow, bend = _stop_fits(at, weight, np.array([stop]), np.array([fade_s]))[1][0, 0].tolist()
    return Stop(stop, math.hypot(uncertainty_s, _LAG_S), level, flow, fade_s, bend)


def _closer(at: Floats, weight: Floats, stop: float, fade: float) -> tuple[float, float]:
    """Search again around a stop and a fading, in finer steps."""
    stops = np.arange(stop - 2 * _STEP_S, stop + 2 * _STEP_S, 0.1 * _STEP_S)
    fades = fade * np.geomspace(0.7, 1.4, 11)
    misfits = _stop_fits(at, weight, stops, fades)[0]
    place, other = np.unravel_index(int(np.argmin(misfits)), misfits.shape)
    return float(stops[place]), float(fades[other])


def _stop_curve(at: Floats, stop: Stop) -> Floats:
    since = at - stop.time_s
    before, after = np.minimum(since, 0.0), np.maximum(since, 0.0)
    stream = before - stop.fade_s * np.expm1(-after / stop.fade_s)
    return np.asarray(stop.weight_g + stop.flow_g_s * stream + stop.bend_g_s2 * before**2)


def fit_ramp(since_s: Floats, weight_g: Floats, noise_g: float) -> Ramp | None:
    """Fit the bend from a growing flow into the full one.

    :param since_s: even, from the first drip to the stop, shape (n,)
    :param weight_g: shape (n,)
    :param noise_g: standard deviation of one weight
    :returns: None where the shot is too short to tell
    """
    if since_s.size < 20 or since_s[-1] < 4 * _LEAST_RAMP_S:
        return None
    since, weight = thinned(since_s, weight_g - float(weight_g.mean()), _MOST_SAMPLES)
    longest_s = min(_LONGEST_RAMP * since_s[-1], _LONGEST_RAMP_S)
    candidates = np.arange(0.0, longest_s, 0.2)
    misfits, solved = _ramp_fits(since, weight, candidates)
    best = misfits.min(axis=1)
    place = int(np.argmin(best))
    bend = int(np.argmin(misfits[place]))
    alike = max(_ALIKE * since.size / since_s.size, 1.0)
    variance = max(noise_g**2, alike * float(best[place]) / max(since.size - 4, 1))
    if best[0] - best[place] < _EVIDENCE * variance:
        # No bend: the full flow was there with the first drip, as far as can be seen.
        flow = float(solved[0, 0, 1])
        return Ramp(0.0, None, flow) if flow > 0 else None
    lasts_s, fitted_s = bottom(candidates, best, variance)
    flow = float(solved[place, bend, 1])
    return Ramp(lasts_s, math.hypot(fitted_s, _SHAPE_SHARE * lasts_s), flow) if flow > 0 else None


def steepest_g_s(time_s: Floats, weight_g: Floats) -> float | None:
    """The largest slope of a line through any two seconds; None where there are fewer.

    Two seconds are long enough for a drop or a reading's noise to count for little.
    """
    if time_s.size < 3 or time_s[-1] - time_s[0] < 0.9 * PEAK_S:
        return None
    step_s = float(time_s[1] - time_s[0])
    half = max(round(0.5 * PEAK_S / step_s), 1)
    at = np.arange(-half, half + 1) * step_s
    if time_s.size < at.size:
        return None
    return float(np.convolve(weight_g, (at / (at @ at))[::-1], mode="valid").max())


def _stop_fits(at: Floats, weight: Floats, stops: Floats, fades: Floats) -> tuple[Floats, Floats]:
    """For each stop and each fading: squared misfit, and level and flow at the stop."""
    since = at - stops[:, None, None]
    fade = fades[:, None]
    before = np.broadcast_to(np.minimum(since, 0.0), (stops.size, fades.size, at.size))
    stream = before + fade * -np.expm1(-np.maximum(since, 0.0) / fade)
    return least_squares(np.stack((np.ones_like(stream), stream, before**2), axis=-1), weight)


def _ramp_fits(since: Floats, weight: Floats, ramps: Floats) -> tuple[Floats, Floats]:
    """For each ramp and each bend: squared misfit, and level and flow at the ramp's end."""
    ramp, bend = ramps[:, None, None], np.array(_BENDS)[:, None]
    after = np.broadcast_to(np.maximum(since - ramp, 0.0), (ramps.size, len(_BENDS), since.size))
    share = np.minimum(since / np.maximum(ramp, 1e-9), 1.0)
    grown = ramp / (bend + 1.0) * share ** (bend + 1.0) + after
    return least_squares(np.stack((np.ones_like(grown), grown, after**2), axis=-1), weight)
