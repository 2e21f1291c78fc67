"""Beds whose course is known in closed form, and what two scales would show of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from drivers.simulated import SimulatedBrew
from logger.curve.bed.resistance import Readings

Floats = NDArray[np.float64]

LEAD_S = 5.0


@dataclass(frozen=True, slots=True)
class Drained:
    """Soaked grounds under free water: pours at an even flow, and Darcy's law below.

    :param time_s: shape (n,)
    :param water_g: poured
    :param beverage_g: come through
    """

    time_s: Floats
    water_g: Floats
    beverage_g: Floats

    @property
    def held_g(self) -> Floats:
        return self.water_g - self.beverage_g


def drained(
    pours: Sequence[tuple[float, float, float]],
    taus_s: Sequence[float],
    until_s: float,
    kept_g: float = 0.0,
    rate_hz: float = 10.0,
) -> Drained:
    """Solve ``dm/dt = q - m / tau`` exactly, piece by piece.

    With inflow q the free water approaches ``q tau``, without inflow it decays: the constant and the falling
    head of Darcy's law.

    :param pours: start, end (s, from the first water) and flow (g/s) of each
    :param taus_s: from each pour's start on
    :param kept_g: what the grounds take of the first water before any comes through
    """
    time_s = np.arange(0.0, LEAD_S + until_s, 1.0 / rate_hz)
    since = time_s - LEAD_S
    water = sum(np.clip(since - start_s, 0.0, end_s - start_s) * flow for start_s, end_s, flow in pours)
    soaked_s = kept_g / pours[0][2]
    corners = sorted({soaked_s, *(at_s for start_s, end_s, _ in pours for at_s in (start_s, end_s)), until_s})
    free, at_g = np.zeros_like(since), 0.0
    for begin_s, end_s in zip(corners, [*corners[1:], until_s + 1.0], strict=True):
        if begin_s < soaked_s:
            continue
        tau_s = [tau for (start_s, _, _), tau in zip(pours, taus_s, strict=True) if start_s <= begin_s][-1]
        inflow = sum(flow for start_s, stop_s, flow in pours if start_s <= begin_s < stop_s)
        within = (since >= begin_s) & (since < end_s)
        free[within] = inflow * tau_s + (at_g - inflow * tau_s) * np.exp(-(since[within] - begin_s) / tau_s)
        at_g = inflow * tau_s + (at_g - inflow * tau_s) * np.exp(-(end_s - begin_s) / tau_s)
    soaked = np.minimum(water, kept_g)
    return Drained(time_s, np.asarray(water), np.asarray(water - soaked - free))


def shown(
    time_s: Floats, weight_g: Floats, step_g: float = 0.1, noise_g: float = 0.0, seed: int = 1
) -> Readings:
    """What a scale with a step and some noise makes of a weight."""
    noise = noise_g * np.random.default_rng(seed).normal(size=time_s.size)
    return time_s, np.round((weight_g + noise) / step_g) * step_g


def channel(brew: SimulatedBrew, name: str) -> Readings:
    """The readings of one channel of a simulated brew."""
    own = [reading for reading in brew.readings if reading.channel == name]
    return np.array([reading.time_s for reading in own]), np.array([reading.value for reading in own])
