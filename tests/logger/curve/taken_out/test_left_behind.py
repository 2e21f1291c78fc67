"""What rises a little beside something that passes, and is no water."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from logger.curve import analyse
from tests.benchmarks.curve_suite import Floats

FINE_S = np.arange(0.0, 80.0, 0.01)


def shown(beside_g: Floats, seed: int, lag_s: float, noise_g: float) -> Floats:
    """What a scale of first order shows of a vessel, 200 g of water in two pours, and what is beside it."""
    water_g = 60.0 * np.clip((FINE_S - 15.0) / 12.0, 0.0, 1.0) + 140.0 * np.clip(
        (FINE_S - 50.0) / 20.0, 0.0, 1.0
    )
    pan_g = 300.0 * (FINE_S > 3.0) + water_g + beside_g
    _, display_g, _ = signal.lsim(signal.lti([1.0], [lag_s, 1.0]), pan_g, FINE_S)
    display_g -= 300.0 * (FINE_S > 9.0)
    return display_g[::10] + np.random.default_rng(seed).normal(0.0, noise_g, FINE_S[::10].size)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("lean_g", [2.5, 4.0])
def test_a_hand_that_leans_for_seconds_pours_nothing(seed: int, lean_g: float) -> None:
    leans = np.clip((FINE_S - 34.0) / 2.5, 0.0, 1.0) * np.clip((43.0 - FINE_S) / 2.0, 0.0, 1.0)
    brew = analyse(FINE_S[::10], shown(lean_g * leans, seed, 0.5, 0.03))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([60.0, 140.0], abs=0.5)


@pytest.mark.parametrize("seed", range(3))
def test_a_top_up_of_a_few_grams_that_stays_is_water(seed: int) -> None:
    tops_up_g = 5.0 * np.clip((FINE_S - 36.0) / 2.0, 0.0, 1.0)
    brew = analyse(FINE_S[::10], shown(tops_up_g, seed, 0.5, 0.03))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([60.0, 5.0, 140.0], abs=0.5)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("lid_g", [14.0, 25.0])
def test_a_lid_that_rocks_as_it_is_laid_on_is_no_pour(seed: int, lid_g: float) -> None:
    after_s = FINE_S - 74.0
    rocks = (
        0.35
        * np.exp(-np.clip(after_s, 0.0, None) / 0.3)
        * np.sin(2.0 * np.pi * 2.5 * after_s)
        * (after_s > 0.0)
    )
    laid = 0.5 - 0.5 * np.cos(np.pi * np.clip((after_s + 0.45) / 0.45, 0.0, 1.0)) + rocks
    brew = analyse(FINE_S[::10], shown(lid_g * laid, seed, 0.7, 0.1))
    assert [pour.poured_g for pour in brew.pours] == pytest.approx([60.0, 140.0], abs=0.5)
