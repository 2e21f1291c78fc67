"""Brews with one fault at a time, staged so that everything else is as it should be."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from drivers.simulated import CLEAN, Conditions, Plan, Truth, simulate
from logger.curve import Analysis, analyse
from tests.benchmarks.curve_suite import Floats, weights

CALM = replace(CLEAN, ramp_s=(0.4, 0.4), fall_m=(0.05, 0.05))
"""A kettle's stream that takes 0.4 s to build up and falls 5 cm; a scale without lag, 10 Hz, 0.01 g."""


def staged(plan: Plan, conditions: Conditions = CALM, seed: int = 1) -> tuple[Floats, Floats, Truth]:
    """Give what the scale sent, and the truth."""
    brew = simulate(plan, seed, conditions)
    return *weights(brew), brew.truth


def read(time_s: Floats, weight_g: Floats) -> Analysis:
    """Read what a calm scale sent: it has no lag, and that is known."""
    return analyse(time_s, weight_g, response_s=0.0)


def knocked(time_s: Floats, weight_g: Floats, at_s: float, knock_g: float, lasts_s: float = 0.25) -> Floats:
    """Push the pan once."""
    return weight_g + knock_g * np.sin(np.pi * np.clip((time_s - at_s) / lasts_s, 0.0, 1.0)) ** 2


def dosed(time_s: Floats, weight_g: Floats, at_s: float, portions_g: list[float]) -> Floats:
    """Pour dry coffee in, a portion every 1.2 s, each within 0.4 s."""
    added = [
        portion_g * np.clip((time_s - at_s - 1.2 * number) / 0.4, 0.0, 1.0)
        for number, portion_g in enumerate(portions_g)
    ]
    return weight_g + np.sum(added, axis=0)


def assert_pours(
    analysis: Analysis, truth: Truth, start_s: float = 0.09, end_s: float = 0.15, grams: float = 0.03
) -> None:
    """Check that every pour was read, and none besides, within bounds.

    The calm kettle tips softly: its first water is 0.07 s before that of the straight ramp that looks alike.
    """
    assert len(analysis.pours) == len(truth.pours)
    for pour, true in zip(analysis.pours, truth.pours, strict=True):
        assert pour.start_s == pytest.approx(true.start_s, abs=start_s)
        assert pour.end_s == pytest.approx(true.end_s, abs=end_s)
        assert pour.poured_g == pytest.approx(true.poured_g, abs=grams)


def kinds(analysis: Analysis) -> list[str]:
    """Name the events, in order of time."""
    return [event.kind for event in analysis.events]
