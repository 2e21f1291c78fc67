"""The forces on the pan of the scale, in grams, before the scale makes anything of them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from drivers.simulated.bench import Bench, Move, Shake
from drivers.simulated.conditions import Conditions

Floats = NDArray[np.float64]

GRAVITY_M_S2 = 9.80665  # standard gravity, BIPM SI brochure

_STIR_HZ = (0.8, 3.0)
_KNOCK_RING_HZ = 11.0
_PUMP_HZ = (7.0, 14.0)


def fall_time_s(fall_m: float) -> float:
    """Time that water takes to fall: also how hard a stream presses, in g for each g/s.

    A stream of ``m`` g/s that meets the pan at ``v`` presses with ``m * v``; in grams that is ``m * v / g``,
    and ``v / g`` is the time of the fall.
    """
    return math.sqrt(2 * fall_m / GRAVITY_M_S2)


def pan_g(
    time_s: Floats,
    water_g: Floats,
    flow_g_s: Floats,
    bench: Bench,
    press_s: float,
    rng: np.random.Generator,
) -> Floats:
    """Add up what presses on the pan; shape (n,).

    :param water_g: water that has landed
    :param flow_g_s: the stream
    :param press_s: the fall time of the stream
    """
    force_g = water_g + press_s * flow_g_s
    for move in bench.moves:
        add_move(force_g, time_s, move)
    for shake in bench.shakes:
        _add_shake(force_g, time_s, shake, rng)
    return force_g


def add_move(force_g: Floats, time_s: Floats, move: Move) -> None:
    """Put something on the pan, or take it off, portion by portion."""
    for offset_s, portion_g in move.portions:
        since_s = time_s - move.start_s - offset_s
        share = np.clip(since_s / move.portion_s, 0.0, 1.0)
        force_g += portion_g * share * share * (3.0 - 2.0 * share)
    if move.push_g:
        force_g += move.push_g * _bump((time_s - move.start_s) / (2 * move.portion_s))


def losses_g(time_s: Floats, water_s: float, conditions: Conditions, rng: np.random.Generator) -> Floats:
    """What evaporation and the scale's drift do to the weight; shape (n,).

    :param water_s: when the first water lands
    """
    evaporation_g_s = rng.uniform(*conditions.evaporation_g_s)
    drift_g_s = rng.uniform(-1.0, 1.0) * conditions.drift_g_min / 60
    wander_g = 0.25 * conditions.drift_g_min * rng.uniform(0.0, 1.0)
    turns = 2 * math.pi * (time_s / rng.uniform(60.0, 150.0) + rng.random())
    losses = np.zeros_like(time_s)
    losses += drift_g_s * time_s + wander_g * (np.sin(turns) - np.sin(turns[0]))
    losses -= evaporation_g_s * np.maximum(time_s - water_s, 0.0)
    return losses


def pump_g(time_s: Floats, runs: tuple[float, float], size_g: float, rng: np.random.Generator) -> Floats:
    """How the pump of the machine shakes the pan while it runs; shape (n,)."""
    turns = 2 * math.pi * (rng.uniform(*_PUMP_HZ) * time_s + rng.random())
    running = (time_s >= runs[0]) & (time_s < runs[1])
    return np.where(running, size_g * np.sin(turns), 0.0)


def _add_shake(force_g: Floats, time_s: Floats, shake: Shake, rng: np.random.Generator) -> None:
    first, last = np.searchsorted(time_s, (shake.start_s, shake.end_s))
    if last - first < 2:
        return
    since_s = time_s[first:last] - time_s[first]
    share = since_s / (shake.end_s - shake.start_s)
    force_g[first:last] += shake.size_g * (
        _stirring(since_s, share, rng) if shake.kind == "stir" else _knocking(since_s, share)
    )


def _stirring(since_s: Floats, share: Floats, rng: np.random.Generator) -> Floats:
    """Round and round, not quite evenly, and nothing left over: its mean is zero."""
    hz, skew = rng.uniform(*_STIR_HZ), rng.uniform(0.0, 0.5)
    turns = 2 * math.pi * (hz * since_s + 0.15 * np.sin(2 * math.pi * 0.4 * since_s + rng.uniform(0, 6)))
    around = np.sin(turns) + skew * np.sin(2 * turns + 1.0)
    fading = _bump(share) ** 0.5
    whole: Floats = fading * (around - np.sum(fading * around) / np.sum(fading))
    return whole


def _knocking(since_s: Floats, share: Floats) -> Floats:
    """One push, and a little ringing after it."""
    ringing = np.cos(2 * math.pi * _KNOCK_RING_HZ * since_s)
    whole: Floats = _bump(np.minimum(2 * share, 1.0)) + 0.3 * ringing * np.exp(-5 * share) * _bump(share)
    return whole


def _bump(share: Floats) -> Floats:
    """Up and down again between 0 and 1, zero elsewhere."""
    bump: Floats = np.sin(math.pi * np.clip(share, 0.0, 1.0)) ** 2
    return bump
