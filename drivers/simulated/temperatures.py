"""Temperatures of a brew: the kettle that cools, the slurry that is mixed and cools, the probes in both.

All of them follow from one heat balance, ``C dT/dt = q c (T_in - T) - U (T - T_room)``, with heat capacity C,
inflow q, and U the loss to the room; without inflow that is Newton's law of cooling.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.simulated.conditions import Conditions
from drivers.simulated.plan import Plan
from drivers.simulated.response import first_order
from drivers.simulated.scale import to_step

Floats = NDArray[np.float64]

WATER_J_GK = 4.20  # between 80 and 98 °C: 4.20 to 4.21 (IAPWS-95)
COFFEE_J_GK = 1.8  # roasted coffee, dry; from memory, 1.5 to 2.1 in the literature
GLASS_J_GK = 0.84  # soda-lime glass, handbook value, from memory

PROBE_HZ = 2.0
PROBE_STEP_C = 0.1
AIR_LAGS = 4.0  # a wet probe in still air, in time constants of the same probe in water; a guess, 2 to 10

# A kettle with its lid on loses about one degree a minute near the boil, an open bed two to four: both are
# common practice, and U follows from them for the masses here.
KETTLE_U_W_K = 0.6
KETTLE_BODY_J_K = 250.0
SLURRY_U_W_K = 0.9
IMMERSION_U_W_K = 0.6

_GRID_HZ = 50.0  # temperatures change slowly
_SPARE_WATER_G = 350.0
_REHEATED_S = 4.0  # a step that wants its own water gets it this long before its pour
_DRAIN_S = 35.0
_VESSEL_TOUCHED_G = 70.0
_BED_HOLDS = 2.0  # g of water for each g of coffee: common practice
_STREAM_KEEPS = 0.96  # of the kettle's excess over the room: a stream loses two or three degrees as it falls


@dataclass(frozen=True, slots=True)
class Temperatures:
    """True temperatures of a brew on their own even grid; all shapes (k,)."""

    time_s: Floats
    kettle_c: Floats
    slurry_c: Floats


def heat_balance(
    step_s: float,
    start_c: float,
    capacity_j_k: Floats,
    inflow_w_k: Floats,
    inflow_c: Floats,
    loss_w_k: float,
    room_c: float,
) -> Floats:
    """Solve the heat balance on an even grid; each interval exactly, with what holds at its beginning.

    :param start_c: temperature at the first point
    :param capacity_j_k: heat capacity of what is there; shape (k,)
    :param inflow_w_k: inflow times its specific heat; shape (k,)
    :param inflow_c: temperature of the inflow; shape (k,)
    :param loss_w_k: loss to the room for each degree above it
    """
    exchange_w_k = inflow_w_k + loss_w_k
    towards_c = (inflow_w_k * inflow_c + loss_w_k * room_c) / np.maximum(exchange_w_k, 1e-12)
    keeps = np.exp(-exchange_w_k * step_s / capacity_j_k)
    temperature_c, now_c = np.empty_like(keeps), start_c
    for index, (kept, towards) in enumerate(zip(keeps.tolist(), towards_c.tolist(), strict=True)):
        temperature_c[index] = now_c
        now_c = towards + (now_c - towards) * kept
    return temperature_c


def temperatures(
    plan: Plan,
    time_s: Floats,
    water_g: Floats,
    pours_s: Sequence[float],
    conditions: Conditions,
    rng: np.random.Generator,
) -> Temperatures:
    """Follow kettle and slurry through a brew.

    :param time_s: even grid of the brew; shape (n,)
    :param water_g: water that has left the kettle for the bed; shape (n,)
    :param pours_s: start of each step's pour
    """
    grid_s = np.arange(0.0, time_s[-1], 1.0 / _GRID_HZ)
    poured_g = np.interp(grid_s, time_s, water_g)
    # The mean flow of each interval rather than a sample of it, so that no water is lost on the coarser grid.
    inflow_g_s = np.diff(poured_g, append=poured_g[-1]) * _GRID_HZ
    error_c = conditions.water_error_c * rng.normal(0.0, 1.0)
    kettle_c = _kettle_c(plan, grid_s, poured_g, pours_s, error_c, conditions.room_c)
    stream_c = conditions.room_c + _STREAM_KEEPS * (kettle_c - conditions.room_c)
    slurry_c = heat_balance(
        1.0 / _GRID_HZ,
        conditions.room_c,
        _slurry_j_k(plan, poured_g, inflow_g_s),
        inflow_g_s * WATER_J_GK,
        stream_c,
        IMMERSION_U_W_K if plan.method == "immersion" else SLURRY_U_W_K,
        conditions.room_c,
    )
    return Temperatures(grid_s, kettle_c, slurry_c)


def probe(
    time_s: Floats,
    true_c: Floats,
    end_s: float,
    conditions: Conditions,
    rng: np.random.Generator,
    out_s: Sequence[tuple[float, float]] = (),
) -> tuple[Floats, Floats]:
    """Measure a temperature with a probe of its own lag, twice a second, to a tenth of a degree.

    :param out_s: from when to when the probe hangs in the air of the room instead
    :returns: times of the samples, and what the thermometer shows; both shape (m,)
    """
    lag_s, phase_s = rng.uniform(*conditions.probe_lag_s), rng.uniform(0.0, 1.0 / PROBE_HZ)
    step_s = float(time_s[1] - time_s[0])
    if out_s:
        followed_c = lifted(time_s, true_c, out_s, lag_s, AIR_LAGS * max(lag_s, 1.0), conditions.room_c)
    else:
        followed_c = first_order(true_c, step_s, lag_s)
    sample_s = np.arange(phase_s, end_s, 1.0 / PROBE_HZ)
    noise_c = conditions.probe_noise_c * rng.normal(0.0, 1.0, len(sample_s))
    return sample_s, to_step(np.interp(sample_s, time_s, followed_c) + noise_c, PROBE_STEP_C)


def lifted(
    time_s: Floats,
    true_c: Floats,
    out_s: Sequence[tuple[float, float]],
    lag_s: float,
    air_lag_s: float,
    air_c: float,
) -> Floats:
    """Let a first-order probe follow the water, and the air while it is lifted out; shape (n,).

    :param time_s: even grid, shape (n,)
    :param true_c: of the water, shape (n,)
    :param out_s: from when to when it hangs in the air; it starts settled on what is around it
    :param lag_s: time constant in water
    :param air_lag_s: time constant in air, which takes the heat away more slowly than water brings it
    :param air_c: of the air
    """
    dry = np.zeros(len(time_s), dtype=np.bool_)
    for from_s, until_s in out_s:
        dry |= (time_s >= from_s) & (time_s < until_s)
    step_s = float(time_s[1] - time_s[0])
    around_c = np.where(dry, air_c, true_c)
    follows = -np.expm1(-step_s / np.maximum(np.where(dry, air_lag_s, lag_s), 1e-9))
    followed_c, now_c = np.empty_like(around_c), float(around_c[0])
    for index, (share, towards_c) in enumerate(zip(follows.tolist(), around_c.tolist(), strict=True)):
        now_c += share * (towards_c - now_c)
        followed_c[index] = now_c
    return followed_c


def _kettle_c(
    plan: Plan, grid_s: Floats, poured_g: Floats, pours_s: Sequence[float], error_c: float, room_c: float
) -> Floats:
    """A kettle cools the faster the emptier it is; a step with its own temperature gets fresh water."""
    left_g = plan.total_g + _SPARE_WATER_G - poured_g
    capacity_j_k = KETTLE_BODY_J_K + WATER_J_GK * left_g
    fresh = [(0.0, plan.water_c + error_c)]
    for step, start_s in zip(plan.steps, pours_s, strict=True):
        if step.water_c is not None:
            fresh.append((max(start_s - _REHEATED_S, 0.0), step.water_c + error_c))
    begins = [*np.searchsorted(grid_s, [at_s for at_s, _ in fresh]).tolist(), len(grid_s)]
    none = np.zeros_like(grid_s)
    pieces = [
        heat_balance(1.0 / _GRID_HZ, start_c, capacity_j_k[a:b], none[a:b], none[a:b], KETTLE_U_W_K, room_c)
        for (_, start_c), a, b in zip(fresh, begins[:-1], begins[1:], strict=True)
    ]
    return np.concatenate(pieces)


def _slurry_j_k(plan: Plan, poured_g: Floats, inflow_g_s: Floats) -> Floats:
    """Heat capacity of coffee, the glass it touches, and the water that is there and has not drained."""
    here_g = poured_g
    if plan.method == "pour-over":
        held_g = np.minimum(poured_g, _BED_HOLDS * plan.dose_g)
        free_g_s = np.diff(poured_g - held_g, append=poured_g[-1] - held_g[-1]) * _GRID_HZ
        here_g = held_g + first_order(free_g_s * _DRAIN_S, 1.0 / _GRID_HZ, _DRAIN_S)
    dry_j_k = COFFEE_J_GK * plan.dose_g + GLASS_J_GK * _VESSEL_TOUCHED_G
    capacity_j_k: Floats = dry_j_k + WATER_J_GK * here_g
    return capacity_j_k
