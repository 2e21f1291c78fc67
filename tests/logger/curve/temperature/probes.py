"""Probes of the bench for the tests: true water, a first-order probe that may be lifted, readings of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from drivers.simulated.temperatures import lifted
from logger.curve.temperature.thermometer import Thermometer, Vessel, thermometer

GRID_S = np.arange(0.0, 200.0, 0.02)
ROOM_C = 22.0


@dataclass(frozen=True)
class Probe:
    """A probe and its thermometer."""

    lag_s: float = 3.0
    air_lag_s: float = 10.0
    hz: float = 2.0
    step_c: float = 0.1
    noise_c: float = 0.03

    def readings(
        self, true_c: np.ndarray, out_s: Sequence[tuple[float, float]] = (), seed: int = 1
    ) -> tuple[np.ndarray, np.ndarray]:
        """Uneven in time, noisy, in steps."""
        rng = np.random.default_rng(seed)
        shown_c = lifted(GRID_S, true_c, out_s, self.lag_s, self.air_lag_s, ROOM_C)
        count = int(GRID_S[-1] * self.hz)
        time_s = np.sort((np.arange(count) + rng.uniform(0, 0.2, count)) / self.hz)
        value_c = np.interp(time_s, GRID_S, shown_c) + rng.normal(0, self.noise_c, count)
        return time_s, np.round(value_c / self.step_c) * self.step_c

    def read(
        self,
        true_c: np.ndarray,
        out_s: Sequence[tuple[float, float]] = (),
        vessel: Vessel = "kettle",
        seed: int = 1,
    ) -> Thermometer:
        return thermometer(*self.readings(true_c, out_s, seed), vessel=vessel)


PROBES = (
    Probe(),
    Probe(lag_s=0.6, air_lag_s=3.0, hz=10.0, step_c=0.01),
    Probe(lag_s=7.5, air_lag_s=25.0, hz=1.0),
    Probe(lag_s=2.0, air_lag_s=8.0, hz=1.0, step_c=1.0),
    Probe(lag_s=4.0, air_lag_s=15.0, hz=0.5, step_c=0.5, noise_c=0.2),
)


def kettle_c(start_c: float = 94.0, loses_c_min: float = 1.2) -> np.ndarray:
    """Newton's cooling, at first by so much a minute."""
    k_s = loses_c_min / 60.0 / (start_c - ROOM_C)
    return ROOM_C + (start_c - ROOM_C) * np.exp(-k_s * GRID_S)


def refilled_c(at_s: float, drop_c: float, heats_c_s: float = 0.0) -> np.ndarray:
    """A kettle that gets cold water, mixed within seconds, and is heated again up to where it was."""
    since_s = np.maximum(GRID_S - at_s, 0.0)
    cold_c = drop_c * (1.0 - np.exp(-since_s / 2.0))
    return kettle_c() - cold_c + np.clip((since_s - 3.0) * heats_c_s, 0.0, drop_c)


def slurry_c(pours_s: Sequence[float] = (5.0, 45.0, 80.0, 115.0), water_c: float = 92.0) -> np.ndarray:
    """A bed at room temperature that gets hot water in pours, and loses two degrees a minute between."""
    step_s = float(GRID_S[1] - GRID_S[0])
    now_c, holds_j_k, found_c = ROOM_C, 160.0, np.empty_like(GRID_S)
    for index, time_s in enumerate(GRID_S.tolist()):
        flow_g_s = 6.0 if any(at_s <= time_s < at_s + 10.0 for at_s in pours_s) else 0.0
        gains_w = flow_g_s * 4.2 * (water_c - now_c) - 0.35 * (now_c - ROOM_C)
        now_c += step_s * gains_w / holds_j_k
        holds_j_k += flow_g_s * 4.2 * step_s
        found_c[index] = now_c
    return found_c
